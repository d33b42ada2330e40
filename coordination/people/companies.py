"""A company that is known already is found however its name is spelt, so that no builder has it twice.

Only companies that work for the builder are looked through: whom another builder engages is not told here.
"""

from __future__ import annotations

import difflib
import re
import unicodedata

from django.db.models import QuerySet

from coordination.people.models import Builder, Company, Crew, Engagement

LEGAL_WORDS = frozenset({"pty", "ltd", "limited", "proprietary", "co", "company", "inc", "and", "the"})
"""Words that say nothing about which company it is; a name of such words alone keeps them."""

ALIKE = 0.84
"""Share of letters in common from which two names may be one company: a letter or two typed wrong."""


def plain_name(name: str) -> str:
    """A company's name without capitals, accents, signs, legal words: 'Two Taps Pty. Ltd.' is 'two taps'."""
    bare = unicodedata.normalize("NFKD", name.casefold())
    letters = "".join(sign for sign in bare if not unicodedata.combining(sign))
    words = re.findall(r"\w+", letters)
    return " ".join([word for word in words if word not in LEGAL_WORDS] or words)


def companies_of(builder: Builder) -> QuerySet[Company]:
    """Companies that work for the builder."""
    return Company.objects.filter(engagements__builder=builder).distinct().order_by("name", "pk")


def find_company(builder: Builder, name: str) -> Company | None:
    """The builder's company of exactly this name, but for capitals and spaces."""
    wanted = " ".join(name.split()).casefold()
    found = (one for one in companies_of(builder) if " ".join(one.name.split()).casefold() == wanted)
    return next(found, None)


def find_alike(builder: Builder, name: str) -> list[Company]:
    """The builder's companies that may be meant by a name, the likeliest first."""
    wanted = plain_name(name).replace(" ", "")
    rated = [
        (difflib.SequenceMatcher(None, wanted, plain_name(one.name).replace(" ", "")).ratio(), one)
        for one in companies_of(builder)
    ]
    return [one for rate, one in sorted(rated, key=lambda pair: -pair[0]) if rate >= ALIKE]


def is_shared(crew: Crew, builders: QuerySet[Builder]) -> bool:
    """Whether the crew's company also works for a builder that is none of these."""
    return Engagement.objects.filter(company=crew.company_id).exclude(builder__in=builders).exists()

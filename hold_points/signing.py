"""Who may sign, and what a signature is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from django.conf import settings
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.access import require_role
from coordination.people.models import Builder, Crew, CrewMember, Person, Role
from coordination.people.pins import is_pin_of
from coordination.people.refusals import BadInput, NotAllowed
from coordination.people.tries import forget_wrong, note_wrong, say_too_many, too_many
from coordination.sequence.models import Activity, Booking, House
from hold_points.installing import details_judged_at, visits_installing
from hold_points.models import Check
from hold_points.models.release import is_name_of

WIDTH, HEIGHT = 600, 200
"""The box in which a signature is drawn."""

MOST_POINTS = 6000

AT_SIGNING = "signing"
"""Stands for the address where wrong passwords at signing are counted: the person is known already."""


class WrongPassword(BadInput):
    """The password or PIN at signing is wrong; it is counted once the refused act is undone."""


@contextmanager
def counting_wrong_passwords(person: Person) -> Iterator[None]:
    """Around a signing act's transaction: what counts a wrong password or PIN is not undone with the act."""
    try:
        yield
    except WrongPassword:
        note_wrong(person.email, AT_SIGNING)
        raise


@dataclass(frozen=True)
class Signature:
    """A signature: the name as signed, strokes or the name typed twice, the password or PIN once more."""

    name: str
    """The signer's own, however spaced; empty where the page did not ask for it."""
    strokes: Any
    """As a client sent it: lists of [x, y] with whole numbers, when it is one."""
    typed: tuple[str, str] = ("", "")
    password: str = ""
    """The password, or the PIN where the builder takes it."""


def require_signer(person: Person, house: House, point: Activity) -> Role:
    """The role in which the person may release the point.

    Raises:
        NotAllowed: no such role, or a crew of the person installed what is judged.
    """
    kinds: tuple[Role.Kind, ...] = (Role.Kind.SUPERVISOR, Role.Kind.ASSESSOR)
    if point.point_kind == Activity.PointKind.REVIEW:
        kinds = (*kinds, Role.Kind.PLANNER)
    role = require_role(person, house.builder, *kinds)
    require_no_installer(person, house, point)
    return role


def require_no_installer(person: Person, house: House, point: Activity) -> None:
    """Nobody signs, and nobody concedes, what a crew of their own installed.

    Raises:
        NotAllowed: naming the crew.
    """
    crew = find_installing_crew(person, house, point)
    if crew is not None:
        raise NotAllowed(
            _("You belong to %(crew)s, which installed what is judged here. Someone else signs this point.")
            % {"crew": crew}
        )


def find_installing_crew(person: Person, house: House, point: Activity) -> Crew | None:
    """The person's crew that installed, or is to install, what the point judges; None when there is none.

    Leaving clears nobody for what was booked before: a membership counts that had not ended when the crew was
    first booked. A crew that was stood down counts as well: it may have worked before it was.
    """
    if not _has_crews(person):
        return None
    return _find_crew_of(person, house, details_judged_at([point.pk])[point.pk])


def require_no_own_work(person: Person, house: House, checks: Iterable[Check]) -> None:
    """Nobody finds good what a crew of their own installed; what has no detail speaks of all of its point.

    The checks are those of one point.

    Raises:
        NotAllowed: naming the crew.
    """
    crew = _find_crew_that_made(person, house, list(checks))
    if crew is not None:
        raise NotAllowed(
            _("You belong to %(crew)s, which installed this. Someone else finds it met, not you.")
            % {"crew": crew}
        )


def is_own_work(person: Person, check: Check) -> bool:
    """Whether a crew of the person's own installed what the check judges."""
    return _find_crew_that_made(person, check.inspection.house, [check]) is not None


def _find_crew_that_made(person: Person, house: House, checks: list[Check]) -> Crew | None:
    if not checks or not _has_crews(person):
        return None
    details = {one.detail_id for one in checks if one.detail_id is not None}
    if any(one.detail_id is None for one in checks):
        point = checks[0].inspection.point_id
        details |= details_judged_at([point])[point]
    return _find_crew_of(person, house, details)


def _has_crews(person: Person) -> bool:
    """Whether the person is in any crew, or was; hardly anybody of the office is."""
    return Crew.objects.filter(contact=person).exists() or CrewMember.objects.filter(person=person).exists()


def _find_crew_of(person: Person, house: House, detail_ids: Iterable[int]) -> Crew | None:
    visits = visits_installing(detail_ids)
    booked = Booking.objects.filter(
        visit__in={visit for ones in visits.values() for visit in ones},
        state__in=(*Booking.LIVE, Booking.State.STOOD_DOWN),
    )
    first_booked = dict(booked.order_by("-made_at").values_list("crew", "made_at"))
    contacted = Crew.objects.filter(pk__in=first_booked, contact=person).first()
    if contacted is not None:
        return contacted
    for member in CrewMember.objects.filter(crew__in=first_booked, person=person).select_related("crew"):
        half_day = clock.half_day_of(first_booked[member.crew_id], house.builder.time_zone)
        if member.left_on is None or member.left_on >= clock.as_date(half_day)[0]:
            return member.crew
    return None


def verify_signature(signature: Signature, person: Person) -> dict[str, Any] | list[list[list[int]]]:
    """The signature as it is kept: its strokes, or the typed name.

    Raises:
        BadInput: another's name, or nothing drawn and no name typed twice.
    """
    if signature.name.strip() and not is_name_of(signature.name, person):
        raise BadInput(
            "name",
            _("You are signed in as %(name)s and sign in no other name. Whoever looked signs in.")
            % {"name": person.name},
        )
    if any(signature.typed):
        first, second = (" ".join(one.split()) for one in signature.typed)
        if not (is_name_of(first, person) and is_name_of(second, person)):
            raise BadInput(
                "typed",
                _("Type your name %(name)s the same twice, or draw your signature.") % {"name": person.name},
            )
        return {"typed": first}
    return _verify_strokes(signature.strokes)


@dataclass(frozen=True)
class Asked:
    """What is asked of a person once more at signing, as the builder sets it; neither in a trial."""

    password: bool
    pin: bool

    @property
    def anything(self) -> bool:
        return self.password or self.pin


def what_is_asked(person: Person, builder: Builder) -> Asked:
    """Whether password or PIN are taken from this person at signing.

    Only the trial installation on one's own machine has people without a password: nothing is asked of them
    unless they have set a PIN.
    """
    rule = builder.signs_with
    trial = getattr(settings, "COORDINATION_ONE_CLICK_SIGN_IN", False) and not person.has_usable_password()
    if trial:
        return Asked(password=False, pin=bool(person.pin))
    return Asked(
        password=rule != Builder.SignsWith.PIN,
        pin=rule == Builder.SignsWith.PIN or (rule == Builder.SignsWith.EITHER and bool(person.pin)),
    )


def authenticate(secret: str, person: Person, builder: Builder) -> str:
    """Ask once more who signs; returns how, for the record: 'session and password', 'session and PIN'.

    Raises:
        BadInput: a wrong password or PIN, too many of them, or none where the builder asks for a PIN that the
            person has not set.
    """
    asked = what_is_asked(person, builder)
    if not asked.anything:
        return "session"
    if asked.pin and not asked.password and not person.pin:
        raise BadInput("password", _("Your builder asks for a PIN at signing. Set yours first."))
    if too_many(person.email, AT_SIGNING):
        raise BadInput("password", say_too_many())
    if asked.pin and is_pin_of(person, secret):
        way = "session and PIN"
    elif asked.password and person.check_password(secret):
        way = "session and password"
    elif asked.password and asked.pin:
        raise WrongPassword("password", _("This is neither your password nor your PIN. Nothing was signed."))
    elif asked.pin:
        raise WrongPassword("password", _("This is not your PIN. Nothing was signed."))
    else:
        raise WrongPassword("password", _("This is not your password. Nothing was signed."))
    forget_wrong(person.email, AT_SIGNING)
    return way


def _verify_strokes(strokes: Any) -> list[list[list[int]]]:
    trouble = BadInput("signature", _("Draw your signature in the box, or type your name twice."))
    if (
        not isinstance(strokes, list)
        or sum(len(one) for one in strokes if isinstance(one, list)) > MOST_POINTS
    ):
        raise trouble
    kept: list[list[list[int]]] = []
    for stroke in strokes:
        if not isinstance(stroke, list):
            raise trouble
        points: list[list[int]] = []
        for point in stroke:
            if not (
                isinstance(point, (list, tuple))
                and len(point) == 2
                and all(isinstance(one, int) and not isinstance(one, bool) for one in point)
                and 0 <= point[0] <= WIDTH
                and 0 <= point[1] <= HEIGHT
            ):
                raise trouble
            points.append([point[0], point[1]])
        kept.append(points)
    if not any(first != second for stroke in kept for first, second in pairwise(stroke)):
        raise trouble
    return kept

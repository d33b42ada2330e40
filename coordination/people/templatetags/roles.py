"""Which roles the reader of a page has, for the parts of it that not everybody needs."""

from __future__ import annotations

from django import template

from coordination.people.access import roles_of
from coordination.people.models import Person

register = template.Library()


@register.simple_tag(takes_context=True)
def roles_of_reader(context: template.Context) -> set[str]:
    """Kinds of the signed-in person's roles: those that the view has found, else asked for here."""
    if "nav_roles" in context:
        known: set[str] = context["nav_roles"]
        return known
    person = getattr(context.get("request"), "user", None)
    return set(roles_of(person).values_list("kind", flat=True)) if isinstance(person, Person) else set()

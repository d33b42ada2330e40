"""The states of a check in a pack, for its template."""

from __future__ import annotations

from django import template

from hold_points.pack_words import say_state
from hold_points.readiness import State

register = template.Library()


@register.filter
def state_words(state: State) -> str:
    """'met after it was put right'."""
    return say_state(state)

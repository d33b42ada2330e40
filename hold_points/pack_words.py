"""The states of a check as a pack prints them."""

from __future__ import annotations

from django.utils.translation import gettext as _

from hold_points.readiness import State


def say_state(state: State) -> str:
    """A state in words; what is not done is never said in words that sound done."""
    return {
        State.OPEN: _("not checked"),
        State.MET: _("met"),
        State.PUT_RIGHT: _("met after it was put right"),
        State.NOT_HERE: _("not on this house"),
        State.NOT_HERE_ASKED: _("said not to be on this house; not confirmed"),
        State.NOT_SEEN: _("not seen"),
        State.NOT_MET: _("not met"),
        State.SECOND_PERSON: _("put right; a second person has not looked"),
        State.NO_EVIDENCE: _("evidence is missing"),
        State.CONCESSION: _("not met; released under a concession"),
        State.NOT_DRAWN: _("not in the random sample"),
    }[state]

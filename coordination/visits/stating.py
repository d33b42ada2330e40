"""The crew's own statement: its form is kept open until it is complete; 'more rows' needs no script."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest
from django.utils.translation import gettext as _

from coordination.people.access import read_key
from coordination.people.models import Crew
from coordination.people.refusals import NotAllowed
from coordination.sequence.inspection import port
from coordination.sequence.models import Booking
from coordination.sequence.statements import CONTACT, RCD, Stated, read_statement


@dataclass(frozen=True)
class StatementForm:
    """What stands in the form of one check; `check_id` says of which."""

    check_id: int | None
    stated: Stated
    refused: bool
    """False where only more rows were asked for: nothing is called wrong yet."""

    @property
    def faults(self) -> dict[str, str]:
        """What is wrong beside the rows, by field."""
        return dict(self.stated.faults) if self.refused else {}


CHOICES = {"contact": tuple(CONTACT.items()), "rcd": tuple(RCD.items())}
"""What the form offers."""


def read_form(request: HttpRequest) -> StatementForm:
    """What was entered; pressing 'more rows' refuses nothing."""
    stated = read_statement(request.POST.getlist)
    return StatementForm(read_key(request.POST.get("check", "")), stated, "more" not in request.POST)


def keep_statement(form: StatementForm, booking: Booking, crew: Crew) -> None:
    """Keep the statement of a complete form.

    Raises:
        BadInput: it is not complete; the form says where.
        NotAllowed: the visit is asked for no such statement.
    """
    asked = port().work([booking.visit_id]).get(booking.visit_id, ())
    if form.check_id is None or form.check_id not in {one.check_id for one in asked}:
        raise NotAllowed(_("This statement is not asked at this visit. Use the form on its page."))
    port().state_runs(check_id=form.check_id, crew=crew, stated=form.stated)

"""What was kept on a tablet without reception, when it comes in: an outcome or a photograph, at its own time.

Nothing is stored besides what a page with reception stores: an outcome is known by the id that the tablet
made, a photograph by the hash of its bytes, so the same sent again changes nothing.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import BinaryIO

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Person
from coordination.people.refusals import BadInput
from coordination.sequence.locking import lock_house
from hold_points.evidence import Photograph, Shows, keep_photograph, read_photograph
from hold_points.models import Check, Evidence, Outcome, Reopening


def read_moment(text: str, where: str) -> dt.datetime:
    """A moment as a tablet writes it (ISO 8601 with its offset).

    Raises:
        BadInput: anything else, naming `where`.
    """
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError as error:
        raise BadInput(where, _("'%(text)s' is no moment.") % {"text": text[:40]}) from error
    if moment.tzinfo is None:
        raise BadInput(where, _("'%(text)s' is no moment.") % {"text": text[:40]})
    return moment


def correct_moment(at: dt.datetime, tablet_now: dt.datetime, shown: dt.datetime | None = None) -> dt.datetime:
    """When something was found, by the server's clock: a tablet's may be wrong by days.

    How wrong it is shows `tablet_now`, its clock at the moment of sending. Nothing was found before the page
    was `shown` (by the server's clock) on which it was entered: that holds where the tablet's clock was set
    right in between. Nothing was found later than it arrives.
    """
    arrived = clock.now()
    try:
        found = at + (arrived - tablet_now)
    except OverflowError:
        found = arrived
    if shown is not None:
        found = max(found, shown)
    return min(found, arrived)


def accept_kept_photograph(file: BinaryIO, check: Check, by: Person, at: dt.datetime) -> Evidence:
    """Keep a photograph that was taken `at`, before it came in.

    It proves the check only where nothing has happened since: what was photographed before a room was
    re-opened, or before the check was found not met, goes on the record as one of the room.

    Raises:
        BadInput: it is no photograph, or already shows something else.
    """
    house = check.inspection.house
    photograph = read_photograph(file, house.builder.time_zone)
    with transaction.atomic():
        locked = lock_house(house.pk)
        there = _find_sent_before(photograph, check)
        if there is not None:
            return there
        shows = Shows(inspection=check.inspection, check=check, by=by, words=check.text)
        if is_overtaken(check, at):
            shows = replace(shows, check=None, place=check.place)
        return keep_photograph(photograph, locked, shows)


def _find_sent_before(photograph: Photograph, check: Check) -> Evidence | None:
    """The row of the very same photograph of this check: it was sent, and the answer did not come through."""
    return Evidence.objects.filter(
        house=check.inspection.house, sha256=photograph.sha256, check_shown=check
    ).first()


def is_overtaken(check: Check, at: dt.datetime) -> bool:
    """Whether the check was found not met, or its room re-opened, after that moment."""
    if check.outcomes.filter(kind=Outcome.Kind.NOT_MET, at__gt=at).exists():
        return True
    where = Q(places=check.place) if check.place_id else Q(places__isnull=True)
    return Reopening.objects.filter(where, inspection=check.inspection, at__gt=at).exists()

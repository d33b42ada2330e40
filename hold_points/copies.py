"""What pages show of a photograph, made after it was kept: a clean copy and a small one.

Whoever makes them claims the row first, so that a photograph is prepared once; a claim that came to nothing
(a worker that was killed) is taken up again by a later tick. Made twice, the copies are the same.
"""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Iterable

from django.db.models import F

from coordination import clock
from coordination.people.refusals import BadInput
from hold_points.evidence import store
from hold_points.models import Evidence
from hold_points.photographs import make_copies

logger = logging.getLogger(__name__)

MOST_AT_ONCE = 25
"""Photographs that one ring of the doorbell prepares: the next ring takes the rest."""

TRY_AGAIN_AFTER = dt.timedelta(minutes=5)


def prepare(evidence_id: int) -> bool:
    """Make the copies of a photograph that has none yet; False when someone else does, or did.

    Raises:
        OSError: the original is not on this server, or the copies cannot be written.
        BadInput: the original cannot be read any more.
    """
    now = clock.now()
    claimed = Evidence.objects.filter(
        pk=evidence_id,
        prepared_at__isnull=True,
        prepare_after__lte=now,
        prepare_tries__lt=Evidence.MOST_TRIES,
    ).update(prepare_after=now + TRY_AGAIN_AFTER, prepare_tries=F("prepare_tries") + 1)
    if not claimed:
        return False
    row = Evidence.objects.get(pk=evidence_id)
    with row.original.open("rb") as file:
        copies = make_copies(file.read())
    Evidence.objects.filter(pk=row.pk).update(
        shown=store("shown", row.sha256, "jpg", copies.shown),
        thumb=store("thumbs", row.sha256, "jpg", copies.thumb),
        prepared_at=clock.now(),
    )
    return True


def prepare_waiting(ids: Iterable[int] | None = None) -> int:
    """Prepare the photographs named, or those that wait; returns how many were.

    One that cannot be prepared is logged, keeps nobody else waiting, and is tried again a few times.
    """
    if ids is None:
        waiting = Evidence.objects.filter(
            prepared_at__isnull=True, prepare_after__lte=clock.now(), prepare_tries__lt=Evidence.MOST_TRIES
        )
        ids = waiting.order_by("prepare_after", "pk").values_list("pk", flat=True)[:MOST_AT_ONCE]
    done = 0
    for pk in ids:
        try:
            done += prepare(pk)
        except (OSError, BadInput):
            logger.exception("photograph %s could not be prepared", pk)
    return done

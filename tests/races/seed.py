"""Two small houses for attacks and races; also a script that leaves them in a fresh SQLite file.

`python -m tests.races.seed` migrates the file that the test settings name, seeds it and prints the ids. It
runs in a process of its own, so that the suite's own database, whichever it is, stays out of it.
"""

import json
import sys
import uuid
from typing import Any

Ids = dict[str, Any]


def seed() -> Ids:
    """House a: hold lifted, linings firm. House b: hold open, linings pencilled, frame firm, board free."""
    from coordination import clock
    from coordination.sequence import holds
    from coordination.sequence.diary import write_change
    from coordination.sequence.models import Booking, ToldDate
    from hold_points.models import (
        Check,
        Concession,
        Inspection,
        Nonconformity,
        Outcome,
        RecordEntry,
        Reopening,
        Seal,
    )
    from tests.sequence.builders import START, book, make_builder, sign_release, small_house

    builder = make_builder()
    a, b = small_house(builder, "lot-7"), small_house(builder, "lot-8")
    release, spare = sign_release(a), sign_release(a)
    holds.lift(a.hold, release)
    booked = {
        "a_linings": book(a, "linings", Booking.State.FIRM),
        "b_linings": book(b, "linings"),
        "b_frame": book(b, "frame", Booking.State.FIRM),
    }
    ToldDate.objects.create(
        booking=booked["a_linings"], start=START, finish=START + 4, state="firm", at=clock.now()
    )
    write_change(a.house, "note", "", "a line of the diary", {})
    inspection = Inspection.objects.get(point=a.hold.point)
    check = Check.objects.create(inspection=inspection, key="pockets", text="Pockets filled", kind="counted")
    outcome = Outcome.objects.create(
        id=uuid.uuid4(),
        check_judged=check,
        kind="not met",
        by=a.supervisor,
        at=clock.now(),
        received_at=clock.now(),
    )
    wrong = Nonconformity.objects.create(house=a.house, check_failed=check, raised_by=outcome)
    Concession.objects.create(
        nonconformity=wrong,
        by=a.planner,
        authority="Pat",
        reason="one batt",
        follow_up="look with the camera",
        follow_up_on="2026-09-01",
        follow_up_owner="Pat",
        at=clock.now(),
    )
    other = Inspection.objects.create(house=b.house, point=b.hold.point)
    reopening = Reopening.objects.create(inspection=other, by=b.supervisor, reason="pipe", at=clock.now())
    reopening.places.add(b.house.places.get(key="bed-1"))
    RecordEntry.objects.create(
        house=a.house, n=1, kind="note", text="{}", previous="0" * 64, hash="1" * 64, at=clock.now()
    )
    Seal.objects.create(builder=builder, n=1, text="{}", previous="0" * 64, hash="1" * 64, at=clock.now())
    ids: Ids = {name: booking.pk for name, booking in booked.items()}
    for letter, small in (("a", a), ("b", b)):
        ids |= {f"{letter}_house": small.house.pk, f"{letter}_hold": small.hold.pk}
        ids |= {f"{letter}_visit_{name}": visit.pk for name, visit in small.visits.items()}
        ids |= {f"{letter}_act_{name}": one.pk for name, one in small.activities.items()}
        ids |= {f"{letter}_crew_{name}": crew.pk for name, crew in small.crews.items()}
    return ids | {
        "release": release.hex,
        "spare": spare.hex,
        "nobody": uuid.uuid4().hex,
        "uid": uuid.uuid4().hex,
        "person": a.planner.pk,
        "start": START,
    }


def main() -> None:
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)
    sys.stdout.write(json.dumps(seed()))


if __name__ == "__main__":
    main()

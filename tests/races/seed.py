"""Two small houses for attacks and races; also a script that leaves them in a fresh SQLite file.

`python -m tests.races.seed` migrates the file that the test settings name, seeds it and prints the ids. It
runs in a process of its own, so that the suite's own database, whichever it is, stays out of it.
"""

import datetime as dt
import json
import sys
import uuid
from typing import Any

Ids = dict[str, Any]


def seed() -> Ids:
    """House a: hold lifted, linings firm. House b: hold open, linings pencilled, frame firm, board free.

    A third house's point was released and re-opened: both on the record, the release first.
    """
    from django.db import transaction

    from coordination import clock
    from coordination.people.models import CrewMember
    from coordination.sequence import holds
    from coordination.sequence.diary import write_change
    from coordination.sequence.models import Activity, Booking, Detail, Installer, ToldDate
    from hold_points import record
    from hold_points.models import (
        Check,
        Concession,
        Evidence,
        Inspection,
        Nonconformity,
        Outcome,
        Release,
        Reopening,
        Seal,
        Statement,
    )
    from tests.sequence.builders import START, book, make_builder, record_release, sign_release, small_house

    builder = make_builder()
    a, b, c = (small_house(builder, key) for key in ("lot-7", "lot-8", "lot-9"))
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
    Statement.objects.create(
        check_stated=check,
        runs=[{"run": "all", "contact": "clear", "rcd": "yes"}],
        name="Pat",
        licence="E 1",
        crew=booked["a_linings"].crew,
        received_at=clock.now(),
    )
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
    open_one = Check.objects.create(inspection=inspection, key="wrap", text="Wrap lapped", kind="seen")
    photo = {"inspection": inspection, "sha256": "2" * 64, "size": 1, "media_type": "image/jpeg"}
    Evidence.objects.create(
        house=a.house,
        check_shown=open_one,
        original="x.jpg",
        received_at=clock.now(),
        by=a.supervisor,
        **photo,
    )
    other = Inspection.objects.create(house=b.house, point=b.hold.point)
    parts = {
        key: Check(inspection=other, key=key, section=key, text=key, kind="seen") for key in ("low", "high")
    }
    Check.objects.bulk_create(parts.values())
    part = record_release(other, b.supervisor, section="low")
    forged = {
        "by": b.supervisor,
        "name": "Kit",
        "signature": [],
        "at": clock.now(),
        "received_at": clock.now(),
    }
    unrecorded = Release.objects.create(id=uuid.uuid4(), inspection=other, role="supervisor", **forged)
    by_planner = record_release(other, b.planner, role="planner")
    # The clock of the server that took the release ran ahead: the re-opening bears an earlier time.
    ahead = clock.now() + dt.timedelta(minutes=5)
    overtaken = record_release(
        Inspection.objects.create(house=c.house, point=c.hold.point), c.supervisor, received_at=ahead
    )
    third = Inspection.objects.get(point=c.hold.point)
    reopening = Reopening.objects.create(inspection=third, by=c.supervisor, reason="pipe", at=clock.now())
    reopening.places.add(c.house.places.get(key="bed-1"))
    with transaction.atomic():
        record.append(c.house, "re-opening", {"reopening": reopening.pk, "point": "H5"})
    Installer.objects.create(
        detail=Detail.objects.get(house=b.house, key="batts"),
        activity=Activity.objects.get(house=b.house, key="wiring"),
    )
    CrewMember.objects.create(crew=b.crews["wiring"], person=b.supervisor)
    Seal.objects.create(builder=builder, n=1, text="{}", previous="0" * 64, hash="1" * 64, at=clock.now())
    ids: Ids = {name: booking.pk for name, booking in booked.items()}
    for letter, small in (("a", a), ("b", b), ("c", c)):
        ids |= {f"{letter}_house": small.house.pk, f"{letter}_hold": small.hold.pk}
        ids |= {f"{letter}_visit_{name}": visit.pk for name, visit in small.visits.items()}
        ids |= {f"{letter}_act_{name}": one.pk for name, one in small.activities.items()}
        ids |= {f"{letter}_crew_{name}": crew.pk for name, crew in small.crews.items()}
    return ids | {
        "release": release.hex,
        "spare": spare.hex,
        "part": part.hex,
        "unrecorded": unrecorded.pk.hex,
        "by_planner": by_planner.hex,
        "overtaken": overtaken.hex,
        "wrong": wrong.pk,
        "outcome": outcome.pk.hex,
        "open_check": open_one.pk,
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

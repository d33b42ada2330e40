"""A digest leaves the running `up` once: made by the tick, sent by the worker, never again."""

import contextlib
import sqlite3

from tests.management.test_up import run_in_shell, up, wait_for_two_ticks
from tests.waiting import free_port

# A site that works every day of the week and a digest hour that has always come, so that the test holds on a
# Sunday too.
PUT_TWO_THINGS_TO_TELL = """
import datetime as dt
from django.db import transaction
from coordination import clock
from coordination.outbox.models import Message
from coordination.outbox.put import put
from coordination.people.models import *
from coordination.sequence.calendars import calendar_key
from coordination.sequence.models import House, Plan, SequenceVersion
with transaction.atomic():
    builder = Builder.objects.create(name="Fernhollow Homes", slug="fernhollow", digest_at=dt.time(0, 0))
    calendar = WorkingCalendar.objects.create(builder=builder, key="all", name="All days", week=[2] * 7)
    house = House.objects.create(
        builder=builder, key="lot-1", name="Lot 1", calendar=calendar,
        region=Region.objects.create(builder=builder, key="south", name="South"),
        sequence_version=SequenceVersion.objects.create(
            builder=builder, key="none", number=1, name="None", text="", sha256="", published_at=clock.now()
        ),
        starts_on=clock.today(), recorded_up_to=clock.current_half_day(), created_at=clock.now(),
    )
    week = {"week": [2] * 7, "off": [], "on": []}
    Plan.objects.create(
        house=house, number=1, at=clock.now(), recorded_up_to=house.recorded_up_to, cause="set out",
        finish=house.recorded_up_to, calendars={"calendars": {calendar_key(calendar.pk): week}},
    )
    crew = Crew.objects.create(
        company=Company.objects.create(name="Pipes"), name="Pipes 1", calendar=calendar,
        trade=Trade.objects.create(key="plumber", name="plumber"),
        contact=Person.objects.create_user("pip@example.org", name="Pip Teasel"),
    )
    for number in (1, 2):
        put(
            builder=builder, to=crew, kind=Message.Kind.CHANGE, about=f"test:{number}", version="1",
            subject=f"Fernhollow Homes, Lot {number}: rough-in moves",
            body=f"Rough-in of Lot {number} moves.",
        )
"""


def test_a_digest_of_two_messages_leaves_the_running_up_once(tmp_path):
    data = tmp_path / "data"
    with up(data, "--without-demo", "--port", str(free_port())) as started:
        started.wait_until_open()
        run_in_shell(data, PUT_TWO_THINGS_TO_TELL)
        started.wait_for("Mail to pip@example.org: ")
        # Two more ticks send nothing a second time.
        wait_for_two_ticks(started, data)
        [line] = [one for one in started.words.splitlines() if "pip@example.org" in one]
        file = data / "mail" / "digest-1.eml"
        assert line.endswith(f"(whole: {file})")
        assert file.stat().st_mode & 0o077 == 0, "links of crews stand in it"
        whole = file.read_text()
        assert "Message-ID: <digest-1@" in whole
        for number in (1, 2):
            words = f"Rough-in of Lot {number} moves."
            assert words in whole
            assert words not in started.words, "one line for each mail"
        assert started.stop() == 0, started.words
    with contextlib.closing(sqlite3.connect(data / "before-the-board.sqlite3")) as database:
        assert database.execute("SELECT count(*), count(sent_at) FROM outbox_digest").fetchone() == (1, 1)
        assert database.execute("SELECT count(sent_at) FROM outbox_message").fetchone() == (4,)

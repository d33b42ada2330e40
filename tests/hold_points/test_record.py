"""The record in the database: chained, exported, verified, tampered with."""

import datetime as dt
import io
import json

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from coordination.sequence import answers, holds
from hold_points.models import Outcome, RecordEntry, Release
from hold_points.record import append, canonical, export_record, head_of
from hold_points.verify_record import DoesNotFit, check_photographs, verify_export
from tests.hold_points.houses import make_site
from tests.sequence.builders import say_brought_in


@pytest.fixture
def recorded(site):
    site.release_all("H3", "H4")
    return site


def test_everything_that_was_judged_and_signed_is_in_the_export_and_fits(recorded, tmp_path):
    raw = export_record(recorded.house).encode()
    entries = verify_export(raw, expected_head=head_of(recorded.house))
    kinds = [entry["kind"] for entry in entries]
    assert kinds == ["outcome", "release", "outcome", "outcome", "outcome", "outcome", "release"]
    release = entries[-1]["facts"]
    assert release["signed_by"]["name"] == recorded.supervisor.name
    assert release["signed_by"]["role"] == "supervisor"
    assert release["authenticated_by"] == "session and password"
    assert {check["text"] for check in release["checks"]} >= {"No pipe rests on a chord.", "Caps over voids."}
    assert next(one for one in release["checks"] if one["key"] == "cap-count")["value"] == "3.0"
    assert release["sequence"] == "short 1"
    assert isinstance(release["plan_revision"], int)
    check_photographs(entries, tmp_path / "evidence" / "originals")


def test_a_photograph_that_was_changed_on_the_disk_is_found(recorded, tmp_path):
    file = next(one for one in (tmp_path / "evidence" / "originals").rglob("*") if one.is_file())
    file.write_bytes(file.read_bytes() + b"\0")
    with pytest.raises(DoesNotFit):
        check_photographs(verify_export(export_record(recorded.house).encode()), file.parent.parent)


def test_records_of_two_houses_are_two_chains(recorded):
    other = make_site("lot-8", "wattle")
    other.find(other.check("pipe-off"))
    assert [one["n"] for one in verify_export(export_record(other.house).encode())] == [1]
    lines = export_record(recorded.house).splitlines(keepends=True)
    lines[1] = export_record(other.house).splitlines(keepends=True)[1]
    with pytest.raises(DoesNotFit) as found:
        verify_export("".join(lines).encode())
    assert found.value.n == 1


@pytest.mark.parametrize("model", [RecordEntry, Outcome, Release])
@pytest.mark.parametrize("act", ["update", "delete"])
def test_the_database_itself_refuses_to_change_what_is_recorded(recorded, model, act):
    table = model._meta.db_table
    column = "kind" if model is RecordEntry else "device"
    statement = f"UPDATE {table} SET {column} = 'x'" if act == "update" else f"DELETE FROM {table}"
    with connection.cursor() as cursor, pytest.raises(DatabaseError, match="only added"):
        cursor.execute(statement)


def test_what_went_past_a_hold_and_what_was_set_aside_is_on_the_record(site):
    bookings_answered = site.booking("batts")
    answers.report_under_way(bookings_answered, crew=site.crews["installer"])
    entry = RecordEntry.objects.get(kind="went past")
    assert "Services and air seal" in entry.text
    assert site.crews["installer"].name in entry.text
    for activity in site.house.activities.filter(is_point=False):
        activity.actual_start = activity.actual_finish = 41000
        activity.save()
    say_brought_in(site.house)
    holds.set_aside(site.hold("H3"), site.planner, "brought in half built")
    assert "brought in half built" in RecordEntry.objects.get(kind="set aside").text
    assert verify_export(export_record(site.house).encode())


def test_values_are_written_in_one_form_only(db):
    moment = dt.datetime(2026, 3, 17, 14, 10, 5, tzinfo=dt.timezone(dt.timedelta(hours=11)))
    assert canonical({"b": 0.1, "a": moment, "c": None, "d": True}) == (
        '{"a":"2026-03-17T03:10:05.000000Z","b":"0.1","c":null,"d":true}'
    )


@pytest.mark.django_db(transaction=True)
def test_nothing_is_recorded_outside_a_transaction(monday_morning):
    house = make_site().house
    with pytest.raises(transaction.TransactionManagementError):
        append(house, "outcome", {})


def test_the_command_writes_the_export_and_never_over_a_file(recorded, tmp_path):
    out = io.StringIO()
    call_command("export_record", "lot-7", stdout=out)
    assert out.getvalue() == export_record(recorded.house)
    target = tmp_path / "record.txt"
    call_command("export_record", "lot-7", into=target, stdout=io.StringIO())
    assert verify_export(target.read_bytes())
    with pytest.raises(CommandError, match="there already"):
        call_command("export_record", "lot-7", into=target)
    with pytest.raises(CommandError, match="no house"):
        call_command("export_record", "lot-99")
    make_site("lot-7", "wattle")
    with pytest.raises(CommandError, match="saltbush, wattle"):
        call_command("export_record", "lot-7")


def test_what_the_record_says_of_a_person_is_json_without_numbers_that_round(recorded):
    for text in RecordEntry.objects.values_list("text", flat=True):
        json.loads(text, parse_float=lambda number: pytest.fail(f"a fraction: {number}"))

"""The builder's chain: sealed once a day, sent out; a record that was written anew does not fit it."""

import subprocess
import sys

import pytest

from coordination.outbox.models import Message
from coordination.sequence.models import HoldBefore
from hold_points import record
from hold_points.models import NightRound, RecordEntry, Seal
from hold_points.sealing import export_seals, make_night_round, seal
from hold_points.tasks import make_night_rounds
from hold_points.verify_record import DoesNotFit, verify_export, write_export
from hold_points.verify_seals import check_against_seals, verify_seals
from tests.hold_points.houses import make_site


def entries_of(site):
    return verify_export(record.export_record(site.house).encode())


def seals_of(site):
    return verify_seals(export_seals(site.builder).encode())


def test_each_seal_names_every_head_and_the_seal_before(site, monday_morning):
    site.release_all("H3")
    first = seal(site.builder)
    assert first is not None
    assert seal(site.builder) is None, "nothing was recorded since"
    site.pass_checks("H4")
    second = seal(site.builder)
    assert second is not None
    assert (second.n, second.previous) == (2, first.hash)
    seals = seals_of(site)
    assert [head["head"] for head in seals[1]["facts"]["heads"]] == [record.head_of(site.house)]
    assert check_against_seals(entries_of(site), site.house.key, seals) == 2


def test_another_builders_houses_are_not_in_it(site):
    site.release_all("H3")
    other = make_site("lot-8", "wattle")
    other.release_all("H3")
    seal(site.builder)
    assert [head["house"] for head in seals_of(site)[0]["facts"]["heads"]] == [site.house.key]


def test_planners_and_assessors_get_the_seal_once(site):
    site.release_all("H3")
    made = seal(site.builder)
    assert made is not None
    sent = Message.objects.filter(about=f"seal:{made.pk}")
    assert {one.person for one in sent} == {site.planner, site.assessor}
    assert all(made.hash in one.body and record.head_of(site.house) in one.body for one in sent)


def test_a_record_cut_off_or_written_anew_does_not_fit_the_seal(site):
    site.release_all("H3")
    seal(site.builder)
    lines = list(RecordEntry.objects.filter(house=site.house).order_by("n").values_list("hash", "text"))
    shorter = verify_export(write_export(site.house.key, lines[:-1]).encode())
    with pytest.raises(DoesNotFit, match="cut off") as found:
        check_against_seals(shorter, site.house.key, seals_of(site))
    assert found.value.n == len(lines)
    changed = [{**one} for one in entries_of(site)]
    changed[-1]["kind"] = "something else"
    with pytest.raises(DoesNotFit, match="written anew"):
        check_against_seals(changed, site.house.key, seals_of(site))


def test_a_seal_that_was_changed_left_out_or_never_sent_is_found(site):
    site.release_all("H3")
    seal(site.builder)
    site.pass_checks("H4")
    seal(site.builder)
    raw = export_seals(site.builder).encode()
    head, first, second, _end = raw.split(b"\n")
    for damaged in (
        raw.replace(b"lot-7", b"lot-9"),
        b"\n".join([head, second, b""]),
        b"\n".join([head, second, first, b""]),
        raw[:-1],
    ):
        with pytest.raises(DoesNotFit):
            verify_seals(damaged)
    with pytest.raises(DoesNotFit, match="sent out"):
        verify_seals(raw, expected="0" * 63 + "1")
    assert len(verify_seals(raw, expected=Seal.objects.get(n=1).hash)) == 2


def test_the_command_checks_a_record_against_the_seals(site, tmp_path):
    site.release_all("H3")
    made = seal(site.builder)
    assert made is not None
    kept, seals = tmp_path / "record.txt", tmp_path / "seals.txt"
    kept.write_text(record.export_record(site.house), encoding="utf-8")
    seals.write_text(export_seals(site.builder), encoding="utf-8")
    command = [sys.executable, "-m", "hold_points.verify_record", str(kept), "--seals", str(seals)]
    done = subprocess.run([*command, "--seal", made.hash], capture_output=True, text=True, check=False)
    assert (done.returncode, "1 seals name this house and fit" in done.stdout) == (0, True)
    lines = list(RecordEntry.objects.filter(house=site.house).order_by("n").values_list("hash", "text"))
    kept.write_text(write_export(site.house.key, lines[:-1]), encoding="utf-8")
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, "cut off" in done.stdout) == (1, True)


def test_the_round_is_made_once_a_day_and_alarms_when_the_holds_differ(site, monday_morning):
    site.release_all("H3")
    make_night_rounds()
    make_night_rounds()
    assert NightRound.objects.get().differences == []
    assert Seal.objects.count() == 1
    assert not Message.objects.filter(about__startswith="recount:").exists()
    monday_morning.shift(24 * 60 * 60)
    HoldBefore.objects.filter(hold=site.hold("H5")).delete()
    made = make_night_round(site.builder)
    assert made is not None
    assert "is not stored" in made.differences[0]
    alarm = Message.objects.get(about=f"recount:{made.pk}")
    assert (alarm.person, alarm.urgent) == (site.planner, True)


def test_the_record_page_shows_the_seal_and_hands_out_the_seals(site, client):
    site.release_all("H3")
    made = seal(site.builder)
    assert made is not None
    client.force_login(site.assessor)
    assert made.hash in client.get(f"/walks/houses/{site.house.pk}/record/").content.decode()
    answer = client.get(f"/walks/houses/{site.house.pk}/seals.txt")
    assert len(verify_seals(answer.content)) == 1

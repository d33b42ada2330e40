"""Orders as files and the two commands: what they make, what they refuse, nothing half saved."""

import datetime as dt
import hashlib
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from coordination.people.models import Trade
from coordination.people.refusals import BadInput
from coordination.sequence.models import House, SequenceVersion
from coordination.sequence.publishing import publish_sequence, stage_names
from coordination.sequence.set_out_file import read_set_out_file
from tests.sequence.brick_veneer import ENTRY, date_of, says

pytestmark = pytest.mark.django_db
EXAMPLE = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "saltbush_lot_7.toml"


@pytest.fixture
def text():
    return EXAMPLE.read_text(encoding="utf-8")


def test_the_shipped_example_sets_a_house_out_and_says_what_was_made(office, capsys):
    call_command("set_out", str(EXAMPLE), "--builder", office.builder.slug)
    house = House.objects.get(key="lot-7")
    said = capsys.readouterr().out
    assert said.startswith("Lot 7, Saltbush Rise: set out from")
    work = house.activities.filter(is_point=False).count()
    assert f"{work} activities in {house.visits.count()} visits" in said
    assert "7 holds, 42 checks before them" in said
    assert "walk H5 Insulation: Wed 25 Mar, morning" in said
    assert "photographs H3" in said
    assert "Plasterboard fixed starts Fri 27 Mar, morning" in said
    assert "finished Wed 13 May, morning" in said
    assert says(date_of(house, "linings").start) == "2026-03-27 am"
    assert (house.features["heel_height"], house.hazards) == (150, "Open trench along the east boundary")
    assert house.places.count() == 16


def test_a_file_names_sequence_region_calendar_people_and_crews_of_the_builder(office, text):
    crew = office.crew("plumber", "Blue Pipes")
    more = f'supervisor = "{office.supervisor.email}"\nversion = 1\nrequired_by = 2026-06-30\n'
    text = more + text.replace("[features]", '[crews]\nplumber = "Blue Pipes"\n\n[features]')
    order = read_set_out_file(text, office.builder, "lot.toml")
    assert (order.version, order.region, order.calendar) == (office.version, office.region, office.calendar)
    assert (order.supervisor, order.crews) == (office.supervisor, {"plumber": crew})
    assert (order.starts_on, order.required_by) == (dt.date(2026, 2, 2), dt.date(2026, 6, 30))


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('key = "lot-7"', 'key = "lot-7', "lot.toml: It is no TOML"),
        ('key = "lot-7" ', 'kee = "lot-7" ', "'key' is missing"),
        ('region = "south"', 'region = "north"', "There is no 'north'. Known are: south."),
        ('calendar = "weekdays"', 'calendar = "sundays"', "There is no 'sundays'. Known are: weekdays."),
        ('sequence = "brick-veneer-90"', 'sequence = "straw"', "There is no 'straw'. Known are: brick"),
        ("starts_on = 2026-02-02", 'starts_on = "2 Feb"', "give a day without quotes"),
        ("starts_on = 2026-02-02", "starts_on = 2026-02-02\ncolour = 1", "'colour' is unknown here"),
        ("starts_on = 2026-02-02", "starts_on = 2026-02-02\nversion = 7", "no version 7"),
        ("starts_on = 2026-02-02", 'starts_on = 2026-02-02\nsupervisor = "x@y.z"', "Nobody signs in as"),
        ('parking = "On', 'garage = "On', "'garage' is unknown here"),
        ("pitch = 22.5", "pitch = 0", "too little"),
        ('zone = "garage"', 'zone = "moon"', "place 'garage': 'zone' is 'moon'"),
        ("[features]", '[crews]\nplumber = "Nobody"\n\n[features]', "crews, plumber: There is no 'Nobody'"),
        ("[features]", "[crews]\nplumber = 7\n\n[features]", "name in quotes"),
    ],
)
def test_a_bad_file_is_refused_with_file_entry_and_remedy_and_nothing_is_saved(
    office, text, tmp_path, old, new, words
):
    assert old in text
    bad = tmp_path / "lot.toml"
    bad.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(CommandError) as refused:
        call_command("set_out", str(bad), "--builder", office.builder.slug)
    assert str(refused.value).startswith("lot.toml")
    assert words in str(refused.value)
    assert "Nothing was saved." in str(refused.value)
    assert not House.objects.exists()


def test_an_unknown_builder_or_file_is_named(office, tmp_path):
    with pytest.raises(CommandError, match=r"no builder 'moon'\. Known are: saltbush-homes"):
        call_command("set_out", str(EXAMPLE), "--builder", "moon")
    with pytest.raises(CommandError, match="no such file"):
        call_command("set_out", str(tmp_path / "lot.toml"), "--builder", office.builder.slug)


# ------------------------------------------------------------------ publishing


def test_publishing_numbers_versions_and_knows_the_text_that_it_has(office, capsys):
    text = ENTRY.read_text(encoding="utf-8")
    assert publish_sequence(office.builder, text) == office.version, "the same text is the same version"
    Trade.objects.filter(key="tiler").delete()
    changed = text.replace('name = "Single storey', 'name = "One storey', 1)
    second = publish_sequence(office.builder, changed)
    assert (second.key, second.number) == ("brick-veneer-90", 2)
    assert second.sha256 == hashlib.sha256(changed.encode()).hexdigest()
    assert second.text == changed
    assert Trade.objects.filter(key="tiler").exists()
    third = publish_sequence(office.builder, text)
    assert third.number == 3, "a text that was left and comes back is a new version"
    call_command("publish_sequence", str(ENTRY), "--builder", office.builder.slug)
    assert "version 3 of 'brick-veneer-90'" in capsys.readouterr().out


def test_stages_have_the_names_of_the_sequence(office):
    assert next(iter(stage_names(office.version).values())) != ""
    assert stage_names(SequenceVersion(text="", sha256="0" * 64)) == {}


def test_a_sequence_that_the_lints_refuse_is_not_published(office, tmp_path):
    text = ENTRY.read_text(encoding="utf-8").replace("stake = true", "stake = false", 1)
    with pytest.raises(BadInput, match="0 activities are the stake"):
        publish_sequence(office.builder, text, file="own.toml")
    bad = tmp_path / "own.toml"
    bad.write_text("key = 7", encoding="utf-8")
    with pytest.raises(CommandError, match=r"own\.toml, file: 'key' is 7; give a text\. Nothing was saved"):
        call_command("publish_sequence", str(bad), "--builder", office.builder.slug)
    assert office.builder.sequence_versions.count() == 1

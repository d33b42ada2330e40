"""The editable layer of regional holidays."""

import datetime as dt
from pathlib import Path

import holidays
import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from coordination.people.models import Builder, Region, RegionDay
from coordination.people.refusals import BadInput
from coordination.people.region_days import add_region_days

SHIPPED = Path(settings.BASE_DIR) / "fixtures" / "holidays" / "au_tas_regions.toml"


@pytest.fixture
def builder(db):
    return Builder.objects.create(name="Fern Homes", slug="fern")


def test_the_shipped_days_are_added_once_and_are_none_that_the_library_knows(builder):
    call_command("add_region_days", SHIPPED, builder="fern")
    call_command("add_region_days", SHIPPED, builder="fern")
    assert Region.objects.count() == 7
    statewide = holidays.country_holidays("AU", subdiv="TAS", years=2026)
    days = list(RegionDay.objects.values_list("first_day", flat=True))
    assert len(days) == 16
    assert not [day for day in days if day in statewide]
    regatta = RegionDay.objects.get(region__key="south", first_day=dt.date(2026, 2, 9))
    assert regatta.why == "Royal Hobart Regatta"


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("region = [", "no TOML"),
        ("[[region]]\nname = 'X'", "'key' is missing"),
        ("", "names no region"),
        ("[[region]]\nkey='a'\nname='A'\ndays=[{day='2026-02-09', why='x'}]", "without quotes"),
        ("[[region]]\nkey='a'\nname='A'\ndays=[{day=2026-02-09, half='noon', why='x'}]", "am or pm"),
    ],
)
def test_a_bad_file_is_refused_by_name_and_nothing_is_saved(builder, tmp_path, text, named):
    with pytest.raises(BadInput, match=named):
        add_region_days(builder, text, "days.toml")
    file = tmp_path / "days.toml"
    file.write_text(text)
    with pytest.raises(CommandError, match="Nothing was saved"):
        call_command("add_region_days", file, builder="fern")
    assert not Region.objects.exists()

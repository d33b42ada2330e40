"""Publishing an entry that includes another: the version stands alone, and a house is set out from it."""

from __future__ import annotations

import shutil

import pytest
from django.core.management import CommandError, call_command

from coordination.people.refusals import BadInput
from coordination.sequence.publishing import publish_file, read_version
from coordination.sequence.standard import resolve
from tests.sequence.brick_veneer import date_of, working_half_days
from tests.sequence.test_standard_shipped import FOLDER

TWO_STOREYS = FOLDER / "two_storey_brick_veneer_90.toml"
pytestmark = pytest.mark.django_db


def test_version_of_an_including_entry_holds_all_of_it(office, tmp_path, capsys):
    for name in ("brick_veneer_90.toml", TWO_STOREYS.name):
        shutil.copy(FOLDER / name, tmp_path)
    call_command("publish_sequence", str(tmp_path / TWO_STOREYS.name), "--builder", office.builder.slug)
    assert "version 1 of 'two-storey-brick-veneer-90'" in capsys.readouterr().out
    version = office.builder.sequence_versions.get(key="two-storey-brick-veneer-90")
    shutil.rmtree(tmp_path)
    entry = read_version(version)
    assert len(resolve(entry, {}).activities) == 73
    assert publish_file(office.builder, TWO_STOREYS) == version, "the same files are the same version"


def test_house_of_two_storeys_is_set_out_with_its_zones_and_holds(office):
    office.version = publish_file(office.builder, TWO_STOREYS)
    house = office.house()
    assert house.activities.count() == 73
    assert house.holds.count() == 8
    assert set(house.places.values_list("zone", flat=True)) >= {"upper", "ground", "garage"}
    start = date_of(house, "floor").start
    assert working_half_days(house, start) == 30


def test_missing_base_is_refused_and_nothing_is_saved(office, tmp_path):
    shutil.copy(TWO_STOREYS, tmp_path)
    before = office.builder.sequence_versions.count()
    path = tmp_path / TWO_STOREYS.name
    with pytest.raises(BadInput, match=r"there is no 'brick_veneer_90\.toml' beside it"):
        publish_file(office.builder, path)
    with pytest.raises(CommandError, match="Nothing was saved"):
        call_command("publish_sequence", str(path), "--builder", office.builder.slug)
    assert office.builder.sequence_versions.count() == before

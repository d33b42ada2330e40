"""What a row gives its drawing and its miss: impossible numbers are refused wherever a sequence comes in."""

from __future__ import annotations

from dataclasses import replace

import pytest

from coordination.people.refusals import BadInput
from coordination.sequence import drafting
from coordination.sequence.draft_misses import reckon_miss
from coordination.sequence.library.reading import read_document
from coordination.sequence.models import SequenceDraft
from coordination.sequence.publishing import publish_sequence
from coordination.sequence.standard import flatten, lint_entry, read_sequence
from tests.sequence.test_standard_shipped import FOLDER

TEXT = flatten(FOLDER / "brick_veneer_90.toml")
JOIST = 'drawing_inputs = {joist = "joist_depth", batt = "ceiling_batt_mm", frame = "frame_material"}'
AREA = 'kind = "crushed_platform", inputs = {area = 1.2,'


def refused(text: str) -> list[str]:
    usual = replace(read_sequence(text, "mine.toml"), options=())
    return [str(one) for one in lint_entry(usual) if one.level == "refused"]


def changed(old: str, new: str) -> str:
    assert TEXT.count(old) == 1, old
    return TEXT.replace(old, new)


@pytest.mark.parametrize(
    ("old", "new", "wanted"),
    [
        (JOIST, JOIST.replace('"joist_depth"', "-90"), ("d06", "joist", "nothing can be less than 0")),
        (AREA, AREA.replace("1.2", "-1.2"), ("d06", "area", "nothing can be less than 0")),
        (AREA, AREA.replace("1.2", "0"), ("d06", "area")),
        (JOIST, JOIST.replace('"ceiling_batt_mm"', "0"), ("d06", "batt")),
        (JOIST, JOIST.replace('"frame_material"', "3"), ("d06", "frame")),
    ],
)
def test_number_that_nothing_can_have_is_refused_with_its_row_and_input(
    old: str, new: str, wanted: tuple[str, ...]
) -> None:
    # The command refuses the same inputs by the same names (tests/fabric/test_command.py).
    found = refused(changed(old, new))
    assert any(all(word in one for word in wanted) for one in found), found


@pytest.mark.django_db
@pytest.mark.parametrize(("old", "low"), [(JOIST, '"joist_depth"'), (AREA, "1.2")])
def test_negative_number_is_refused_in_import_form_and_publishing_and_nothing_is_saved(
    office, old: str, low: str
) -> None:
    wrong = changed(old, old.replace(low, "-90"))
    for act in (
        lambda: drafting.import_text(office.builder, wrong, office.planner, "mine.toml"),
        lambda: publish_sequence(office.builder, wrong),
    ):
        with pytest.raises(BadInput, match=r"d06.*-90.*nothing can be less than 0"):
            act()
    assert not SequenceDraft.objects.exists()
    draft = drafting.import_text(office.builder, TEXT, office.planner, "mine.toml")
    with pytest.raises(BadInput, match=r"d06.*-90"):
        drafting.save_text(draft, wrong, office.planner, draft.revision)
    assert SequenceDraft.objects.get().text == TEXT


def test_reckoning_a_row_says_what_is_wrong_instead_of_nothing() -> None:
    with pytest.raises(BadInput, match="area"):
        reckon_miss(read_document(changed(AREA, AREA.replace("1.2", "0")), "mine"), "d06", "mine.toml")

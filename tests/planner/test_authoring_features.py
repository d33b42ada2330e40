"""Features of a draft: added, changed and taken away in boxes; what asks for one keeps it."""

import re
from typing import Any

import pytest
from django.test import Client

from coordination.planner.conditions_told import say_condition
from coordination.sequence.conditions import read_condition
from coordination.sequence.library.reading import read_document
from coordination.sequence.models import SequenceDraft
from coordination.sequence.standard import read_sequence
from tests.planner.conftest import text_of
from tests.planner.test_authoring_views import as_sent, draft, post_row, version
from tests.sequence.brick_veneer import Office
from tests.sequence.test_standard_shipped import FOLDER

__all__ = ["draft", "version"]
pytestmark = pytest.mark.django_db

DEPTH = {
    "key": "nib_depth",
    "label": "Depth of the nib",
    "kind_of": "number",
    "unit": "mm",
    "least": "0",
    "most": "300",
    "default": "0",
    "group": "Walls",
    "help": "As built.",
    "source": "common practice",
    "when": "storeys >= 2",
}


def features(draft: SequenceDraft) -> dict[str, dict[str, Any]]:
    draft.refresh_from_db()
    return {row["key"]: row for row in read_document(draft.text, "x")["feature"]}


def add(planner: Client, draft: SequenceDraft, **changed: str) -> str:
    sent = {**DEPTH, "revision": str(draft.revision), **changed}
    return text_of(planner.post(f"/sequences/drafts/{draft.pk}/feature/0/", sent, follow=True))


@pytest.fixture
def whole(planner: Client, office: Office) -> SequenceDraft:
    """A draft of the shipped sequence, with features and options."""
    planner.post(f"/sequences/{office.version.pk}/edit/")
    return SequenceDraft.objects.get(based_on=office.version)


def test_a_feature_is_added_changed_and_taken_away(planner: Client, whole: SequenceDraft) -> None:
    assert "Saved. It can be published." in add(planner, whole)
    row = features(whole)["nib_depth"]
    assert row == {
        **{name: value for name, value in DEPTH.items() if name != "kind_of"},
        "kind": "number",
        "least": 0,
        "most": 300,
        "default": 0,
    }
    said = text_of(post_row(planner, whole, "feature", "nib_depth", default="45,5", whole=""))
    assert "Depth of the nib" in said
    assert "number, 0 to 300 mm, default 45.5, only when storeys >= 2" in said
    assert features(whole)["nib_depth"]["default"] == 45.5
    compared = text_of(planner.get(f"/sequences/drafts/{whole.pk}/difference/"))
    assert "Depth of the nib nib_depth new" in compared
    said = text_of(post_row(planner, whole, "feature", "nib_depth", remove="1"))
    assert "Saved. It can be published." in said
    assert "nib_depth" not in features(whole)


REFUSED: list[tuple[dict[str, str], str]] = [
    ({"default": "400"}, "feature 'nib_depth': the default does not suit: 400 mm is too much"),
    ({"least": "500"}, "feature 'nib_depth': 'least' is 500 and 'most' is 300"),
    ({"key": "pitch"}, "feature 'pitch': is there twice"),
    ({"key": "Nib"}, "Use small letters, digits and _"),
    ({"kind_of": "choice"}, "'choices' belong to a choice"),
    ({"kind_of": "flag"}, "Say yes or no"),
    ({"default": "wide"}, "Default : Enter a number."),
    ({"default": ""}, "Give the number that is taken"),
    ({"when": "storeys >"}, "'when' is 'storeys >'"),
    ({"least": "-3", "default": "-2"}, "nothing can be less than 0"),
]


def test_a_feature_that_cannot_be_read_is_refused_by_name_and_nothing_is_saved(
    planner: Client, whole: SequenceDraft
) -> None:
    for changed, refused in REFUSED:
        assert refused in add(planner, whole, **changed)
    assert "nib_depth" not in features(whole)
    assert whole.revision == 1


def test_a_condition_that_leads_nowhere_stands_among_the_faults_with_its_row(
    planner: Client, whole: SequenceDraft
) -> None:
    said = add(planner, whole, when="no_such_thing > 1")
    assert re.search(r"feature 'nib_depth' \(.+?\): condition", said)
    assert "no_such_thing" in said
    assert "it cannot be published yet" in said
    whole.refresh_from_db()
    said = text_of(post_row(planner, whole, "feature", "nib_depth", when="nib_depth > 1"))
    assert "which has a condition itself" in said


def test_what_asks_for_a_feature_is_named_and_keeps_it(planner: Client, whole: SequenceDraft) -> None:
    before = features(whole)
    number = list(before).index("pitch") + 1
    here = f"/sequences/drafts/{whole.pk}/feature/{number}/"
    boxes = as_sent(planner.get(here).context["form"])
    for changed in ({"remove": "1"}, {"key": "slope"}):
        answer = planner.post(here, {**boxes.dict(), **changed, "revision": "1"})
        assert answer.status_code == 422
        words = text_of(answer)
        assert "feature 'pitch': It is still asked for by:" in words
        assert "Take it out of these rows first." in words
    assert features(whole) == before
    page = planner.get(here)
    users = page.context["users"]
    rows = read_document(whole.text, "x")
    assert {f"check '{one['id']}'" for one in rows["check"] if "pitch" in str(one.get("limit"))} <= set(users)
    assert f"Asked for by: {users[0]}, {users[1]}" in text_of(page)


def test_a_feature_that_only_an_option_fixes_is_kept_by_the_option(
    planner: Client, whole: SequenceDraft
) -> None:
    option = read_document(whole.text, "x")["option"][0]
    add(planner, whole)
    whole.refresh_from_db()
    post_row(planner, whole, "option", option["key"], sets="nib_depth = 90")
    whole.refresh_from_db()
    answer = post_row(planner, whole, "feature", "nib_depth", remove="1")
    assert answer.status_code == 422
    assert f"asked for by: option '{option['key']}'." in text_of(answer)


def test_a_published_sequence_lists_what_it_asks_and_the_order_says_what_it_does_not(
    planner: Client, office: Office, whole: SequenceDraft
) -> None:
    add(planner, whole, when="storeys >= 2", default="90")
    planner.post(f"/sequences/drafts/{whole.pk}/publish/", {"revision": "2"})
    version = office.builder.sequence_versions.get(key=whole.key, number=2)
    listed = text_of(planner.get(f"/sequences/{version.pk}/"))
    assert "Depth of the nib only when storeys >= 2 0 to 300 mm 90 mm As built. common practice" in listed
    asked = text_of(planner.get(f"/houses/new/?sequence={version.pk}"))
    assert "Default: common practice. Only when ‘Storeys’ is at least 2; else the default stands." in asked
    office.version = version
    house = office.house()
    ordered = text_of(planner.get(f"/houses/{house.pk}/ordered/"))
    assert "Depth of the nib not asked for this house" in ordered


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ('winter_by == "own figure"', "‘Winter in which a missed surface is judged’ is ‘own figure’"),
        (
            "pitch < 15 and not heater_platform",
            "‘Roof pitch’ is less than 15 ° and ‘Heater or other unit on a platform in the roof space’ is no",
        ),
        (
            "heater_platform or storeys != 1",
            "‘Heater or other unit on a platform in the roof space’ is yes or ‘Storeys’ is not 1",
        ),
    ],
)
def test_conditions_are_said_with_the_labels_of_features(written: str, said: str) -> None:
    # No outside source: the words are the sequence's own labels.
    features = {one.key: one for one in read_sequence(FOLDER / "brick_veneer_90.toml").features}
    assert say_condition(read_condition(written), features) == said

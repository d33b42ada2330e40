"""Published sequences: shown read only, published from a file, refused by name."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from coordination.people.models import Role
from coordination.sequence.models import SequenceDraft, SequenceVersion
from tests.planner.conftest import browser_of, text_of
from tests.sequence.brick_veneer import ENTRY, Office
from tests.sequence.builders import make_person

pytestmark = pytest.mark.django_db


def publish(browser: Client, office: Office, text: str, name: str = "mine.toml") -> Any:
    sent = SimpleUploadedFile(name, text.encode())
    return browser.post("/sequences/publish/", {"builder": office.builder.slug, "file": sent}, follow=True)


def test_version_is_shown_with_visits_details_points_checks_and_warnings(
    planner: Client, office: Office
) -> None:
    assert "Brick veneer" in text_of(planner.get("/sequences/"))
    words = text_of(planner.get(f"/sequences/{office.version.pk}/"))
    for part in (
        "Points and their checks",
        "Visits in their order",
        "Plasterboard: fix and set",
        "Eave: full batt set back",
        "Services and air seal",
        "Warnings",
        "Let stand:",  # the warnings that the sequence's author explains
    ):
        assert part in words


def test_changed_sequence_becomes_the_next_version(planner: Client, office: Office) -> None:
    text = ENTRY.read_text(encoding="utf-8").replace('name = "Single storey,', 'name = "Our single storey,')
    answer = publish(planner, office, text)
    version = SequenceVersion.objects.get(number=2)
    assert (version.builder, version.key) == (office.builder, "brick-veneer-90")
    assert "is published as version 2." in text_of(answer)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('key = "brick-veneer-90"', "key = [", "mine.toml"),
        ('name = "Single storey,', 'nam = "Single storey,', "name"),
    ],
)
def test_file_that_is_no_sequence_is_refused_and_nothing_is_saved(
    planner: Client, office: Office, old: str, new: str, words: str
) -> None:
    answer = publish(planner, office, ENTRY.read_text(encoding="utf-8").replace(old, new, 1))
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert "Nothing was changed." in text_of(answer)
    assert SequenceVersion.objects.count() == 1


def test_assessor_publishes_and_supervisor_only_reads(office: Office, supervisor: Client) -> None:
    assessor = browser_of(make_person(office.builder, Role.Kind.ASSESSOR, "Ada"))
    text = ENTRY.read_text(encoding="utf-8") + "\n# read again\n"
    assert publish(supervisor, office, text).status_code == 403
    assert supervisor.get(f"/sequences/{office.version.pk}/").status_code == 200
    assert publish(assessor, office, text).status_code == 200
    assert SequenceVersion.objects.count() == 2


def test_another_builders_sequence_does_not_exist(stranger: Client, office: Office) -> None:
    assert stranger.get(f"/sequences/{office.version.pk}/").status_code == 404
    assert publish(stranger, office, "x = 1").status_code == 404


@pytest.mark.parametrize(
    ("entry", "key"),
    [
        ("bare_minimum", "bare-minimum"),
        ("brick_veneer_90", "brick-veneer-90"),
        ("steel_frame", "steel-frame"),
        ("timber_light_clad_90", "timber-light-clad-90"),
        ("two_storey_brick_veneer_90", "two-storey-brick-veneer-90"),
    ],
)
def test_every_sequence_of_the_library_is_published_from_the_page(
    planner: Client, office: Office, entry: str, key: str
) -> None:
    assert f'value="{entry}"' in planner.get("/sequences/").content.decode()
    given = {"builder": office.builder.slug, "shipped": entry}
    answer = planner.post("/sequences/publish/", given, follow=True)
    assert "is published as version 1." in text_of(answer)
    # What it includes is joined in: the version stands alone, and a house can be set out from it.
    version = SequenceVersion.objects.get(builder=office.builder, key=key)
    assert "Set out a house" in text_of(planner.get(f"/houses/new/?sequence={version.pk}"))


def test_a_draft_is_begun_from_the_library(planner: Client, office: Office) -> None:
    given = {"builder": office.builder.slug, "shipped": "bare_minimum"}
    answer = planner.post("/sequences/drafts/import/", given, follow=True)
    assert "Bare minimum, to start your own from" in text_of(answer)
    assert SequenceDraft.objects.get().key == "bare-minimum"


@pytest.mark.parametrize("entry", ["", "../sequences/bare_minimum", "nothing"])
def test_a_name_that_the_library_does_not_have_is_refused(
    planner: Client, office: Office, entry: str
) -> None:
    before = SequenceVersion.objects.count()
    given = {"builder": office.builder.slug, "shipped": entry}
    for address in ("/sequences/publish/", "/sequences/drafts/import/"):
        answer = planner.post(address, given)
        assert answer.status_code == 422
        assert "The library has no sequence of that name." in text_of(answer)
    assert (SequenceVersion.objects.count(), SequenceDraft.objects.count()) == (before, 0)

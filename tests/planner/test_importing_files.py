"""Several files of a sequence sent at once: what one includes is found, or refused by its name."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from coordination.sequence.models import SequenceDraft, SequenceVersion
from coordination.sequence.publishing import publish_sequence
from coordination.sequence.standard import flatten
from tests.planner.conftest import text_of
from tests.sequence.brick_veneer import Office
from tests.sequence.test_drafting import MINIMUM
from tests.sequence.test_standard_shipped import FOLDER

pytestmark = pytest.mark.django_db

BASE = MINIMUM.replace('key = "bare-minimum"', 'key = "base-frame"', 1)
OWN = """# Ours.
key = "our-own"
number = 1
name = "Our own"

[include]
entry = "base_frame"
"""


def send(planner: Client, office: Office, files: dict[str, str], act: str = "drafts/import") -> Any:
    sent = [SimpleUploadedFile(name, text.encode()) for name, text in files.items()]
    return planner.post(f"/sequences/{act}/", {"builder": office.builder.slug, "file": sent})


def test_files_sent_together_become_one_text_that_stands_alone(
    planner: Client, office: Office, tmp_path: Any
) -> None:
    files = {"our_own.toml": OWN, "base_frame.toml": BASE}
    assert send(planner, office, files).status_code == 302
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    draft = SequenceDraft.objects.get()
    assert draft.text == flatten(tmp_path / "our_own.toml")
    assert draft.key == "our-own"


def test_what_is_not_sent_is_taken_from_the_builders_own_sequences(planner: Client, office: Office) -> None:
    assert send(planner, office, {"our_own.toml": OWN}).status_code == 422
    publish_sequence(office.builder, BASE)
    assert send(planner, office, {"our_own.toml": OWN}).status_code == 302
    assert "It includes 'base_frame'" in SequenceDraft.objects.get().text


def test_what_is_nowhere_else_is_taken_from_the_shipped_library(planner: Client, office: Office) -> None:
    SequenceVersion.objects.filter(builder=office.builder, houses__isnull=True).delete()
    path = FOLDER / "steel_frame.toml"
    assert send(planner, office, {path.name: path.read_text(encoding="utf-8")}).status_code == 302
    assert SequenceDraft.objects.get().text == flatten(path)


def test_the_text_of_a_published_include_is_exported_and_imported_as_it_is(
    planner: Client, office: Office
) -> None:
    answer = send(planner, office, {"our_own.toml": OWN, "base_frame.toml": BASE}, act="publish")
    version = SequenceVersion.objects.get(key="our-own")
    assert answer["Location"] == f"/sequences/{version.pk}/"
    exported = planner.get(f"/sequences/{version.pk}/export/").content.decode()
    assert exported == version.text
    assert send(planner, office, {"back.toml": exported}).status_code == 302
    draft = SequenceDraft.objects.get()
    assert draft.text == version.text
    assert planner.get(f"/sequences/drafts/{draft.pk}/export/").content.decode() == exported


@pytest.mark.parametrize(
    ("files", "words"),
    [
        ({"our_own.toml": OWN}, "our_own.toml: It includes 'base_frame.toml', which came with no file"),
        ({"a.toml": MINIMUM, "b.toml": BASE}, "a.toml, b.toml: None of these includes another"),
        (
            {"our_own.toml": OWN, "base_frame.toml": OWN.replace("base_frame", "our_own")},
            "include each other in a circle",
        ),
        (
            {"our_own.toml": OWN, "base_frame.toml": OWN.replace("base_frame", "deeper")},
            "It includes 'deeper.toml'",
        ),
        ({"our_own.toml": OWN, "base_frame.toml": "key = ["}, "base_frame.toml"),
        ({"our_own.toml": OWN.replace("base_frame", "../settings")}, "'entry' is '../settings'"),
        ({}, "No file came along"),
    ],
)
def test_what_does_not_fit_together_is_refused_by_name_and_nothing_is_saved(
    planner: Client, office: Office, files: dict[str, str], words: str
) -> None:
    before = SequenceVersion.objects.count()
    for act in ("drafts/import", "publish"):
        answer = send(planner, office, files, act)
        assert answer.status_code == 422
        assert words in text_of(answer)
    assert not SequenceDraft.objects.exists()
    assert SequenceVersion.objects.count() == before


def test_another_builders_sequence_is_no_base(planner: Client, stranger: Client, office: Office) -> None:
    other = type(office.builder).objects.exclude(pk=office.builder.pk).get()
    publish_sequence(other, BASE)
    assert send(planner, office, {"our_own.toml": OWN}).status_code == 422

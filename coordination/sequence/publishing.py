"""Publishing a standard sequence: its text is linted, numbered and kept; a version is never edited."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path

from django.db import transaction
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Builder, Trade
from coordination.people.refusals import BadInput
from coordination.sequence.models import SequenceVersion
from coordination.sequence.standard import (
    Finding,
    SequenceError,
    StandardSequence,
    flatten,
    lint_entry,
    read_sequence,
)

LONGEST_LIST = 5
"""Refusals that are told at once; the first ones usually cause the others."""


def as_bad_input(error: SequenceError) -> BadInput:
    """A refusal of the library as the rest of the tool knows refusals."""
    return BadInput(f"{error.file}, {error.entry}", f"{error.message}; {error.remedy}")


def refuse_findings(findings: list[Finding]) -> None:
    """Raise `BadInput` for those findings that forbid using a sequence; warnings pass."""
    refused = [finding for finding in findings if finding.level == "refused"]
    if not refused:
        return
    first = refused[0]
    words = "; ".join(f"{one.entry}: {one.message} ({one.remedy})" for one in refused[:LONGEST_LIST])
    if len(refused) > LONGEST_LIST:
        words = _("%(words)s; and %(count)s more") % {"words": words, "count": len(refused) - LONGEST_LIST}
    raise BadInput(first.file, words)


def read_version(version: SequenceVersion) -> StandardSequence:
    """The entry that a published version holds.

    Raises:
        BadInput: the stored text can no longer be read (an older format).
    """
    try:
        return _read_text(version.text, f"{version.key} {version.number}")
    except SequenceError as error:
        raise as_bad_input(error) from error


@lru_cache(maxsize=32)
def _read_text(text: str, file: str) -> StandardSequence:
    """Reading an entry takes a while; a published text never changes and the entry is frozen."""
    return read_sequence(text, file)


@lru_cache(maxsize=32)
def _stage_names(sha256: str, text: str) -> tuple[tuple[str, str], ...]:
    """Reading an entry takes a while and its text never changes."""
    return tuple((stage.key, stage.name) for stage in read_sequence(text, sha256[:12]).stages)


def stage_names(version: SequenceVersion) -> dict[str, str]:
    """Stage key → name, in the order of the sequence; nothing for a version without a text."""
    return dict(_stage_names(version.sha256, version.text)) if version.text else {}


def publish_file(builder: Builder, path: Path) -> SequenceVersion:
    """Publish the entry in a file for a builder; what it includes becomes part of the version's text.

    Raises:
        BadInput: the file, or one that it includes, cannot be read or is no standard sequence, or the lints
            refuse it; nothing is saved.
    """
    try:
        text = flatten(path)
    except SequenceError as error:
        raise as_bad_input(error) from error
    return publish_sequence(builder, text, file=path.name)


@transaction.atomic
def publish_sequence(builder: Builder, text: str, *, file: str = "text") -> SequenceVersion:
    """Publish a standard sequence for a builder and return its version.

    Numbers rise by one per key; a text that is the latest version already is that version. Trades that the
    sequence names and nobody has used yet are added.

    Args:
        file: names the text in refusals.

    Raises:
        BadInput: the text is no standard sequence, or the lints refuse it; nothing is saved.
    """
    try:
        entry = read_sequence(text, file)
    except SequenceError as error:
        raise as_bad_input(error) from error
    refuse_findings(lint_entry(entry))
    # Two people who publish at once take turns here, so that no number is given twice.
    Builder.objects.select_for_update().get(pk=builder.pk)
    sha256 = hashlib.sha256(text.encode()).hexdigest()
    latest = builder.sequence_versions.filter(key=entry.key).order_by("-number").first()
    if latest is not None and latest.sha256 == sha256:
        return latest
    add_trades(entry)
    return SequenceVersion.objects.create(
        builder=builder,
        key=entry.key,
        number=latest.number + 1 if latest else 1,
        name=entry.name[:160],
        text=text,
        sha256=sha256,
        published_at=clock.now(),
    )


def add_trades(entry: StandardSequence) -> dict[str, Trade]:
    """The trades of an entry by key; missing ones are added, known ones keep their name."""
    Trade.objects.bulk_create(
        [Trade(key=one.key, name=one.name[:80]) for one in entry.trades], ignore_conflicts=True
    )
    keys = [one.key for one in entry.trades]
    return {trade.key: trade for trade in Trade.objects.filter(key__in=keys)}

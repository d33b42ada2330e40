"""Drafts of sequences: begun from a version or a text, edited row by row or as text, judged, published.

What cannot be read is refused and nothing is saved. What can be read but is unsound (an activity that
nothing follows yet) is kept, so that an edit may take several steps; it is listed and cannot be published.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from coordination import clock
from coordination.people.models import Builder, Person
from coordination.people.refusals import BadInput, WrongState, name_first
from coordination.sequence.library.feature_users import find_users
from coordination.sequence.library.including import KINDS
from coordination.sequence.library.options import key_of
from coordination.sequence.library.reading import opening_comment, read_document
from coordination.sequence.library.writing import write_document
from coordination.sequence.models import SequenceDraft, SequenceVersion
from coordination.sequence.publishing import as_bad_input, publish_sequence, refuse_findings
from coordination.sequence.standard import (
    Finding,
    SequenceError,
    StandardSequence,
    find_impossible_numbers,
    lint_entry,
    read_sequence,
)

MOST_USERS = 12
"""So many rows that still ask for a feature are named; the rest is counted."""

HEAD = ("key", "number", "name", "description")
"""What a sequence says of itself, before its rows."""


def read_draft(draft: SequenceDraft) -> StandardSequence:
    """The entry that a draft's text holds."""
    return _read_checked(draft.text, draft.key)


def read_tables(draft: SequenceDraft) -> dict[str, Any]:
    """The draft's tables, a fresh copy."""
    return read_document(draft.text, draft.key)


def find_faults(draft: SequenceDraft) -> list[Finding]:
    """What the lints say of a draft, refusals first; those forbid publishing it."""
    return list(_lint(draft.text, draft.key))


@lru_cache(maxsize=16)
def _lint(text: str, key: str) -> tuple[Finding, ...]:
    """A sequence with its options takes about a second to judge, and a page asks for it again and again."""
    return tuple(lint_entry(read_sequence(text, key)))


def _read_checked(text: str, file: str) -> StandardSequence:
    try:
        return read_sequence(text, file)
    except SequenceError as error:
        raise as_bad_input(error) from error


def _refuse_impossible(entry: StandardSequence, former: Sequence[Finding] = ()) -> None:
    """Refuse a limit that nothing can meet or that has no source; what stood there before is only listed."""
    refuse_findings([one for one in find_impossible_numbers(entry) if one not in former])


def begin_draft(version: SequenceVersion, by: Person) -> SequenceDraft:
    """A draft of the next version of a published sequence; the one that is there already, if there is one."""
    there = SequenceDraft.objects.filter(builder=version.builder_id, key=version.key).first()
    return there or _create(version.builder, version.text, version, by)


@transaction.atomic
def copy_text(
    builder: Builder, text: str, key: str, name: str, by: Person, file: str = "text"
) -> SequenceDraft:
    """A draft from a text under a key and a name of its own: a sequence beside the one that it came from.

    Raises:
        BadInput: the key is none, or another sequence of the builder has it; nothing is saved.
        WrongState: there is a draft of that key already.
    """
    if builder.sequence_versions.filter(key=key).exists():
        words = _("You have a sequence '%(key)s' already. Choose another short name for the copy.")
        raise BadInput(_("short name"), words % {"key": key})
    tables = read_document(text, file) | {"key": key, "number": 1}
    return import_text(builder, write_tables(tables | ({"name": name} if name else {}), text), by, file)


@transaction.atomic
def import_text(builder: Builder, text: str, by: Person, file: str = "text") -> SequenceDraft:
    """A draft from a text that stands alone, as `export` gives it.

    Raises:
        BadInput: it is no sequence; nothing is saved.
        WrongState: there is a draft of that key already.
    """
    entry = _read_checked(text, file)
    _refuse_impossible(entry)
    if SequenceDraft.objects.filter(builder=builder, key=entry.key).exists():
        raise WrongState(
            _("There is a draft of '%(key)s' already. Publish or discard it first.") % {"key": entry.key}
        )
    latest = builder.sequence_versions.filter(key=entry.key).order_by("-number").first()
    return _create(builder, text, latest, by)


def _create(
    builder: Builder, text: str, based_on: SequenceVersion | None, by: Person | None
) -> SequenceDraft:
    entry = _read_checked(text, str(based_on) if based_on else "text")
    return SequenceDraft.objects.create(
        builder=builder,
        key=entry.key,
        name=entry.name[:160],
        text=text,
        based_on=based_on,
        saved_at=clock.now(),
        by=by,
    )


def save_text(draft: SequenceDraft, text: str, by: Person, revision: int) -> SequenceDraft:
    """Save the whole text of a draft.

    Args:
        revision: that of the draft when the person opened it.

    Raises:
        BadInput: it cannot be read, or has another key; nothing is saved.
        WrongState: somebody else has saved in the meantime.
    """
    text = text.replace("\r\n", "\n")
    entry = _read_checked(text, draft.key)
    _refuse_impossible(entry, find_impossible_numbers(read_draft(draft)))
    if entry.key != draft.key:
        raise BadInput(
            "key",
            _("The key names a sequence for good: keep '%(key)s', or import the text as another sequence.")
            % {"key": draft.key},
        )
    saved = SequenceDraft.objects.filter(pk=draft.pk, revision=revision).update(
        text=text, name=entry.name[:160], revision=revision + 1, saved_at=clock.now(), by=by
    )
    if not saved:
        raise WrongState(_("Somebody else has saved this draft since you opened it. Open it again."))
    draft.refresh_from_db()
    return draft


def put_row(
    draft: SequenceDraft,
    kind: str,
    number: int,
    table: Mapping[str, Any],
    by: Person,
    revision: int,
    behind: str | None = None,
) -> SequenceDraft:
    """Save one row: the `number`th of its kind, or with 0 a new one.

    Args:
        behind: the key of the row to stand behind; empty is the beginning. None: a row stays, a new one
            goes to the end.

    Errors as `save_text`.
    """
    tables = read_tables(draft)
    if number:
        rows = tables.get(_known(kind), [])
        there = rows[_place(rows, kind, number)]
        if key_of(kind, table) != key_of(kind, there):
            _refuse_used(draft, tables, kind, there, revision)
    return _save_tables(draft, with_row(tables, kind, number, table, behind), by, revision)


def with_row(
    tables: Mapping[str, Any], kind: str, number: int, table: Mapping[str, Any], behind: str | None = None
) -> dict[str, Any]:
    """The tables with one row put in as `put_row` does; they themselves stay as they are."""
    rows: list[dict[str, Any]] = list(tables.get(_known(kind), []))
    place = len(rows)
    if number:
        place = _place(rows, kind, number)
        del rows[place]
    if behind is not None:
        keys = [key_of(kind, one) for one in rows]
        if behind and behind not in keys:
            raise WrongState(_("The row to stand behind is not there any more. Open the draft again."))
        place = keys.index(behind) + 1 if behind else 0
    rows.insert(place, dict(table))
    return {**tables, kind: rows}


def move_row(
    draft: SequenceDraft, kind: str, number: int, place: int, by: Person, revision: int
) -> SequenceDraft:
    """Let the `number`th row of a kind stand as its `place`th; the others keep their order.

    Errors as `save_text`, and WrongState where there is no such row or place.
    """
    tables = read_tables(draft)
    rows: list[dict[str, Any]] = tables.get(_known(kind), [])
    there = _place(rows, kind, place)
    rows.insert(there, rows.pop(_place(rows, kind, number)))
    return _save_tables(draft, tables, by, revision)


def remove_row(draft: SequenceDraft, kind: str, number: int, by: Person, revision: int) -> SequenceDraft:
    """Take one row out; what still names it is listed among the faults, save that a feature in use stays.

    Errors as `save_text`, and BadInput for a feature that other rows still ask for, naming them.
    """
    tables = read_tables(draft)
    rows = tables.get(_known(kind), [])
    place = _place(rows, kind, number)
    _refuse_used(draft, tables, kind, rows[place], revision)
    del rows[place]
    if not rows:
        del tables[kind]
    return _save_tables(draft, tables, by, revision)


def _refuse_used(
    draft: SequenceDraft, tables: Mapping[str, Any], kind: str, row: Mapping[str, Any], revision: int
) -> None:
    """Refuse to take away, or to call otherwise, a feature that rows ask for: without it nothing resolves."""
    if kind != "feature" or draft.revision != revision:
        return  # a draft that somebody else has saved since is refused when it is saved
    key = key_of(kind, row)
    users = find_users(tables, key, draft.key)
    if users:
        words = _("It is still asked for by: %(rows)s. Take it out of these rows first.")
        raise BadInput(f"feature '{key}'", words % {"rows": name_first(users, MOST_USERS)})


OPTION_LISTS = ("added", "changed", "removed")


def put_option_row(
    draft: SequenceDraft,
    option: int,
    change: str,
    kind: str,
    number: int,
    table: Mapping[str, Any] | None,
    by: Person,
    revision: int,
) -> SequenceDraft:
    """Save one row that an option adds or changes: the `number`th, or with 0 a new one; None takes it out.

    Errors as `save_text`.
    """
    tables = read_tables(draft)
    options: list[dict[str, Any]] = tables.get("option", [])
    own = options[_place(options, "option", option)]
    if change not in OPTION_LISTS[:2]:
        raise BadInput(change, _("An option adds, changes or removes rows. Choose one of these."))
    rows: list[dict[str, Any]] = own.setdefault(change, {}).setdefault(_known(kind), [])
    if number == 0 and table is not None:
        rows.append(dict(table))
    elif table is not None:
        rows[_place(rows, kind, number)] = dict(table)
    else:
        del rows[_place(rows, kind, number)]
    _drop_empty(own, change)
    return _save_tables(draft, tables, by, revision)


def put_option_removals(
    draft: SequenceDraft, option: int, removed: Mapping[str, list[str]], by: Person, revision: int
) -> SequenceDraft:
    """Save which rows an option takes out, by kind. Errors as `save_text`."""
    tables = read_tables(draft)
    options: list[dict[str, Any]] = tables.get("option", [])
    own = options[_place(options, "option", option)]
    own["removed"] = {_known(kind): list(keys) for kind, keys in removed.items()}
    _drop_empty(own, "removed")
    return _save_tables(draft, tables, by, revision)


def _drop_empty(option: dict[str, Any], change: str) -> None:
    option[change] = {kind: rows for kind, rows in option[change].items() if rows}
    if not option[change]:
        del option[change]


def put_head(
    draft: SequenceDraft, name: str, description: str, visits: Mapping[str, str], by: Person, revision: int
) -> SequenceDraft:
    """Save name, description and the names of the visits. Errors as `save_text`."""
    tables = read_tables(draft)
    tables |= {"name": name, "description": description, "visits": dict(visits)}
    return _save_tables(draft, tables, by, revision)


def _known(kind: str) -> str:
    if kind not in KINDS:
        raise BadInput(kind, _("A sequence has no such rows. Choose one of its kinds."))
    return kind


def _place(rows: list[dict[str, Any]], kind: str, number: int) -> int:
    if not 1 <= number <= len(rows):
        raise WrongState(_("That row is not there any more. Open the draft again."))
    return number - 1


def _save_tables(draft: SequenceDraft, tables: dict[str, Any], by: Person, revision: int) -> SequenceDraft:
    return save_text(draft, write_tables(tables, draft.text), by, revision)


def write_tables(tables: Mapping[str, Any], former: str = "") -> str:
    """The text of tables, the same for the same tables, under the opening comment of the former text."""
    ordered = {key: tables[key] for key in HEAD if key in tables}
    return write_document({**ordered, **tables}, opening_comment(former))


@transaction.atomic
def publish_draft(draft: SequenceDraft, by: Person, revision: int) -> SequenceVersion:
    """Publish a draft as the next version of its key; the draft is gone then.

    Raises:
        BadInput: the lints refuse it.
        WrongState: somebody has saved since, or it says what the latest version says.
    """
    locked = SequenceDraft.objects.select_for_update().get(pk=draft.pk)
    if locked.revision != revision:
        raise WrongState(_("Somebody else has saved this draft since you opened it. Look at it again."))
    latest = locked.builder.sequence_versions.filter(key=locked.key).order_by("-number").first()
    if latest is not None and latest.text == locked.text:
        raise WrongState(_("The draft says what version %(number)s says.") % {"number": latest.number})
    version = publish_sequence(locked.builder, locked.text, file=locked.key)
    locked.delete()
    return version


def discard_draft(draft: SequenceDraft, revision: int) -> None:
    """Throw a draft away; what is published stays.

    Raises:
        WrongState: somebody has saved since.
    """
    gone, _rows = SequenceDraft.objects.filter(pk=draft.pk, revision=revision).delete()
    if not gone:
        raise WrongState(_("Somebody else has saved this draft since you opened it. Look at it again."))

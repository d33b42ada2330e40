"""The guard: triggers that keep rule 1 and the record in the database, whoever writes there.

Each app that has a guard keeps one SQL file per database in its `sql` folder and registers it in `ready()`.
`migrate` installs what is missing or different and compares again; the system check `guard.E001` names each
piece that is missing, altered or not ours, and `manage.py up` refuses to start on it. Without this a table
that Django remakes on SQLite would lose its triggers without a word.

A file is a list of pieces. Each begins with a line ``-- guard: KIND NAME [on TABLE]`` and holds one
statement.
``{schema}`` stands for the schema of the tables on PostgreSQL.

What the guard cannot do: whoever owns the tables (on SQLite: may write the file's schema) can drop it. That
is found by the check, not prevented. On PostgreSQL let the program run under a role that owns no table. On
SQLite a connection's own TEMP triggers fire on our tables too, and one with RAISE(IGNORE) ends a statement
before ours have spoken. They live and die with that connection, so no check finds them: only what they left
behind, in the nightly recount. Whoever may run such SQL there may write the file.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from django.apps import AppConfig
from django.core import checks
from django.db import IntegrityError, connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.utils.translation import gettext as _

from coordination.people.refusals import WrongState

HEAD = re.compile(r"^-- guard: (?P<kind>function|view|trigger) (?P<name>\w+)(?: on (?P<table>\w+))?$", re.M)
TAG = "guard refuses: "
"""Every refusal of a trigger starts with this, so that it is told from other integrity errors."""

_folders: dict[str, Path] = {}
_repairing = False


@dataclass(frozen=True)
class Piece:
    """One function, view or trigger of the guard."""

    kind: str
    name: str
    table: str
    """Table that a trigger hangs on; empty for functions and views."""
    sql: str

    def __str__(self) -> str:
        return f"{self.kind} {self.name}" + (f" on {self.table}" if self.table else "")


def register(app_label: str, folder: Path) -> None:
    """Name the folder with an app's `sqlite.sql` and `postgresql.sql`. Functions of earlier apps may be used.

    Raises:
        FileNotFoundError: when one of the two files is not there.
    """
    for vendor in ("sqlite", "postgresql"):
        if not (folder / f"{vendor}.sql").is_file():
            raise FileNotFoundError(f"{app_label} has no guard for {vendor}: {folder / f'{vendor}.sql'}")
    _folders[app_label] = folder
    read_pieces.cache_clear()


def parse_pieces(text: str) -> tuple[Piece, ...]:
    """The pieces of a guard file, in its order; comments before the first piece are for the reader.

    Raises:
        ValueError: when the file holds no piece, or two of the same name.
    """
    heads = list(HEAD.finditer(text))
    ends = [head.start() for head in heads[1:]] + ([len(text)] if heads else [])
    pieces = tuple(
        Piece(head["kind"], head["name"], head["table"] or "", _strip_comments(text[head.end() : end]))
        for head, end in zip(heads, ends, strict=True)
    )
    names = [piece.name for piece in pieces]
    if not pieces or len(set(names)) != len(names):
        raise ValueError("A guard file needs pieces of different names, each under a '-- guard:' line.")
    return pieces


def _strip_comments(text: str) -> str:
    """The statement without comments and final semicolon: SQLite keeps the text as it was given."""
    lines = [line for line in text.splitlines() if not line.lstrip().startswith("--")]
    return "\n".join(lines).strip().rstrip(";").rstrip()


@cache
def read_pieces(vendor: str) -> tuple[Piece, ...]:
    """All registered pieces for a database vendor, in the order of registration."""
    return tuple(
        piece
        for folder in _folders.values()
        for piece in parse_pieces((folder / f"{vendor}.sql").read_text(encoding="utf-8"))
    )


def _schema(connection: BaseDatabaseWrapper) -> str:
    if connection.vendor != "postgresql":
        return "main"
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_schema()")
        return str(cursor.fetchone()[0])


def _expected(connection: BaseDatabaseWrapper) -> list[Piece]:
    """The pieces that this database should have: those whose table is there."""
    tables = set(connection.introspection.table_names())
    if not tables & {piece.table for piece in read_pieces(connection.vendor)}:
        return []
    schema = _schema(connection)
    return [
        Piece(piece.kind, piece.name, piece.table, piece.sql.replace("{schema}", schema))
        for piece in read_pieces(connection.vendor)
        if not piece.table or piece.table in tables or piece.table in _views(connection.vendor)
    ]


def _views(vendor: str) -> set[str]:
    return {piece.name for piece in read_pieces(vendor) if piece.kind == "view"}


def _squeeze(text: str) -> str:
    return re.sub(r"\s+", " ", text).strip()


def _found_sqlite(connection: BaseDatabaseWrapper) -> dict[str, str]:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT name, sql FROM sqlite_master WHERE type IN ('trigger', 'view')"
            " AND substr(name, 1, 6) = 'guard_'"
        )
        return {name: _squeeze(sql) for name, sql in cursor.fetchall()}


def _found_postgresql(connection: BaseDatabaseWrapper) -> dict[str, str]:
    """Name to a comparable form: a function's body, settings and rights; a trigger's text and switch."""
    schema = _schema(connection)
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT proname, prosrc, coalesce(array_to_string(proconfig, ';'), ''), provolatile::text,"
            " prosecdef FROM pg_proc"
            " WHERE pronamespace = %s::regnamespace AND starts_with(proname, 'guard_')",
            [schema],
        )
        found = {row[0]: _squeeze(" | ".join(map(str, row[1:]))) for row in cursor.fetchall()}
        cursor.execute(
            "SELECT tgname, pg_get_triggerdef(t.oid), tgenabled::text FROM pg_trigger t"
            " JOIN pg_class c ON c.oid = t.tgrelid WHERE NOT tgisinternal AND starts_with(tgname, 'guard_')"
            " AND c.relnamespace = %s::regnamespace",
            [schema],
        )
        for name, definition, enabled in cursor.fetchall():
            plain = definition.replace(f" {schema}.", " ").replace(f' "{schema}".', " ")
            found[name] = _squeeze(f"{plain} | {enabled}")
    return found


def _wanted_form(piece: Piece, connection: BaseDatabaseWrapper) -> str:
    """The form in which `_found_...` reports the piece when it is as the file says."""
    if connection.vendor == "sqlite":
        return _squeeze(piece.sql)
    if piece.kind == "function":
        body = piece.sql.split("$guard$")[1]
        return _squeeze(f"{body} | search_path={_schema(connection)}, pg_temp | v | False")
    return _squeeze(f"{piece.sql} | A")  # A: fires always, also for a session that plays a replica


_FOUND: dict[str, Callable[[BaseDatabaseWrapper], dict[str, str]]] = {
    "sqlite": _found_sqlite,
    "postgresql": _found_postgresql,
}


def _compare(connection: BaseDatabaseWrapper) -> tuple[list[Piece], list[Piece], list[str]]:
    """Missing pieces, altered pieces, and names that are no piece of any file."""
    expected = _expected(connection)
    if not expected:
        return [], [], []
    found = _FOUND[connection.vendor](connection)
    missing = [piece for piece in expected if piece.name not in found]
    altered = [
        piece
        for piece in expected
        if piece.name in found and found[piece.name] != _wanted_form(piece, connection)
    ]
    foreign = sorted(set(found) - {piece.name for piece in expected})
    return missing, altered, foreign


def missing_triggers(connection: BaseDatabaseWrapper) -> list[str]:
    """What is missing, altered or not ours in this database, one line each; empty when the guard stands.

    A database without our tables (before the first `migrate`) has nothing to guard and misses nothing.
    """
    missing, altered, foreign = _compare(connection)
    return (
        [f"{piece} is missing" for piece in missing]
        + [f"{piece} is not as its file says" for piece in altered]
        + [f"{name} is in no guard file" for name in foreign]
    )


def install(connection: BaseDatabaseWrapper) -> list[str]:
    """Put in place what is missing or different, drop what is in no file; returns what it did, in words.

    Raises:
        RuntimeError: when a piece still differs afterwards.
    """
    did = missing_triggers(connection)
    if not did:
        return []
    missing, altered, foreign = _compare(connection)
    replaced = {piece.name for piece in altered} | set(foreign)
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        _drop(connection, cursor, replaced)
        for piece in _expected(connection):
            if piece in missing or piece in altered:
                # psycopg takes a bare percent sign for a placeholder only when there are parameters.
                cursor.execute(piece.sql)
                if connection.vendor == "postgresql" and piece.kind == "trigger":
                    cursor.execute(f'ALTER TABLE "{piece.table}" ENABLE ALWAYS TRIGGER "{piece.name}"')
    if left := missing_triggers(connection):
        raise RuntimeError("The guard could not be installed: " + "; ".join(left))
    return did


def uninstall(connection: BaseDatabaseWrapper) -> None:
    """Take the whole guard down: before tables are altered on SQLite, and before a test empties its tables.

    Nothing in the program calls this with the rights of a served installation: its role owns no table.
    """
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        _drop(connection, cursor, set(_FOUND[connection.vendor](connection)))


def _drop(connection: BaseDatabaseWrapper, cursor: Any, names: set[str]) -> None:
    """Drop triggers, then views. Functions stay: they are replaced in place, and other triggers use them."""
    if not names:
        return
    if connection.vendor == "sqlite":
        cursor.execute("SELECT type, name FROM sqlite_master WHERE type IN ('trigger', 'view') ORDER BY type")
        for kind, name in cursor.fetchall():
            if name in names:
                cursor.execute(f'DROP {kind} IF EXISTS "{name}"')
        return
    cursor.execute(
        "SELECT tgname, c.relname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid"
        " WHERE NOT tgisinternal AND tgname = ANY(%s)",
        [list(names)],
    )
    for name, table in cursor.fetchall():
        cursor.execute(f'DROP TRIGGER "{name}" ON "{table}"')
    known = {piece.name for piece in read_pieces("postgresql")}
    cursor.execute(
        "SELECT oid::regprocedure::text, proname FROM pg_proc WHERE proname = ANY(%s)", [list(names)]
    )
    for signature, name in cursor.fetchall():
        if name not in known:
            cursor.execute(f"DROP FUNCTION {signature}")


# ---------------------------------------------------------------- when it runs


def take_down_before_tables_change(using: str, plan: list[object], **kwargs: object) -> None:
    """`pre_migrate`: on SQLite a table cannot be remade while triggers of other tables name it.

    When the migration fails afterwards, the guard stays down and the check says so.
    """
    connection = connections[using]
    if plan and connection.vendor == "sqlite":
        uninstall(connection)


def install_after_migrate(using: str, verbosity: int = 1, stdout: Any = None, **kwargs: object) -> None:
    """`post_migrate`: install and say what was done."""
    done = install(connections[using])
    if done and verbosity >= 2 and stdout is not None:
        stdout.write("Guard installed: " + "; ".join(done) + "\n")


@contextmanager
def repairing() -> Iterator[None]:
    """While `migrate` runs its checks, a missing guard is no error: this command is its remedy."""
    global _repairing
    before, _repairing = _repairing, True
    try:
        yield
    finally:
        _repairing = before


@checks.register(checks.Tags.database)
def check_guard(
    app_configs: Sequence[AppConfig] | None = None, databases: Sequence[str] | None = None, **kwargs: object
) -> list[checks.CheckMessage]:
    """guard.E001 for each missing or altered piece; guard.I001 when the role could drop the guard."""
    messages: list[checks.CheckMessage] = []
    if _repairing:
        return messages
    for alias in databases or ():
        connection = connections[alias]
        messages += [
            checks.Error(
                f"The guard of database '{alias}' is broken: {what}.",
                hint="Run `manage.py migrate`, then find out who changed the schema.",
                id="guard.E001",
            )
            for what in missing_triggers(connection)
        ]
        if connection.vendor == "postgresql" and _may_drop(connection):
            messages.append(
                checks.Info(
                    f"The role of database '{alias}' owns the tables, so it could drop the guard.",
                    hint="Migrate as the owner and serve as a role that owns no table and may not TRUNCATE.",
                    id="guard.I001",
                )
            )
    return messages


def _may_drop(connection: BaseDatabaseWrapper) -> bool:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT coalesce(bool_or(pg_has_role(current_user, relowner, 'MEMBER')), false) FROM pg_class"
            " WHERE relname = 'sequence_hold' AND relkind = 'r'"
        )
        return bool(cursor.fetchone()[0])


@contextmanager
def speaking() -> Iterator[None]:
    """One transaction, or a savepoint inside one; what a trigger refuses in it becomes `WrongState`.

    The services look first and refuse in words of their own; this is for what changed after they looked.
    """
    try:
        with transaction.atomic():
            yield
    except IntegrityError as error:
        words = read_refusal(error)
        if words is None:
            raise
        raise WrongState(_say_refusal(words)) from error


def _say_refusal(words: str) -> str:
    if "behind an open hold" in words:
        return _("A hold point before this visit is open, so the booking cannot be firm. Release it first.")
    if "lifted only by a release" in words:
        return _("A hold is lifted only by a release of its point that stands in the record.")
    if "set aside only" in words:
        return _("A hold is set aside only when its house is brought in half built. It stays open.")
    if "written anew" in words:
        return _("This changes only when the house is moved to another version or feature: change the house.")
    if "not set aside" in words:
        return _("What covers behind this hold is not finished, so the hold stays open.")
    return _("The database refused this: %(words)s.") % {"words": words}


def read_refusal(error: BaseException) -> str | None:
    """The words of a trigger's refusal, or None when the database refused for another reason."""
    text = str(error)
    if TAG not in text:
        return None
    return text.split(TAG, 1)[1].splitlines()[0].strip()

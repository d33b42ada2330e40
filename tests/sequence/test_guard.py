"""The guard is installed, compared, and missed when it is gone: on whichever database this run uses."""

from contextlib import contextmanager

import pytest
from django.core import checks
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from django.db import OperationalError, connection, models

from coordination.sequence import guard
from coordination.sequence.models import (
    Activity,
    Booking,
    Change,
    Covering,
    Hold,
    HoldBefore,
    Relationship,
    ToldDate,
    Visit,
)
from hold_points.models import Concession, Outcome, RecordEntry, Release, Reopening

GUARDED = (
    Booking,
    Hold,
    HoldBefore,
    Activity,
    Covering,
    Relationship,
    Visit,
    ToldDate,
    Change,
    Release,
    Outcome,
    RecordEntry,
    Concession,
    Reopening,
)


def broken():
    return [message for message in guard.check_guard(databases=["default"]) if message.id == "guard.E001"]


def drop_one(name, table):
    with connection.cursor() as cursor:
        on = f" ON {table}" if connection.vendor == "postgresql" else ""
        cursor.execute(f"DROP TRIGGER {name}{on}")


@pytest.mark.django_db
def test_the_guard_stands_after_migrate():
    assert guard.missing_triggers(connection) == []
    assert broken() == []


@pytest.mark.django_db
def test_every_guarded_table_has_a_trigger_of_ours():
    tables = {piece.table for piece in guard.read_pieces(connection.vendor)}
    for model in GUARDED:
        assert model._meta.db_table in tables


@pytest.mark.django_db
def test_a_dropped_trigger_is_named_by_the_check_and_mended_by_install():
    name = "guard_booking" if connection.vendor == "postgresql" else "guard_booking_update"
    drop_one(name, "sequence_booking")
    [message] = broken()
    assert f"trigger {name} on sequence_booking is missing" in message.msg
    assert guard.install(connection) == [f"trigger {name} on sequence_booking is missing"]
    assert broken() == []


@pytest.mark.django_db
def test_an_altered_piece_is_named_by_the_check_and_mended_by_install():
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "CREATE OR REPLACE FUNCTION guard_judge(VARIADIC houses bigint[]) RETURNS void"
                " LANGUAGE plpgsql SET search_path TO public, pg_temp AS $$BEGIN RETURN; END$$"
            )
            expected = "function guard_judge is not as its file says"
        else:
            cursor.execute("DROP TRIGGER guard_judge_house")
            cursor.execute(
                "CREATE TRIGGER guard_judge_house INSTEAD OF INSERT ON guard_judge BEGIN SELECT 1; END"
            )
            expected = "trigger guard_judge_house on guard_judge is not as its file says"
    assert guard.missing_triggers(connection) == [expected]
    guard.install(connection)
    assert guard.missing_triggers(connection) == []


@pytest.mark.django_db
def test_a_disabled_trigger_is_found():
    if connection.vendor != "postgresql":
        # SQLite has no switch for one trigger: gone is the only way of being off.
        drop_one("guard_hold_update", "sequence_hold")
        assert [piece for piece in guard.missing_triggers(connection) if "guard_hold_update" in piece]
        return
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE sequence_hold DISABLE TRIGGER guard_hold")
    assert guard.missing_triggers(connection) == [
        "trigger guard_hold on sequence_hold is not as its file says"
    ]
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE sequence_hold ENABLE TRIGGER guard_hold")
    assert guard.missing_triggers(connection), "a trigger that a replica's session skips is not enough"


@pytest.mark.django_db
def test_a_trigger_of_an_older_release_is_found_and_dropped():
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "CREATE TRIGGER guard_old BEFORE UPDATE ON sequence_hold FOR EACH ROW"
                " EXECUTE FUNCTION guard_only_added_to()"
            )
        else:
            cursor.execute("CREATE TRIGGER guard_old BEFORE UPDATE ON sequence_hold BEGIN SELECT 1; END")
    assert guard.missing_triggers(connection) == ["guard_old is in no guard file"]
    guard.install(connection)
    assert guard.missing_triggers(connection) == []


@pytest.mark.django_db
def test_the_check_command_refuses_and_migrate_is_the_remedy(capsys):
    guard.uninstall(connection)
    with pytest.raises(SystemCheckError, match="guard"):
        call_command("check", databases=["default"])
    with guard.repairing():
        assert guard.check_guard(databases=["default"]) == []
    call_command("migrate", verbosity=0, skip_checks=False)
    assert broken() == []


@pytest.mark.django_db
def test_the_check_says_nothing_when_no_database_is_asked_for():
    guard.uninstall(connection)
    assert guard.check_guard() == []
    guard.install(connection)


@pytest.mark.django_db
def test_the_role_that_owns_the_tables_is_pointed_out(on_sqlite):
    notes = [message.id for message in guard.check_guard(databases=["default"])]
    assert notes == ([] if on_sqlite else ["guard.I001"])
    assert all(isinstance(message, checks.Info) for message in guard.check_guard(databases=["default"]))


@contextmanager
def altered(model):
    """The table with one more column, made by Django: on SQLite that is a new table under the old name."""
    added = models.IntegerField(default=0)
    added.set_attributes_from_name("added_by_a_test")
    with connection.schema_editor() as editor:
        editor.add_field(model, added)
    try:
        yield
    finally:
        guard.take_down_before_tables_change(using="default", plan=[object()])
        with connection.schema_editor() as editor:
            editor.remove_field(model, added)
        guard.install(connection)


@pytest.mark.parametrize("model", GUARDED, ids=lambda model: model._meta.db_table)
@pytest.mark.django_db(transaction=True)
def test_an_altered_table_has_its_guard_again_after_migrate(model, on_sqlite):
    """Known of Django on SQLite: altering a table makes it anew, and its triggers go without a word."""
    table = model._meta.db_table
    if not on_sqlite:
        with altered(model):
            assert guard.missing_triggers(connection) == []
        return
    guard.take_down_before_tables_change(using="default", plan=[object()])
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE TRIGGER guard_witness BEFORE DELETE ON {table} BEGIN SELECT 1; END")
    with altered(model):
        found = guard._found_sqlite(connection)
        assert "guard_witness" not in found, "Django keeps triggers now: pre_migrate may be needless"
        own = [piece for piece in guard.read_pieces("sqlite") if piece.table == table]
        assert own
        for piece in own:
            assert f"{piece} is missing" in guard.missing_triggers(connection)
        assert broken()
        guard.install_after_migrate(using="default", verbosity=0)
        assert guard.missing_triggers(connection) == []


@pytest.mark.django_db(transaction=True)
def test_a_table_cannot_be_remade_on_sqlite_while_the_guard_names_it(on_sqlite):
    """Why `pre_migrate` takes it down: the remake fails, loudly, and leaves the table and the guard alone."""
    if not on_sqlite:
        with altered(Hold):
            assert guard.missing_triggers(connection) == []
        return
    added = models.IntegerField(default=0)
    added.set_attributes_from_name("added_by_a_test")
    with pytest.raises(OperationalError, match="guard_"), connection.schema_editor() as editor:
        editor.add_field(Hold, added)
    assert guard.missing_triggers(connection) == []


def test_a_guard_file_without_pieces_or_with_a_name_twice_is_refused():
    with pytest.raises(ValueError, match="different names"):
        guard.parse_pieces("-- nothing here\n")
    twice = "-- guard: view guard_x\nCREATE VIEW guard_x AS SELECT 1;\n"
    with pytest.raises(ValueError, match="different names"):
        guard.parse_pieces(twice + twice)


def test_an_app_without_a_file_for_each_database_is_refused(tmp_path):
    (tmp_path / "sqlite.sql").write_text("")
    with pytest.raises(FileNotFoundError, match="postgresql"):
        guard.register("half", tmp_path)

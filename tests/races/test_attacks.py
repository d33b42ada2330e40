"""Plain SQL by hand, with every weakening pragma and the most powerful role: all of it is refused."""

import sqlite3

import psycopg
import pytest

from tests.races.attacks import EVERYWHERE, LIFT, ON_POSTGRESQL, ON_SQLITE
from tests.races.links import count_violations


def try_attack(link, statements, ids):
    """Run the statements in one transaction; the last must be refused, by the guard and by nothing else."""
    link.begin()
    for statement in statements[:-1]:
        link.run(statement.format(**ids))
    with pytest.raises((sqlite3.IntegrityError, psycopg.errors.CheckViolation), match="guard refuses: "):
        link.run(statements[-1].format(**ids))
    link.undo()
    assert count_violations(link) == 0


def test_the_lists_are_long_enough():
    assert len(EVERYWHERE) >= 15


@pytest.mark.parametrize("name", [*EVERYWHERE, *ON_SQLITE])
def test_sqlite_refuses_to(name, sqlite_link, sqlite_ids):
    try_attack(sqlite_link(), {**EVERYWHERE, **ON_SQLITE}[name], sqlite_ids)


def test_postgresql_refuses_all_of_the_list(postgres_link, postgres_ids):
    """In one test, for emptying the suite's database after each of them would take a minute."""
    link, passed = postgres_link(), []
    for name, statements in {**EVERYWHERE, **ON_POSTGRESQL}.items():
        try:
            try_attack(link, statements, postgres_ids)
        except (AssertionError, pytest.fail.Exception, psycopg.Error) as problem:
            link.undo()
            passed.append(f"{name}: {type(problem).__name__} {problem}")
    assert not passed, "\n".join(passed)


def test_what_is_right_passes_on_sqlite(sqlite_link, sqlite_ids):
    """The guard refuses wrong states, not work: soften, open, lift, firm again."""
    do_what_is_right(sqlite_link(), sqlite_ids)


def test_what_is_right_passes_on_postgresql(postgres_link, postgres_ids):
    do_what_is_right(postgres_link(), postgres_ids)


def do_what_is_right(link, ids):
    for statement in (
        "UPDATE sequence_booking SET state = 'pencilled' WHERE id = {a_linings}",
        "UPDATE sequence_hold SET lifted_at = NULL, lifted_by = NULL WHERE id = {a_hold}",
        LIFT + " '{spare}' WHERE id = {a_hold}",
        "UPDATE sequence_booking SET state = 'firm' WHERE id = {a_linings}",
        "UPDATE sequence_booking SET state = 'under way' WHERE id = {b_linings}",
    ):
        link.begin()
        link.run(statement.format(**ids))
        link.commit()
    assert link.run(f"SELECT state FROM sequence_booking WHERE id = {ids['a_linings']}") == [("firm",)]
    assert count_violations(link) == 0


TENANT = (
    "CREATE ROLE tenant NOLOGIN",
    "GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO tenant",
    "GRANT USAGE ON ALL SEQUENCES IN SCHEMA public TO tenant",
)
BEYOND_A_TENANT = (
    "DROP TRIGGER guard_hold ON sequence_hold",
    "ALTER TABLE sequence_hold DISABLE TRIGGER ALL",
    "ALTER TABLE sequence_booking RENAME TO bookings",
    "TRUNCATE sequence_change",
    "SET session_replication_role = replica",
    "DROP FUNCTION guard_judge CASCADE",
)


def test_a_role_that_owns_no_table_works_under_the_guard_and_cannot_touch_it(postgres_link, postgres_ids):
    """As the program should run on PostgreSQL."""
    link = postgres_link()
    for statement in TENANT:
        link.run(statement)
    try:
        link.run("SET ROLE tenant")
        for statement in BEYOND_A_TENANT:
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                link.run(statement)
        do_what_is_right(link, postgres_ids)
        for statements in EVERYWHERE.values():
            try_attack(link, statements, postgres_ids)
    finally:
        link.run("RESET ROLE")
        link.run("DROP OWNED BY tenant")
        link.run("DROP ROLE tenant")


# ---------------------------------------------------------------- each piece is needed


def passes(link, statements, ids):
    """Whether the guard lets an attack through (another refusal, of a key or a check, does not count)."""
    link.run("SAVEPOINT attack")
    try:
        for statement in statements:
            link.run(statement.format(**ids))
    except (sqlite3.Error, psycopg.Error) as error:
        return "guard refuses: " not in str(error)
    else:
        return True
    finally:
        link.run("ROLLBACK TO SAVEPOINT attack")


def find_needless(link, names, drop, attacks, ids):
    """Triggers without which every attack is still refused by the guard."""
    needless = []
    for name in names:
        link.begin()
        link.run(drop(name))
        if not any(passes(link, statements, ids) for statements in attacks.values()):
            needless.append(name)
        link.undo()
    return needless


def test_every_trigger_on_sqlite_is_missed_by_some_attack(sqlite_link, sqlite_ids):
    link = sqlite_link()
    names = [name for (name,) in link.run("SELECT name FROM sqlite_master WHERE type = 'trigger'")]
    assert len(names) > 40
    attacks = {**EVERYWHERE, **ON_SQLITE}
    needless = find_needless(link, names, lambda name: f"DROP TRIGGER {name}", attacks, sqlite_ids)
    assert not needless, ", ".join(needless)


def test_every_trigger_on_postgresql_is_missed_by_some_attack(postgres_link, postgres_ids):
    link = postgres_link()
    tables = dict(
        link.run(
            "SELECT tgname, tgrelid::regclass::text FROM pg_trigger"
            " WHERE NOT tgisinternal AND starts_with(tgname, 'guard_')"
        )
    )
    attacks = {
        name: one for name, one in {**EVERYWHERE, **ON_POSTGRESQL}.items() if "ISOLATION" not in one[0]
    }

    def drop(name):
        return f"DROP TRIGGER {name} ON {tables[name]}"

    needless = find_needless(link, tables, drop, attacks, postgres_ids)
    assert not needless, ", ".join(needless)

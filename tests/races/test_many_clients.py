"""Thirty-two blind clients at one house and an observer: 50,000 transactions on each database.

`BEFORE_THE_BOARD_RACE_TRANSACTIONS` sets another number; `python -m tests.races.long sql` runs a million and
prints what was done.
"""

import os
import sys
import time

import pytest

from tests.races.runners import race

pytestmark = [pytest.mark.race, pytest.mark.slow]

CLIENTS = 32
TRANSACTIONS = int(os.environ.get("BEFORE_THE_BOARD_RACE_TRANSACTIONS", "50000"))


def run_and_judge(opener, ids, name):
    start = time.perf_counter()
    tally = race(opener, ids, clients=CLIENTS, transactions=TRANSACTIONS, pause=0)
    took = time.perf_counter() - start
    sys.stdout.write(
        f"{name}: {tally.transactions} transactions of {CLIENTS} clients in {took:.0f} s "
        f"({sum(tally.refused.values())} refused), {tally.samples} samples, violations {tally.violations}, "
        f"waited in vain {tally.busy}, other errors {len(tally.problems)}\n"
    )
    assert tally.problems == []
    assert tally.violations == 0
    assert tally.transactions >= TRANSACTIONS
    assert tally.saw_everything


def test_many_clients_never_break_the_rule_on_postgresql(postgres_link, postgres_ids):
    run_and_judge(postgres_link, postgres_ids, "PostgreSQL")


def test_many_clients_never_break_the_rule_on_sqlite(sqlite_link, sqlite_ids):
    run_and_judge(sqlite_link, sqlite_ids, "SQLite")

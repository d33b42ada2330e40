"""What is told of rows that are new, gone or moved."""

import networkx
from hypothesis import given
from hypothesis import strategies as st

from coordination.sequence.comparing import compare_rows, say_moved
from coordination.sequence.comparing_texts import compare_texts
from coordination.sequence.drafting import write_tables
from coordination.sequence.library.reading import read_document
from tests.sequence.test_drafting import MINIMUM


def rows(keys):
    return {str(key): (f"Row {key}", {"name": f"Row {key}"}) for key in keys}


@given(st.integers(1, 12).flatmap(lambda n: st.permutations(range(n))))
def test_as_few_rows_are_called_moved_as_can_be(order):
    """Against networkx: the longest path over pairs that kept their order is the longest run that stayed."""
    moved = say_moved(rows(range(len(order))), rows(order))
    kept = networkx.DiGraph()
    kept.add_nodes_from(order)
    kept.add_edges_from((a, b) for n, a in enumerate(order) for b in order[n + 1 :] if a < b)
    assert len(moved) == len(order) - len(networkx.dag_longest_path(kept))
    stayed = [key for key in order if str(key) not in moved]
    assert stayed == sorted(stayed)


def test_one_row_moved_past_many_is_one_change_and_says_where():
    before = rows(range(200))
    forward = rows([*range(1, 150), 0, *range(150, 200)])
    assert say_moved(before, forward) == {"0": "before Row 150"}
    assert say_moved(before, rows([*range(1, 200), 0])) == {"0": "to the end"}
    assert say_moved(before, rows([199, *range(199)])) == {"199": "before Row 0"}


def test_new_and_gone_rows_move_nobody():
    changes = compare_rows("check", rows([1, 2, 3, 4]), rows([0, 1, 3, 9, 4]), ordered=True)
    assert [(one.key, one.what, one.moved) for one in changes] == [
        ("0", "added", ""),
        ("9", "added", ""),
        ("2", "removed", ""),
    ]


def test_a_new_row_and_one_that_is_gone_say_what_they_are_in_the_order_of_their_fields():
    tables = read_document(MINIMUM, "x")
    work = next(one for one in tables["activity"] if one.get("trade") and one.get("after"))
    gone = next(one for one in tables["check"] if one.get("limit"))
    new = {**work, "id": "sweep", "name": "Sweep out", "half_days": 3}
    tables["activity"].append(new)
    tables["check"].remove(gone)
    found = compare_texts(MINIMUM, write_tables(tables)).rows
    [added] = found["activity"]
    assert (added.key, added.what, added.name) == ("sweep", "added", "Sweep out")
    told = [label for label, _words in added.said]
    fields = [name for name in new if name not in ("id", "name")]
    called = {"half_days": "half-days", "after": "follows", "when": "only when"}
    assert told == [called.get(name, name) for name in fields]
    trades = {one["key"]: one["name"] for one in tables["trade"]}
    assert dict(added.said)["trade"] == trades[work["trade"]], "a trade is called by its name"
    assert dict(added.said)["half-days"] == "3"
    [removed] = found["check"]
    assert removed.what == "removed"
    assert dict(removed.said)["limit"].startswith(gone["limit"]["compare"])

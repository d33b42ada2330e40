"""Which trades a house has work for, with and without each option of its sequence."""

from __future__ import annotations

from coordination.sequence.library.entry import Option, StandardSequence


def options_of_trade(entry: StandardSequence, trade: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Names of the options without which this trade has no work, and of those that leave it none.

    Both are empty for a trade that every house of the entry needs.
    """
    usual = {one.id for one in entry.activities if trade in (one.trade, one.walker)}
    brings, takes = [], []
    for option in entry.options:
        left = _work_with(option, trade, usual)
        if left and not usual:
            brings.append(option.name)
        if usual and not left:
            takes.append(option.name)
    return tuple(brings), tuple(takes)


def _work_with(option: Option, trade: str, usual: set[str]) -> set[str]:
    """Activities of the trade once the option is chosen."""
    left = usual - set(option.removed.get("activity", ()))
    for row in (*option.changed.get("activity", ()), *option.added.get("activity", ())):
        key = str(row.get("id"))
        if trade in (row.get("trade"), row.get("walker")):
            left.add(key)
        elif "trade" in row or "walker" in row:
            left.discard(key)
    return left

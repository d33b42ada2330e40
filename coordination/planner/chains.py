"""A driving chain in words: from the first cause to the date that it explains."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coordination.sequence.queries import Programme


@dataclass(frozen=True)
class ChainLink:
    """One activity of a driving chain: its dates, and why it stands there."""

    key: str
    name: str
    who: str
    start: int
    last: int
    milestone: bool
    done: bool
    why: str


def tell_chain(known: Programme, keys: Sequence[str]) -> list[ChainLink]:
    """The links of a chain that are still to come, with the last finished one before them.

    What is finished no longer drives anything but through its end, so a chain of fifty links that began
    half a year ago is told from there on.
    """
    rows = {row.key: row for row in known.activities}
    chain = [rows[key] for key in keys if key in rows]
    finished = [n for n, row in enumerate(chain) if row.state == "done"]
    shown = chain[finished[-1] :] if finished else chain
    return [
        ChainLink(
            key=row.key,
            name=row.name,
            who=row.booking.crew if row.booking else row.trade or row.walker,
            start=row.es if row.es == row.ef else row.start,
            last=row.es if row.es == row.ef else row.last,
            milestone=row.es == row.ef,
            done=row.state == "done",
            why=row.reason_words,
        )
        for row in shown
    ]

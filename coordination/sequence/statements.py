"""A trade's own statement of its runs: what is asked, how it is entered, what is shown of it.

Nothing here judges: the licensed trade decides route, size and protection by its own tables. The classes of
contact are those by which cable tables are entered (AS/NZS 3008.1.1: partly and completely surrounded).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import zip_longest

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

CONTACT = {
    "clear": gettext_lazy("clear of insulation"),
    "touched": gettext_lazy("touched by insulation on one side"),
    "partly": gettext_lazy("partly surrounded"),
    "completely": gettext_lazy("completely surrounded"),
    "no cable": gettext_lazy("no cable: does not apply"),
}
"""How a run lies to the insulation, in the words of whoever states it."""

RCD = {"yes": gettext_lazy("yes"), "no": gettext_lazy("no"), "not stated": gettext_lazy("not stated")}
"""Whether a residual current device protects the run."""

EMPTY_ROWS = 3
"""Empty rows of a form that is opened, and that 'more rows' adds."""

MOST_ROWS = 60
LONGEST_RUN, LONGEST_NAME, LONGEST_LICENCE, LONGEST_NOTE = 120, 120, 60, 500


@dataclass(frozen=True)
class StatedRun:
    """One run in the words of who laid it; `contact` and `rcd` are keys of `CONTACT` and `RCD`."""

    run: str = ""
    contact: str = ""
    rcd: str = "not stated"
    fault: str = ""
    """Why the row was refused, with the remedy; empty for a good one."""

    @property
    def contact_words(self) -> str:
        """'partly surrounded'."""
        return str(CONTACT.get(self.contact, self.contact))

    @property
    def rcd_words(self) -> str:
        """'yes', 'no' or 'not stated'."""
        return str(RCD.get(self.rcd, self.rcd))


@dataclass(frozen=True)
class Stated:
    """A statement as it is entered. `faults` says what is wrong beside the rows, by field."""

    runs: tuple[StatedRun, ...]
    name: str
    licence: str
    note: str
    faults: tuple[tuple[str, str], ...] = ()

    @property
    def refused(self) -> bool:
        """Whether anything of it has to be mended before it is kept."""
        return bool(self.faults) or any(one.fault for one in self.runs)

    @property
    def form_rows(self) -> tuple[StatedRun, ...]:
        """The rows of its form: what was entered, and empty ones to go on."""
        return (*self.runs, *(StatedRun() for _one in range(EMPTY_ROWS)))


EMPTY = Stated((), "", "", "")


@dataclass(frozen=True)
class StatementShown:
    """A statement on the record: who gave it, for whom, when."""

    id: int
    name: str
    licence: str
    runs: tuple[StatedRun, ...]
    note: str
    sender: str
    at: dt.datetime


def read_statement(values_of: Callable[[str], Sequence[str]]) -> Stated:
    """What a form with the repeated fields run, contact, rcd and the fields name, licence, note holds.

    Rows without a word are left out. Nothing is raised: whatever is wrong is said at its row or field.
    """
    rows = []
    for run, contact, rcd in zip_longest(
        values_of("run"), values_of("contact"), values_of("rcd"), fillvalue=""
    ):
        row = StatedRun(_clean(run), contact, rcd or "not stated")
        if row.run or row.contact:
            rows.append(StatedRun(row.run, row.contact, row.rcd, _fault(row)))
    name, licence, note = (_clean("".join(values_of(one)[:1])) for one in ("name", "licence", "note"))
    faults = []
    # How a frame is bonded, or a pipe guarded, is said in a sentence and has no runs.
    if not rows and not note:
        words = _(
            "Nothing is stated. Write one run in each row, or 'all runs' in one; in the note, what has none."
        )
        faults.append(("runs", words))
    if len(rows) > MOST_ROWS:
        faults.append(("runs", _("More than %(most)s rows. State like runs together.") % {"most": MOST_ROWS}))
    if not name:
        faults.append(("name", _("Whose statement is it? Write your name.")))
    if not licence:
        faults.append(("licence", _("The licence number is missing. Write it as it stands on your licence.")))
    for field, words, most in (
        ("name", name, LONGEST_NAME),
        ("licence", licence, LONGEST_LICENCE),
        ("note", note, LONGEST_NOTE),
    ):
        if len(words) > most:
            faults.append((field, _("More than %(most)s characters. Shorten it.") % {"most": most}))
    return Stated(tuple(rows), name, licence, note, tuple(faults))


def _clean(text: str) -> str:
    # The zero character is in no text, and no database takes it.
    return text.replace("\0", "").strip()


def _fault(row: StatedRun) -> str:
    if not row.run:
        return _("Which run is it? Name it, or take the class away.")
    if len(row.run) > LONGEST_RUN:
        return _("More than %(most)s characters. Shorten it.") % {"most": LONGEST_RUN}
    if row.contact not in CONTACT:
        return _("How does it lie to the insulation? Choose a class.")
    if row.rcd not in RCD:
        return _("RCD: choose yes, no or not stated.")
    return ""

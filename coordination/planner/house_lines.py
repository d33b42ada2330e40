"""What one house says on the page of all houses and in its own title strip: rows of the board in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from coordination import clock
from coordination.planner.forecast_told import say_promises, say_unreported
from coordination.planner.house_drawing import former_release, note_hold, say_concessions
from coordination.planner.week_strip import choose_weeks, draw_strip
from coordination.sequence.models import House, SequenceVersion
from coordination.sequence.publishing import stage_names
from coordination.sequence.queries import BoardRow, HoldFact, WindowFact


@dataclass(frozen=True)
class HoldLine:
    """A hold as the template `partials/hold_bar.html` takes it."""

    label: str
    state: str
    note: str
    former: str
    link: str
    when: str = ""
    concessions: str = ""

    @property
    def short(self) -> str:
        """The note where many stand together: who released, or set aside why, is on the house's own page."""
        return self.concessions if self.state in ("released", "set aside") else self.note


@dataclass(frozen=True)
class HouseLine:
    """One house in words.

    Attributes:
        lined: whether the linings are in.
        waits, waits_note: what stands next, and for whom and since when.
        linings, linings_note: the date to say, and what it rests on.
        promise: whether its linings can be promised, in words.
        sure: from when, and how sure, by the forecast; empty without one.
        unreported: since when nobody reported on it, where its dates are not real for that.
        window, window_note: the detail that is buried next; when, and by what.
    """

    house: House
    supervisor: str
    lined: bool
    waits: str
    waits_note: str
    held: bool
    linings_state: str
    linings: str
    linings_note: str
    promise: str
    sure: str
    window: str
    window_note: str
    finished: str
    warnings: str
    unreported: str
    holds: tuple[HoldLine, ...]
    strip: SafeString

    @property
    def near_holds(self) -> tuple[HoldLine, ...]:
        """The hold points to look at: those that stop the house, and the next one that is not reached."""
        later = [hold for hold in self.holds if hold.state == "not ready"]
        return tuple(
            hold
            for hold in self.holds
            if hold.state in ("held", "re-opened") or hold.concessions or hold in later[:1]
        )

    @property
    def far_holds(self) -> str:
        """How many others there are, in words: '2 released, 1 not recorded, 3 later'."""
        near = self.near_holds
        rest = [hold.state for hold in self.holds if hold not in near]
        said = {
            "released": _("%(count)d released"),
            "set aside": _("%(count)d not recorded"),
            "not ready": _("%(count)d later"),
        }
        parts = [words % {"count": rest.count(state)} for state, words in said.items() if state in rest]
        return ", ".join(parts)


def write_lines(rows: Sequence[BoardRow], today: int) -> list[HouseLine]:
    """The rows of the board in words and strips; strips of houses to line share their weeks, so do others."""
    to_line = choose_weeks(
        today, [row.stake_last for row in rows if row.stake_last is not None and not is_lined(row)]
    )
    lined = choose_weeks(today, [row.finish for row in rows if row.finish is not None and is_lined(row)])
    versions = SequenceVersion.objects.in_bulk({row.house.sequence_version_id for row in rows})
    stages_of = {pk: stage_names(version) for pk, version in versions.items()}
    sure = say_promises({row.house.pk: row.plan.number if row.plan else None for row in rows})
    lines = []
    for row in rows:
        names = stages_of[row.house.sequence_version_id]
        stages = [(names.get(span.key, span.key), span) for span in row.stages]
        weeks = lined if is_lined(row) else to_line
        over = row.waits is None
        strip = SafeString() if over else draw_strip(weeks, today, stages, row.holds, row.stake_start)
        lines.append(write_line(row, strip, sure.get(row.house.pk, "")))
    return lines


def write_line(row: BoardRow, strip: SafeString, sure: str = "") -> HouseLine:
    """One row of the board in words; `sure` is the promise of its linings by the forecast."""
    lined = is_lined(row)
    waits, note = _say_waits(row)
    return HouseLine(
        house=row.house,
        supervisor=row.supervisor,
        lined=lined,
        waits=waits,
        waits_note=note,
        held=row.waits is not None and row.waits.kind != "work",
        linings_state=row.stake_booking.state if row.stake_booking else "",
        linings=_say_linings(row, lined),
        linings_note=_say_booking(row, lined),
        promise=_say_promise(row, lined),
        sure="" if lined or row.unreported_since is not None else sure,
        window=row.next_window.name if row.next_window else _("none"),
        window_note=say_window(row.next_window) if row.next_window else "",
        finished=clock.say_half_day(row.finish - 1) if row.finish is not None else clock.say_half_day(None),
        warnings=ngettext("%(count)d warning", "%(count)d warnings", row.warnings) % {"count": row.warnings}
        if row.warnings
        else "",
        unreported=say_unreported(row.unreported_since),
        holds=tuple(write_hold(hold) for hold in row.holds),
        strip=strip,
    )


def write_hold(hold: HoldFact, *, dated: bool = False) -> HoldLine:
    """A hold in words; `dated` adds the half-day of its walk while it is closed."""
    when = clock.say_half_day(hold.start) if dated and hold.is_open else ""
    return HoldLine(
        hold.label,
        hold.state,
        note_hold(hold),
        former_release(hold),
        hold.page,
        when,
        say_concessions(hold),
    )


def is_lined(row: BoardRow) -> bool:
    """Whether the linings are in: nothing unfinished is planned before what is recorded."""
    return row.plan is not None and row.stake_last is not None and row.stake_last < row.plan.recorded_up_to


def say_window(window: WindowFact) -> str:
    """'walk Wed 11 Mar, morning; buried Fri 13 Mar, morning by Ceiling batts'."""
    due = (
        _("checked by the end of %(half_day)s") % {"half_day": clock.say_half_day(window.due_by_end_of)}
        if window.due_by_end_of is not None
        else _("checked %(half_day)s") % {"half_day": clock.say_half_day(window.due)}
    )
    buried = _("buried %(half_day)s") % {"half_day": clock.say_half_day(window.buried)}
    if window.buried_by:
        buried = _("%(buried)s by %(what)s") % {"buried": buried, "what": window.buried_by[0]}
    return f"{due}; {buried}"


def _say_waits(row: BoardRow) -> tuple[str, str]:
    waits = row.waits
    if row.plan is None:
        return _("its first plan"), ""
    if waits is None:
        return _("nothing"), _("all work is done")
    parts = []
    if waits.kind == "re-opened":
        parts.append(_("re-opened"))
    if waits.who:
        parts.append(waits.who)
    if waits.since is not None:
        parts.append(_("since %(day)s") % {"day": clock.say_half_day(waits.since)})
    hold = next((one for one in row.holds if one.key == waits.key), None)
    if hold is not None and hold.is_open and waits.words != hold.label:
        return hold.label, " · ".join([waits.words, *parts])
    return waits.words, " · ".join(parts)


def _say_linings(row: BoardRow, lined: bool) -> str:
    booking = row.stake_booking
    if lined and row.stake_last is not None:
        return _("in since %(day)s") % {"day": clock.say_half_day(row.stake_last)}
    if booking is not None and booking.told_start is not None:
        return clock.say_half_day(booking.told_start)
    if row.stake_start is None:
        return clock.say_half_day(None)
    return _("likely %(half_day)s") % {"half_day": clock.say_half_day(row.stake_start)}


def _say_booking(row: BoardRow, lined: bool) -> str:
    booking = row.stake_booking
    if lined or row.stake_start is None:
        return ""
    if booking is None:
        return _("nobody is booked")
    parts = [booking.crew]
    if booking.state in ("pencilled", "firm") and booking.confirmed_at is None:
        parts.append(_("not confirmed"))
    if booking.told_start is not None and booking.told_start != row.stake_start:
        parts.append(_("planned %(half_day)s") % {"half_day": clock.say_half_day(row.stake_start)})
    return ", ".join(parts)


def _say_promise(row: BoardRow, lined: bool) -> str:
    if lined or row.stake_start is None:
        return ""
    if not row.stake_held_by:
        return _("every hold point before it is released")
    count = len(row.stake_held_by)
    return ngettext(
        "not yet: %(count)d hold point closed", "not yet: %(count)d hold points closed", count
    ) % {"count": count}

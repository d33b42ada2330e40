"""The programme in words: the same rows as the drawing, for keyboard, screen reader, phone and paper."""

from __future__ import annotations

from dataclasses import dataclass, replace

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from coordination.clock import say_half_day
from coordination.planner.programme import HoldMark, Programme, Row, Window


@dataclass(frozen=True)
class HiddenDetail:
    """Details that a row hides away in one and the same access window, in words.

    `sections`: name of each, and where its to-scale section is fetched from once somebody asks to see it.
    """

    detail: str
    sections: tuple[tuple[str, str], ...]
    opens: str
    due: str
    buried: str
    point: str
    covered_by: str
    inverted: bool


@dataclass(frozen=True)
class TableRow:
    """One activity in words."""

    anchor: str
    name: str
    trade: str
    state: str
    state_words: str
    starts: str
    finishes: str
    float_words: str
    late: bool
    hides: tuple[HiddenDetail, ...]
    why: str
    link: str


@dataclass(frozen=True)
class TableStage:
    """A stage's name over its rows, how many of them are done, and whether the house is at it now."""

    name: str
    rows: tuple[TableRow, ...]
    done: int
    current: bool


@dataclass(frozen=True)
class TableHold:
    """One hold in words."""

    label: str
    state: str
    state_words: str
    when: str
    note: str
    former: str
    link: str


def write_stages(programme: Programme) -> tuple[TableStage, ...]:
    """The rows of the programme in words, under the names of their stages; empty stages are left out."""
    return tuple(
        TableStage(
            name=stage.name,
            rows=tuple(_write_row(row, programme.non_working) for row in stage.rows),
            done=sum(row.state == "done" for row in stage.rows),
            current=any(
                row.state == "under way" or row.anchor == programme.next_anchor for row in stage.rows
            ),
        )
        for stage in programme.stages
        if stage.rows
    )


def write_holds(programme: Programme) -> tuple[TableHold, ...]:
    """The holds in words, earliest first."""
    return tuple(
        TableHold(
            label=hold.label,
            state=hold.state,
            state_words=say_hold_state(hold.state),
            when="" if hold.state in {"released", "set aside"} else say_by_end(hold.at),
            note=hold.note,
            former=hold.former,
            link=hold.link,
        )
        for hold in sorted(programme.holds, key=lambda hold: hold.at)
    )


def say_state(row: Row) -> str:
    """A row's state in words: its booking, or that nobody is booked."""
    words = {
        "asked": _("asked"),
        "pencilled": _("pencilled"),
        "firm": _("firm"),
        "under way": _("under way"),
        "done": _("done"),
        "declined": _("declined"),
        "stood down": _("stood down"),
    }
    return words.get(row.state) or say_point(row.point) or _("no booking")


def say_point(kind: str) -> str:
    """The kind of a point in words; empty for work."""
    return {
        "hold": _("walk"),
        "hold from photographs": _("from photographs"),
        "witness": _("witness"),
        "photo": _("photo point"),
        "review": _("review"),
        "survey": _("survey"),
    }.get(kind, "")


def say_hold_state(state: str) -> str:
    """A hold's state in words."""
    return {
        "held": _("held"),
        "not ready": _("not ready"),
        "released": _("released"),
        "re-opened": _("re-opened"),
        "set aside": _("not recorded"),
    }[state]


def say_flag(hold: HoldMark) -> str:
    """The second line of a hold's flag: 'held: 3 checks open', 'released KM 24 Feb'."""
    words = say_hold_state(hold.state)
    if not hold.note:
        return words
    form = _("%(state)s %(note)s") if hold.state in {"released", "re-opened"} else _("%(state)s: %(note)s")
    return form % {"state": words, "note": hold.note}


def say_by_end(instant: int) -> str:
    """An instant that ends work: 'by the end of Fri 13 Mar, afternoon'."""
    return _("by the end of %(half_day)s") % {"half_day": say_half_day(instant - 1)}


def say_float(half_days: int | None) -> str:
    """Float in working half-days; empty where it has no meaning."""
    if half_days is None:
        return ""
    if half_days == 0:
        return _("none")
    if half_days < 0:
        late = -half_days
        return ngettext("%(count)d half-day late", "%(count)d half-days late", late) % {"count": late}
    return ngettext("%(count)d half-day", "%(count)d half-days", half_days) % {"count": half_days}


def tell_row(row: Row) -> str:
    """The row in one sentence, for the tooltip of its bar."""
    parts = [
        f"{row.name} ({row.trade})" if row.trade else row.name,
        say_state(row),
        say_by_end(row.finish)
        if row.start == row.finish
        else _("%(start)s to %(finish)s")
        % {"start": say_half_day(row.start), "finish": say_half_day(row.finish - 1)},
    ]
    if row.float_half_days is not None and row.state != "done":
        parts.append(_("float: %(float)s") % {"float": say_float(row.float_half_days)})
    if row.windows:
        parts.append(_("hides: %(details)s") % {"details": ", ".join(w.detail for w in row.windows)})
    return " · ".join(parts)


def tell_hold(hold: HoldMark) -> str:
    """A hold in one sentence, for the tooltip of its bar."""
    return " · ".join(
        part for part in (f"{hold.label}: {say_flag(hold)}", say_by_end(hold.at), hold.former) if part
    )


def _write_row(row: Row, non_working: frozenset[int]) -> TableRow:
    milestone = row.start == row.finish
    return TableRow(
        anchor=row.anchor,
        name=row.name,
        trade=row.trade,
        state=row.state,
        state_words=say_state(row),
        starts="" if milestone else say_half_day(row.start),
        finishes=say_by_end(row.finish) if milestone else say_half_day(row.finish - 1),
        float_words="" if row.state == "done" else say_float(row.float_half_days),
        late=row.float_half_days is not None and row.float_half_days < 0 and row.state != "done",
        hides=_write_windows(row.windows, non_working),
        why=row.reason,
        link=row.link,
    )


def _write_windows(windows: tuple[Window, ...], non_working: frozenset[int]) -> tuple[HiddenDetail, ...]:
    """The windows in words, details with one and the same window together."""
    together: dict[Window, list[tuple[str, str]]] = {}
    for window in windows:
        alike = replace(window, detail="", section="")
        together.setdefault(alike, []).append((window.detail, window.section))
    return tuple(
        HiddenDetail(
            detail=", ".join(name for name, _section in details),
            sections=tuple(details),
            opens=say_half_day(_next_working(window.opens, non_working)),
            due=say_by_end(window.due) if window.due_by_end else say_half_day(window.due),
            buried=say_half_day(_next_working(window.buried, non_working)),
            point=window.point,
            covered_by=window.covered_by,
            inverted=window.inverted,
        )
        for window, details in together.items()
    )


def _next_working(instant: int, non_working: frozenset[int]) -> int:
    """The first half-day at or after an instant on which somebody works: a Friday's end is said as Monday."""
    while instant in non_working:
        instant += 1
    return instant

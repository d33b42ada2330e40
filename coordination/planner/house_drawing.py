"""From what the database says about a house to what the drawing of its programme shows."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from coordination import clock
from coordination.planner import programme as drawn
from coordination.planner.programme import HoldMark, Row, Stage, Window
from coordination.sequence.models import Booking
from coordination.sequence.queries import ActivityRow, HoldFact, Programme, WindowFact


def draw_house(found: Programme, today: int) -> drawn.Programme:
    """The programme as it is drawn and told in words.

    Args:
        found: as `queries.programme` reads it.
        today: the current half-day of the builder.
    """
    windows = {window.key: window for window in found.windows}
    names = dict(found.stages)
    rows: dict[str, list[Row]] = defaultdict(list)
    for one in found.activities:
        rows[names.get(one.stage, "")].append(_draw_row(one, found, windows))
    ordered = [*names.values(), *(name for name in rows if name not in names.values())]
    finishes = {one.id: one.ef for one in found.activities}
    return drawn.Programme(
        house=found.house.name,
        stages=tuple(Stage(name or _("Other work"), tuple(rows[name])) for name in ordered if rows[name]),
        holds=tuple(_mark_hold(hold, finishes[hold.point_id]) for hold in found.holds),
        today=today,
        non_working=found.non_working,
        warnings=found.warnings,
    )


def _draw_row(one: ActivityRow, found: Programme, windows: Mapping[str, WindowFact]) -> Row:
    state = say_row_state(one)
    milestone = one.es == one.ef
    done = state == "done"
    return Row(
        key=one.key,
        name=one.name,
        trade=one.trade or one.walker,
        start=one.es if milestone else one.start,
        finish=one.es if milestone else one.last + 1,
        state=state,
        point=one.point_kind,
        worked_until=found.plan.recorded_up_to if state == "under way" else None,
        float_half_days=None if done else one.total_float,
        float_until=None if done or not one.total_float else one.lf,
        windows=tuple(_draw_window(windows[key], found) for key in one.installs if key in windows),
        reason=one.reason_words,
        link=_link_of(one, found),
    )


def say_row_state(one: ActivityRow) -> str:
    """What was reported of the activity, else the state of the booking of its visit."""
    if one.state:
        return one.state
    if one.booking is None:
        return ""
    if one.booking.state in (Booking.State.UNDER_WAY, Booking.State.DONE):
        # The crew is at its visit, but not at this activity yet: it stands as firmly as it can.
        return Booking.State.FIRM.value
    return one.booking.state


def _link_of(one: ActivityRow, found: Programme) -> str:
    if one.visit_id is not None:
        return reverse("planner:visit", args=[found.house.pk, one.visit_id])
    return next((hold.page for hold in found.holds if hold.point_id == one.id), "")


def _draw_window(window: WindowFact, found: Programme) -> Window:
    return Window(
        detail=window.name,
        opens=window.opens,
        due=window.due,
        buried=window.buried,
        point=window.point,
        covered_by=window.buried_by[0] if window.buried_by else "",
        due_by_end=window.due_by_end_of is not None,
        section=reverse("planner:section", args=[found.house.pk, window.detail_id]) if window.drawing else "",
    )


def _mark_hold(hold: HoldFact, at: int) -> HoldMark:
    return HoldMark(
        key=hold.key,
        at=at,
        label=hold.label,
        state=hold.state,
        note=note_hold(hold),
        link=hold.page,
        former=former_release(hold),
    )


def note_hold(hold: HoldFact) -> str:
    """What stands beside a hold's state: '3 checks open', 'KM 24 Feb', the rooms of a re-opening."""
    inspection = hold.inspection
    if hold.state == "released":
        at = inspection.released_at or hold.lifted_at
        said = f"{inspection.released_by} {_say_day(at, hold)}".strip() if at else ""
        return ", ".join(one for one in (said, say_concessions(hold)) if one)
    if hold.state == "set aside":
        return hold.set_aside_why
    if hold.state == "re-opened" and inspection.reopened_places:
        return ", ".join(inspection.reopened_places)
    parts = []
    if inspection.checks_open and hold.state != "not ready":
        parts.append(
            ngettext("%(count)d check open", "%(count)d checks open", inspection.checks_open)
            % {"count": inspection.checks_open}
        )
    if inspection.put_right_open:
        parts.append(_("%(count)d to put right") % {"count": inspection.put_right_open})
    if inspection.concessions:
        parts.append(say_concessions(hold))
    return ", ".join(parts)


def say_concessions(hold: HoldFact) -> str:
    """'1 concession'; empty without one. It is said wherever the hold is shown, released or not."""
    count = hold.inspection.concessions
    return (
        ngettext("%(count)d concession", "%(count)d concessions", count) % {"count": count} if count else ""
    )


def former_release(hold: HoldFact) -> str:
    """The release before a re-opening; empty when there was none."""
    inspection = hold.inspection
    if hold.state != "re-opened" or inspection.released_at is None:
        return ""
    day = _say_day(inspection.released_at, hold)
    return _("released %(who)s %(day)s") % {"who": inspection.released_by, "day": day}


def _say_day(moment: dt.datetime, hold: HoldFact) -> str:
    return clock.say_day(clock.half_day_of(moment, hold.zone))

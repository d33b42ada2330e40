"""An independent judge: every rule that a set of dates breaks; no fault means that it is sound.

It shares no arithmetic with the passes. Those look up two arrays; the judge asks a calendar of each half-day
whether it is worked (`WorkingCalendar.works`), lists what is, and counts in that list. It also judges dates
that come from elsewhere: levelled ones, or those of another program.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from coordination.engine.network import ELAPSED, EVERY_NAME, Activity, Network, Relationship
from coordination.engine.plan import Plan
from coordination.engine.workdays import HALF_DAYS_PER_WEEK, WorkingCalendar, write_half_day

Rule = Literal[
    "missing",
    "unknown",
    "calendar",
    "duration",
    "data date",
    "not before",
    "actual",
    "precedence",
    "capacity",
    "kept",
    "crew",
]
Dates = Mapping[str, tuple[int, int]]
"""Start and finish (instants) by activity id."""


@dataclass(frozen=True)
class Fault:
    """A rule that an activity's dates break; `link` names the relationship of a broken precedence."""

    rule: Rule
    activity_id: str
    words: str
    link: Relationship | None = None

    def __str__(self) -> str:
        return f"{self.activity_id}: {self.words}"


@dataclass
class _Tally:
    """The working half-days of a calendar, listed one by one as far as they were needed."""

    calendar: WorkingCalendar
    first: int
    worked: list[int] = field(default_factory=list)
    known_to: int = 0

    def __post_init__(self) -> None:
        self.known_to = self.first

    def count(self, start: int, finish: int) -> int:
        """Working half-days of ``[start, finish)``, negative when finish is before start."""
        self._know(min(start, finish), max(start, finish))
        return bisect_left(self.worked, finish) - bisect_left(self.worked, start)

    def after(self, t: int, n: int) -> int:
        """The least instant by which n working half-days have passed since t (before t for negative n)."""
        if n == 0:
            return t
        wanted = 0
        while True:
            self._know(t - 1, t)
            wanted = bisect_left(self.worked, t) + n - 1
            if 0 <= wanted < len(self.worked):
                return self.worked[wanted] + 1
            reach = HALF_DAYS_PER_WEEK * (2 + abs(n))
            if wanted < 0:
                self._know(self.first - reach, self.first)
            else:
                self._know(self.known_to, self.known_to + reach)

    def _know(self, first: int, end: int) -> None:
        if first < self.first:
            earlier = [t for t in range(first, self.first) if self.calendar.works(t)]
            self.worked[:0] = earlier
            self.first = first
        if end > self.known_to:
            self.worked += [t for t in range(self.known_to, end) if self.calendar.works(t)]
            self.known_to = end


class _Judge:
    def __init__(self, network: Network, dates: Dates, data_date: int) -> None:
        self.network, self.dates, self.data_date = network, dates, data_date
        self.tallies = {
            name: _Tally(c, data_date) for name, c in network.calendars.items() if name != EVERY_NAME
        }
        self.faults: list[Fault] = []

    def blame(self, rule: Rule, activity: str, words: str, link: Relationship | None = None) -> None:
        self.faults.append(Fault(rule, activity, words, link))

    def count(self, calendar: str, start: int, finish: int) -> int:
        return finish - start if calendar == EVERY_NAME else self.tallies[calendar].count(start, finish)

    def works(self, activity: Activity, half_day: int) -> bool:
        return self.network.calendars[activity.calendar].works(half_day)

    def judge_work(self, activity: Activity) -> None:
        """Calendar, duration, data date, not-before and recorded facts of one activity."""
        start, finish = self.dates[activity.id]
        if activity.actual_start is not None:
            self.judge_facts(activity, start, finish)
            return
        if start < self.data_date:
            self.blame("data date", activity.id, f"starts before {write_half_day(self.data_date)}")
        if activity.not_before is not None and start < activity.not_before:
            self.blame("not before", activity.id, f"starts before {write_half_day(activity.not_before)}")
        self.judge_span(activity, start, finish, activity.duration)

    def judge_span(self, activity: Activity, start: int, finish: int, length: int) -> None:
        if length == 0:
            if start != finish:
                self.blame("duration", activity.id, "is a milestone, but lasts from one instant to another")
            return
        if finish <= start:
            self.blame(
                "duration", activity.id, f"has {length} half-days of work but finishes before it starts"
            )
            return
        for half_day in (start, finish - 1):
            if not self.works(activity, half_day):
                self.blame("calendar", activity.id, f"is worked on {write_half_day(half_day)}: not worked")
        worked = self.count(activity.calendar, start, finish)
        if worked != length:
            self.blame("duration", activity.id, f"has {worked} working half-days instead of {length}")

    def judge_facts(self, activity: Activity, start: int, finish: int) -> None:
        if start != activity.actual_start:
            self.blame("actual", activity.id, "starts elsewhere than it did")
        if activity.actual_finish is not None:
            if finish != activity.actual_finish:
                self.blame("actual", activity.id, "finishes elsewhere than it did")
            return
        if finish < self.data_date:
            self.blame("data date", activity.id, "has work left that would lie before the data date")
            return
        left = self.work_left(activity)
        done = self.count(activity.calendar, self.data_date, finish)
        if left and done < left:
            self.blame("duration", activity.id, f"has {done} working half-days for {left} that remain")
        if left and not self.works(activity, finish - 1):
            self.blame("calendar", activity.id, f"ends on {write_half_day(finish - 1)}: not worked")

    def work_left(self, activity: Activity) -> int:
        if activity.remaining is not None:
            return activity.remaining
        started = activity.actual_start if activity.actual_start is not None else self.data_date
        return max(1, activity.duration - self.count(activity.calendar, started, self.data_date))

    def judge_link(self, link: Relationship) -> None:
        source, target = self.network[link.from_id], self.network[link.to_id]
        if target.finished or (target.under_way and (source.finished or link.type == "SS")):
            return
        seen = self.dates[source.id][link.type[0] == "F"]
        bound = self.later(link, seen)
        start, finish = self.dates[target.id]
        if link.type[1] == "F":
            held, what = finish, "finishes"
        else:
            held, what = start, "starts"
            if target.under_way:
                # Only the work that remains is held: there must be room for it between the bound and the end.
                room = self.count(target.calendar, bound, finish) if finish >= bound else -1
                what, held = "resumes", bound if room >= self.work_left(target) else bound - 1
        if held < bound:
            self.blame(
                "precedence",
                target.id,
                f"{what} before {link.from_id!r} allows ({link.type}{link.lag:+d}: {write_half_day(bound)})",
                link,
            )

    def later(self, link: Relationship, t: int) -> int:
        calendar = link.lag_calendar or self.network[link.to_id].calendar
        return (
            t + link.lag if calendar in (ELAPSED, EVERY_NAME) else self.tallies[calendar].after(t, link.lag)
        )


def find_faults(network: Network, dates: Dates, *, data_date: int = 0) -> list[Fault]:
    """Every rule of a network that the dates break, in input order; empty when they are sound.

    Parameters
    ----------
    dates
        start and finish (instants) of every activity by id.
    data_date
        the instant up to which work is recorded.
    """
    judge = _Judge(network, dates, data_date)
    for name in dates:
        if name not in network.position:
            judge.blame("unknown", name, "is no activity of the network")
    for activity in network.activities:
        if activity.id not in dates:
            judge.blame("missing", activity.id, "has no dates")
    for activity in network.activities:
        if activity.id in dates:
            judge.judge_work(activity)
    for link in network.relationships:
        if link.from_id in dates and link.to_id in dates:
            judge.judge_link(link)
    return judge.faults


def verify_plan(plan: Plan) -> list[Fault]:
    """The faults of a plan's early dates; see `find_faults`."""
    dates = {activity.id: (activity.es, activity.ef) for activity in plan.activities.values()}
    return find_faults(plan.network, dates, data_date=plan.data_date)

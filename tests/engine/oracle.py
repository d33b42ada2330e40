"""A slow second opinion: least and greatest dates by relaxation, half-day by half-day, over plain sets.

It shares no code with the engine's passes: calendars are sets of half-days, lags are counted by walking, and
the least (greatest) dates are found by moving every activity later (earlier) by one half-day for as long as
something is violated. From below (above) that ends in the least (greatest) solution of the constraints.
"""

from dataclasses import dataclass


@dataclass
class Axis:
    """A calendar as the plain set of its working half-days."""

    worked: frozenset

    def walk(self, t, n):
        """The least instant u with n working half-days in [t, u) (fewer than none: in [u, t))."""
        while n > 0:
            n -= t in self.worked
            t += 1
        if n < 0:
            # Least u such that at most -n are left between u and t: as far back as that many allow.
            back = -n + 1
            while back:
                t -= 1
                back -= t in self.worked
            t += 1
        return t

    def count(self, start, finish):
        if finish < start:
            return -self.count(finish, start)
        return sum(t in self.worked for t in range(start, finish))

    def finish(self, start, n):
        """Finish of n half-days of work from a start at which one can work; None when one cannot."""
        if n == 0:
            return start
        if start not in self.worked:
            return None
        return self.walk(start, n)


class Oracle:
    """`axes`: calendar name to Axis. Lags: None (elapsed) or an Axis."""

    def __init__(self, network, axes, data_date):
        self.network, self.axes, self.data_date = network, axes, data_date
        self.left = {a.id: self._left(a) for a in network.activities}

    def _left(self, a):
        if not a.under_way:
            return a.duration
        if a.remaining is not None:
            return a.remaining
        return max(1, a.duration - self.axes[a.calendar].count(a.actual_start, self.data_date))

    def later(self, link, t):
        if link.lag_calendar == "elapsed":
            return t + link.lag
        return self.axes[link.lag_calendar or self.network[link.to_id].calendar].walk(t, link.lag)

    def asks(self, link):
        """Whether a relationship still constrains anything."""
        source, target = self.network[link.from_id], self.network[link.to_id]
        if target.finished:
            return False
        return not (target.under_way and (source.finished or link.type == "SS"))

    def met(self, link, dates):
        """Whether one relationship holds. `dates`: id to (start of what is left, finish)."""
        if not self.asks(link):
            return True
        source = self.network[link.from_id]
        start, finish = dates[link.from_id]
        if link.type[0] == "S":
            seen = source.actual_start if source.actual_start is not None else start
        else:
            seen = finish
        return dates[link.to_id][link.type[1] == "F"] >= self.later(link, seen)

    def place(self, name, start, step):
        """Next (previous) possible start at or after (before) an instant, with its finish."""
        activity = self.network[name]
        axis, n = self.axes[activity.calendar], self.left[name]
        while (finish := axis.finish(start, n)) is None:
            start += step
        return start, finish

    def fixed(self):
        return {a.id: (a.actual_start, a.actual_finish) for a in self.network.activities if a.finished}

    def earliest(self, moved=None):
        """The least solution; `moved` adds a bound of its own to starts, by id."""
        dates = self.fixed()
        for a in self.network.activities:
            if a.finished:
                continue
            floor = self.data_date
            if a.not_before is not None and not a.under_way:
                floor = max(floor, a.not_before)
            floor = max(floor, (moved or {}).get(a.id, floor))
            dates[a.id] = self.place(a.id, floor, 1)
        changed = True
        while changed:
            changed = False
            for link in self.network.relationships:
                while not self.met(link, dates):
                    dates[link.to_id] = self.place(link.to_id, dates[link.to_id][0] + 1, 1)
                    changed = True
        return dates

    def latest(self, finish_by, pinned=None):
        """The greatest solution with each finish at most `finish_by[id]`; `pinned` ids stay."""
        dates = {**self.fixed(), **(pinned or {})}
        loose = [a for a in self.network.activities if a.id not in dates]
        for a in loose:
            dates[a.id] = self.place(a.id, finish_by[a.id], -1)
            while dates[a.id][1] > finish_by[a.id]:
                dates[a.id] = self.place(a.id, dates[a.id][0] - 1, -1)
        movable = {a.id for a in loose}
        changed = True
        while changed:
            changed = False
            for link in self.network.relationships:
                if link.type[0] == "S" and self.network[link.from_id].actual_start is not None:
                    continue
                while link.from_id in movable and not self.met(link, dates):
                    dates[link.from_id] = self.place(link.from_id, dates[link.from_id][0] - 1, -1)
                    changed = True
        return dates

    def house_finishes(self, early):
        ends: dict[str | None, int] = {}
        for a in self.network.activities:
            ends[a.house] = max(ends.get(a.house, early[a.id][1]), early[a.id][1])
        last = max(finish for _, finish in early.values())
        return {a.id: last if a.house is None else ends[a.house] for a in self.network.activities}

    def float_of(self, name, early, late):
        end = 1 if self.network[name].under_way else 0
        return self.axes[self.network[name].calendar].count(early[name][end], late[name][end])

    def free_float(self, name, early, limit=400):
        """Start it one working half-day later and again until a successor or the house's end would move."""
        ends = self.house_finishes(early)[name]
        after = {link.to_id for link in self.network.relationships if link.from_id == name}
        axis, n = self.axes[self.network[name].calendar], self.left[name]
        start, _ = early[name]
        for k in range(limit):
            # k working half-days later: the last start of all that lie so many half-days on.
            late = start
            if k:
                late = axis.walk(start, k)
                late, _ = self.place(name, late, 1)
            trial = self.earliest({name: late})
            if any(trial[s] != early[s] for s in after) or axis.finish(late, n) > ends:
                return k - 1
        raise AssertionError("free float without end")

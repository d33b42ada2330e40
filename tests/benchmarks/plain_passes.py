"""The two passes and the floats in plain Python over lists: what faster ways are measured against.

Written for speed as far as plain Python goes: one list look-up for each question to a calendar, relationships
as tuples, everything built beforehand.
"""

from coordination.engine.order import order_activities

BEHIND, AHEAD = 400, 4000


class PlainPasses:
    """The lists of a network without recorded progress."""

    def __init__(self, network, data_date):
        first = data_date - BEHIND
        position = network.position
        self.order = order_activities(network)
        tables = {}
        for name, calendar in network.calendars.items():
            before = [calendar.before(t) for t in range(first, data_date + AHEAD)]
            low = before[0]
            kth = [calendar.kth(k + low) - first for k in range(before[-1] - low)]
            tables[name] = [k - low for k in before], kth
        self.first, self.tables = first, tables
        self.work = [a.duration for a in network.activities]
        self.tables_of = [tables[a.calendar] for a in network.activities]
        floors = [
            data_date if a.not_before is None else max(data_date, a.not_before) for a in network.activities
        ]
        self.floor = [t - first for t in floors]
        houses = {name: h for h, name in enumerate(dict.fromkeys(a.house for a in network.activities))}
        self.house, self.houses = [houses[a.house] for a in network.activities], len(houses)
        self.into: list[list[tuple]] = [[] for _ in self.work]
        self.out: list[list[tuple]] = [[] for _ in self.work]
        for x in network.relationships:
            i, j = position[x.from_id], position[x.to_id]
            counted = None
            if x.lag and x.lag_calendar != "elapsed":
                counted = tables[x.lag_calendar or network.activities[j].calendar]
            self.into[j].append((i, x.type[0] == "F", x.type[1] == "F", x.lag, counted))
            self.out[i].append((j, x.type[0] == "F", x.type[1] == "F", x.lag, counted))

    def run(self):
        """ES, EF, LS, LF, total and free float, as lists."""
        work, tables_of, floor, house = self.work, self.tables_of, self.floor, self.house
        count = len(work)
        es, ef, ls, lf, total, free = ([0] * count for _ in range(6))
        ends = [0] * self.houses
        for i in self.order:
            t, n = floor[i], work[i]
            before, kth = tables_of[i]
            for j, from_finish, to_finish, lag, counted in self.into[i]:
                u = ef[j] if from_finish else es[j]
                if counted is not None:
                    u = counted[1][counted[0][u] + lag - 1] + 1
                else:
                    u += lag
                if to_finish and n:
                    u = kth[before[u - 1] - n + 1]
                if u > t:
                    t = u
            if n:
                k = before[t]
                t, u = kth[k], kth[k + n - 1] + 1
            else:
                u = t
            es[i], ef[i] = t, u
            if u > ends[house[i]]:
                ends[house[i]] = u
        for i in reversed(self.order):
            n = work[i]
            before, kth = tables_of[i]
            late = loose = ends[house[i]]
            late_start = loose_start = 1 << 40
            for j, from_finish, to_finish, lag, counted in self.out[i]:
                u, v = (ef[j], lf[j]) if to_finish else (es[j], ls[j])
                if counted is not None:
                    u, v = counted[1][counted[0][u] - lag], counted[1][counted[0][v] - lag]
                else:
                    u, v = u - lag, v - lag
                if from_finish:
                    loose, late = (u if u < loose else loose), (v if v < late else late)
                else:
                    loose_start = u if u < loose_start else loose_start
                    late_start = v if v < late_start else late_start
            if n:
                k = before[min(loose_start, kth[before[loose] - n]) + 1] - 1
                free[i] = k - before[es[i]]
                k = before[min(late_start, kth[before[late] - n]) + 1] - 1
                total[i] = k - before[es[i]]
                ls[i], lf[i] = kth[k], kth[k + n - 1] + 1
            else:
                free[i] = before[min(loose_start, loose)] - before[es[i]]
                ls[i] = lf[i] = min(late_start, late)
                total[i] = before[ls[i]] - before[es[i]]
        return es, ef, ls, lf, total, free

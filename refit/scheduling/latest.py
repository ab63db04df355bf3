"""Latest dates and floats: the backward pass, and the fixpoint that maximum lags ask for.

Every requirement is read the other way round, as an upper bound on the package in front. There is
one greatest solution; one sweep against the order of precedence finds it, then a worklist if there
are windows. Floats are differences of counts of open minutes, so they need no search.

Here: latest dates, total and free float. Not here: what drives, conflicts, ids.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from heapq import heapify, heappop, heappush

from .calendars import FOREVER, Hours, latest_before, window_end
from .earliest import Earliest
from .network import Network, Term
from .problem import Minutes, Progress

Bounds = tuple[Minutes, Minutes, Minutes, Minutes]
"""Upper bounds: start and finish against the latest dates of others, then against the earliest."""


class Latest:
    """Latest dates and floats of every package of a network, by position.

    The target keeps its earliest finish, nothing ends after the earliest end of everything. A
    date before the first span of a calendar is given as if the place had always been open.
    """

    __slots__ = (
        "earliest",
        "end",
        "finish",
        "free",
        "free_start",
        "network",
        "start",
        "target",
        "total",
        "windows_into",
        "work_finish",
    )

    def __init__(self, network: Network, earliest: Earliest) -> None:
        self.network, self.earliest = network, earliest
        size = len(network.ids)
        self.start: list[Minutes] = [0] * size
        self.work_finish: list[Minutes] = [0] * size
        self.finish: list[Minutes] = [0] * size
        self.total: list[Minutes] = [0] * size
        self.free: list[Minutes] = [0] * size
        self.end = max(earliest.finish, default=network.problem.now)
        target = network.problem.target
        self.target = -1 if target is None else network.index[target]
        self.windows_into: dict[int, list[Term]] = {}
        # A package that has begun holds nobody to a date.
        self.free_start = earliest.start.copy()
        for i in network.begun:
            self.free_start[i] = FOREVER
        self._sweep()
        if network.windows:
            self._keep_windows()
        for i in network.begun:
            self.start[i] = earliest.start[i]

    def _sweep(self) -> None:
        """Once against the order of precedence. The common case stays inside this loop."""
        network, earliest = self.network, self.earliest
        head, plain, terms, hours = network.head, network.plain, network.terms, network.hours
        work, hold = network.work, network.hold
        special = {*network.special, self.target}
        count, earliest_finish, free_start = earliest.count, earliest.finish, self.free_start
        start, work_finish, finish = self.start, self.work_finish, self.finish
        total, free, end = self.total, self.free, self.end
        for i in reversed(earliest.order):
            opening, minutes = hours[i], work[i]
            by_latest = by_earliest = end
            for edge in plain[i]:
                j = head[edge]
                moment = start[j]
                if moment < by_latest:
                    by_latest = moment
                moment = free_start[j]
                if moment < by_earliest:
                    by_earliest = moment
            if i in special:
                self._date(i, self._bounds(i))
                continue
            others = terms[i]
            if others is None:
                start_by_latest = start_by_earliest = FOREVER
            else:
                start_by_latest, by_latest, start_by_earliest, by_earliest = self._term_bounds(
                    others, by_latest, by_earliest
                )
            latest_work_finish = by_latest - hold[i]
            if not minutes:
                done_by_earliest = by_earliest - hold[i]
                if others is None and by_latest >= earliest_finish[i] <= by_earliest:
                    # The same as below for the common case: nothing but finishes bound it.
                    start[i] = work_finish[i] = latest_work_finish
                    finish[i] = by_latest
                    total[i] = slack = opening.counted(latest_work_finish) - count[i]
                    if by_earliest == earliest_finish[i]:
                        slack = 0
                    elif by_earliest != by_latest:
                        slack = opening.counted(done_by_earliest) - count[i]
                    free[i] = slack
                    continue
                self._date_milestone(
                    i, (start_by_latest, latest_work_finish, start_by_earliest, done_by_earliest)
                )
                continue
            span = bisect_left(opening.starts, latest_work_finish) - 1
            if span < 0:
                bounds = (start_by_latest, by_latest, start_by_earliest, by_earliest)
                self._date(i, bounds)
                continue
            before = opening.before[span]
            if latest_work_finish > opening.ends[span]:
                latest_work_finish = opening.ends[span]
            worked = before + latest_work_finish - opening.starts[span] - minutes
            if worked >= before:
                latest_start = latest_work_finish - minutes
            elif worked < 0:
                latest_start = opening.latest_at(worked)
            else:  # the same, written out: the call costs more than it
                span = bisect_right(opening.before, worked) - 1
                latest_start = opening.starts[span] + worked - opening.before[span]
            if start_by_latest < latest_start:
                worked = opening.position(start_by_latest + 1) - 1
                latest_start = opening.latest_at(worked)
                latest_work_finish = opening.earliest_at(worked + minutes)
            start[i] = latest_start
            work_finish[i] = latest_work_finish
            finish[i] = latest_work_finish + hold[i]
            total[i] = slack = worked - count[i]
            if by_earliest == earliest_finish[i]:
                free[i] = 0
            elif start_by_earliest != FOREVER:
                slack = _last_count(opening, start_by_earliest, by_earliest - hold[i], minutes)
                free[i] = slack - count[i]
            elif by_earliest == by_latest:
                free[i] = slack
            else:
                free[i] = opening.counted(by_earliest - hold[i]) - minutes - count[i]

    def _bounds(self, i: int) -> Bounds:
        """All upper bounds on package i, except that of its own deadline or booking."""
        network, earliest = self.network, self.earliest
        by_latest = by_earliest = self.end if i != self.target else earliest.finish[i]
        for edge in network.plain[i]:
            j = network.head[edge]
            by_latest = min(by_latest, self.start[j])
            by_earliest = min(by_earliest, self.free_start[j])
        start_by_latest, by_latest, start_by_earliest, by_earliest = self._term_bounds(
            network.terms[i] or (), by_latest, by_earliest
        )
        for edge, _, from_finish, to_start, lag, hours in self.windows_into.get(i, ()):
            j = network.tail[edge]
            planned = earliest.finish[j] if from_finish else earliest.start[j]
            free = latest = window_end(planned, lag, hours)
            if j not in earliest.fixed:
                latest = window_end(self.finish[j] if from_finish else self.start[j], lag, hours)
            if to_start:
                start_by_latest = min(start_by_latest, latest)
                start_by_earliest = min(start_by_earliest, free)
            else:
                by_latest, by_earliest = min(by_latest, latest), min(by_earliest, free)
        return start_by_latest, by_latest, start_by_earliest, by_earliest

    def _term_bounds(
        self, terms: Iterable[Term], by_latest: Minutes, by_earliest: Minutes
    ) -> Bounds:
        """The bounds that lags and other relations add to those on the finish given."""
        early_start, early_finish = self.free_start, self.earliest.finish
        start_by_latest = start_by_earliest = FOREVER
        for _, j, from_finish, to_start, lag, hours in terms:
            free = early_start[j]
            if free == FOREVER:
                continue
            if to_start:
                latest = self.start[j]
            else:
                latest, free = self.finish[j], early_finish[j]
            if hours is None or not lag:
                latest, free = latest - lag, free - lag
            else:
                latest, free = latest_before(latest, lag, hours), latest_before(free, lag, hours)
            if from_finish:
                if latest < by_latest:
                    by_latest = latest
                if free < by_earliest:
                    by_earliest = free
            else:
                if latest < start_by_latest:
                    start_by_latest = latest
                if free < start_by_earliest:
                    start_by_earliest = free
        return start_by_latest, by_latest, start_by_earliest, by_earliest

    def _date(self, i: int, bounds: Bounds) -> bool:
        """Latest dates and floats of package i from its bounds; True if the dates changed."""
        network, earliest = self.network, self.earliest
        start_by_latest, by_latest, start_by_earliest, by_earliest = bounds
        before = self.start[i], self.finish[i]
        hold, work, hours = network.hold[i], network.work[i], network.hours[i]
        package, promised = network.special.get(i), None
        if package is not None:
            if package.deadline is not None:
                by_latest = min(by_latest, package.deadline)
            if package.progress is not None:
                self._date_begun(i, package.progress, by_latest - hold, by_earliest - hold)
                return before != (self.start[i], self.finish[i])
            if package.booked is not None:
                start_by_latest = min(start_by_latest, package.booked)
                start_by_earliest = earliest.start[i]
            promised = package.promised
        by_latest, by_earliest = by_latest - hold, by_earliest - hold
        if work == 0:
            self._date_milestone(i, (start_by_latest, by_latest, start_by_earliest, by_earliest))
            return before != (self.start[i], self.finish[i])
        begins = network.begins[i]
        if begins is hours:
            worked = _last_count(hours, start_by_latest, by_latest, work)
            free = _last_count(hours, start_by_earliest, by_earliest, work) - earliest.count[i]
        else:
            worked = hours.position(begins.last_open(min(start_by_latest, by_latest - work)))
            last = begins.last_open(min(start_by_earliest, by_earliest - work))
            free = hours.position(last) - earliest.count[i]
        total = worked - earliest.count[i]
        end = hours.earliest_at(worked + work)
        if promised is not None:
            # The promised end may leave less room than the work would.
            done = hours.position(earliest.work_finish[i])
            total = min(total, hours.position(by_latest) - done)
            free = min(free, hours.position(by_earliest) - done)
            if end < promised <= by_latest:
                end = promised
        self.start[i] = hours.latest_at(worked)
        self.work_finish[i], self.finish[i] = end, end + hold
        self.total[i], self.free[i] = total, max(free, 0)
        return before != (self.start[i], self.finish[i])

    def _date_begun(
        self, i: int, progress: Progress, by_latest: Minutes, by_earliest: Minutes
    ) -> None:
        """A package that has begun: its float is that of its finish, if it has not finished."""
        hours, planned = self.network.hours[i], self.earliest.work_finish[i]
        end = planned
        if progress.finished is None:
            done = hours.position(planned)
            self.total[i] = hours.position(by_latest) - done
            self.free[i] = max(hours.position(by_earliest) - done, 0)
            end = hours.earliest_at(hours.position(by_latest))
            if end < planned <= by_latest:
                end = planned
        self.start[i] = FOREVER  # until all are dated: nobody in front is held to it
        self.work_finish[i], self.finish[i] = end, end + self.network.hold[i]

    def _date_milestone(self, i: int, bounds: Bounds) -> None:
        """A package without work: it takes any minute; only its float is counted in open ones."""
        earliest, hours = self.earliest, self.network.hours[i]
        start, work_finish = earliest.start[i], earliest.work_finish[i]
        start_by_latest, by_latest, start_by_earliest, by_earliest = bounds
        late_by = min(start_by_latest - start, by_latest - work_finish)
        free_by = max(min(start_by_earliest - start, by_earliest - work_finish), 0)
        self.start[i] = min(start_by_latest, by_latest)
        self.work_finish[i] = self.start[i]
        if self.start[i] < work_finish <= by_latest and start < work_finish:
            self.work_finish[i] = work_finish  # a promise keeps it back
        self.finish[i] = self.work_finish[i] + self.network.hold[i]
        self.free[i] = hours.worked(start, start + free_by)
        if late_by >= 0:
            self.total[i] = hours.worked(start, start + late_by)
        else:
            self.total[i] = hours.position(start + late_by) - hours.position(start)

    def _keep_windows(self) -> None:
        """Lower dates until every window holds, too, at the latest dates of both its packages.

        A window from A to B says that B comes soon after A: the latest start of B follows from
        that of A. If A is fixed, it follows from the date A has. Dates before every calendar
        begins push nothing further: there, only the size of a hopeless float would change.
        """
        network, earliest = self.network, self.earliest
        place = [0] * len(network.ids)
        for position, i in enumerate(earliest.order):
            place[i] = -position
        before: list[list[int]] = [[] for _ in network.ids]
        for i, j in zip(network.tail, network.head, strict=True):
            before[j].append(i)
        out_of: dict[int, list[int]] = {}
        for term in network.windows:
            self.windows_into.setdefault(term[1], []).append(term)
            if network.tail[term[0]] not in earliest.fixed:
                out_of.setdefault(network.tail[term[0]], []).append(term[1])
        floor = min(
            (hours.starts[0] for hours in network.hours if hours.starts),
            default=network.problem.now,
        )
        floor = min(floor, network.problem.now)
        waiting = set(self.windows_into)
        queue = [place[i] for i in waiting]
        heapify(queue)
        while queue:
            i = earliest.order[-heappop(queue)]
            waiting.discard(i)
            if not self._date(i, self._bounds(i)) or self.start[i] < floor:
                continue
            for j in (*before[i], *out_of.get(i, ())):
                if j not in waiting:
                    waiting.add(j)
                    heappush(queue, place[j])


def _last_count(hours: Hours, start_by: Minutes, work_by: Minutes, work: Minutes) -> Minutes:
    """Open minutes before the latest start that is at ``start_by`` and ends at ``work_by``."""
    count = hours.position(work_by) - work
    if start_by < FOREVER:
        # Work starts in an open minute: the last one that begins no later than `start_by`.
        capped = hours.position(start_by + 1) - 1
        if capped < count:
            return capped
    return count

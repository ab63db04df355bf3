"""Earliest dates: the forward pass, and the fixpoint that maximum lags ask for.

Every requirement is a lower bound on the start or on the finish of one package, and grows with
the dates it comes from. So there is one least solution, and raising dates until no bound is
violated finds it: one sweep in the order of precedence, and a worklist if there are windows.

Here: dates and the edge that set them. Not here: latest dates, floats, conflicts, ids.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from heapq import heapify, heappop, heappush

from .calendars import NEVER, earliest_after, window_begin
from .network import Network, Term
from .problem import BeyondHorizon, Contradiction, Minutes, Package, Progress

# What set a date, where it is not an edge (edges are 0..m-1, their windows m..2m-1).
NOW, NOT_BEFORE, BOOKING, PROGRESS, PROMISE, OWN_WORK = -1, -2, -3, -4, -5, -6


class Earliest:
    """Earliest dates of every package of a network, by position.

    ``order``: all of them, each after those it waits for. ``start``, ``work_finish``, ``finish``:
    the dates. ``count``: open minutes before the start in the package's own hours. ``bound``: the
    moment the start has been waiting for, before opening hours had their say. ``driver``: what
    set the start (a code above, an edge, or the number of edges plus an edge for its window).
    ``finish_driver``: PROGRESS or PROMISE where one of them set the finish.

    CycleFound if there is no such order, BeyondHorizon if a calendar ends too early,
    Contradiction if windows can never be kept.
    """

    __slots__ = (
        "bound",
        "count",
        "driver",
        "finish",
        "finish_bound",
        "finish_bound_driver",
        "finish_driver",
        "fixed",
        "network",
        "order",
        "start",
        "work_finish",
    )

    def __init__(self, network: Network) -> None:
        self.network = network
        size = len(network.ids)
        # One minute below the bound of its own, so that a dependency that ends exactly then
        # counts as the driver: the chain should lead to the work, not stop at the clock.
        self.bound: list[Minutes] = [network.problem.now - 1] * size
        self.driver: list[int] = [NOW] * size
        self.finish_bound: dict[int, Minutes] = {}
        self.finish_bound_driver: dict[int, int] = {}
        self.start: list[Minutes] = [0] * size
        self.work_finish: list[Minutes] = [0] * size
        self.finish: list[Minutes] = [0] * size
        self.count: list[Minutes] = [0] * size
        self.finish_driver: dict[int, int] = {}
        self.fixed: set[int] = set()
        """Started or booked: no window moves these, a window they miss is a conflict."""
        for i, package in network.special.items():
            if package.progress is not None or package.booked is not None:
                self.fixed.add(i)
            if package.not_before is not None and package.not_before - 1 > self.bound[i]:
                self.bound[i], self.driver[i] = package.not_before - 1, NOT_BEFORE
            if package.booked is not None and package.booked - 1 >= self.bound[i]:
                self.bound[i], self.driver[i] = package.booked - 1, BOOKING
        self.order: list[int] = []
        try:
            self._sweep()
        except BeyondHorizon:
            network.refuse_rings()  # the better answer, if there is a ring too
            raise
        if len(self.order) < size:
            network.refuse_rings()
        if network.windows:
            self._keep_windows()

    def _sweep(self) -> None:
        """Date each package as soon as all that it waits for are dated.

        Counting down how many edges into a package are still open makes that order as it goes
        (Kahn's algorithm). The common case stays inside this loop.
        """
        network, order = self.network, self.order
        waiting = network.waiting.copy()
        order.extend(i for i, count in enumerate(waiting) if not count)
        head, plain, terms, hours = network.head, network.plain, network.terms, network.hours
        work, hold, special, begun = network.work, network.hold, network.special, network.begun
        bound, driver, finish_bound = self.bound, self.driver, self.finish_bound
        start, work_finish, finish, count = self.start, self.work_finish, self.finish, self.count
        for i in order:  # grows while it is read
            if i in special:
                self._date(i)
                begin, end = start[i], finish[i]
            else:
                minutes, opening, begin = work[i], hours[i], bound[i]
                if driver[i] < 0:
                    begin += 1
                if minutes:
                    ends = opening.ends
                    span = bisect_right(ends, begin)
                    if span == len(ends):
                        opening.open_from(begin)  # says what is wrong
                    opens = opening.starts[span]
                    if begin < opens:
                        begin = opens
                    count[i] = worked = opening.before[span] + begin - opens
                    end = begin + minutes
                    if end > ends[span]:  # earliest_at, written out: the call costs more than it
                        worked += minutes
                        before = opening.before
                        span = bisect_left(before, worked) - 1
                        end = opening.starts[span] + worked - before[span]
                        if end > ends[span]:
                            opening.earliest_at(worked)  # says what is wrong
                else:
                    end = begin
                    count[i] = opening.counted(begin)
                start[i] = begin
                work_finish[i] = end
                finish[i] = end = end + hold[i]
                if i in finish_bound and finish_bound[i] > end:
                    self._date(i)
                    begin, end = start[i], finish[i]
            for edge in plain[i]:
                j = head[edge]
                if end > bound[j]:
                    bound[j] = end
                    driver[j] = edge
                waiting[j] = left = waiting[j] - 1
                if not left:
                    order.append(j)
            others = terms[i]
            if others is not None:
                for edge, j, from_finish, to_start, lag, lag_hours in others:
                    moment = end if from_finish else begin
                    if lag_hours is None or not lag:
                        moment += lag
                    elif j not in begun:
                        moment = earliest_after(moment, lag, lag_hours)
                    if not to_start:
                        self._raise(j, moment, at_start=False, driver=edge)
                    elif moment > bound[j]:
                        bound[j] = moment
                        driver[j] = edge
                    waiting[j] = left = waiting[j] - 1
                    if not left:
                        order.append(j)

    def _date(self, i: int) -> bool:
        """Date package i from its bounds, whatever it is; True if that changed something."""
        network = self.network
        hours, work, package = network.hours[i], network.work[i], network.special.get(i)
        if package is not None and package.progress is not None:
            return self._date_started(i, package, package.progress)
        start = self.bound[i] + (self.driver[i] < 0)
        begins = network.begins[i]
        if work:
            start = begins.open_from(start)
        promised = NEVER if package is None or package.promised is None else package.promised
        wanted = self.finish_bound.get(i, NEVER) - network.hold[i]
        if wanted > promised:
            if begins is hours:
                pushed = hours.earliest_start(wanted, work)
            else:
                pushed = begins.open_from(wanted - work)
            if pushed > start:
                start = pushed
                self.bound[i], self.driver[i] = pushed, self.finish_bound_driver[i]
        work_finish = hours.finish(start, work)
        if promised > work_finish:
            work_finish = promised
            self.finish_driver[i] = PROMISE
        else:
            self.finish_driver.pop(i, None)
        return self._set(i, start, work_finish)

    def _date_started(self, i: int, package: Package, progress: Progress) -> bool:
        """Actuals win: nothing that should have come first holds back what has begun."""
        network, now = self.network, self.network.problem.now
        start, hours = progress.started, network.hours[i]
        self.bound[i], self.driver[i], self.finish_driver[i] = start, PROGRESS, PROGRESS
        if progress.finished is not None:
            return self._set(i, start, progress.finished)
        remaining = progress.remaining
        if remaining is None:
            remaining = max(0, package.work - hours.worked(start, now))
        work_finish = hours.finish(now, remaining)
        if package.promised is not None and package.promised > work_finish:
            work_finish = package.promised
            self.finish_driver[i] = PROMISE
        return self._set(i, start, work_finish)

    def _set(self, i: int, start: Minutes, work_finish: Minutes) -> bool:
        changed = start != self.start[i] or work_finish != self.work_finish[i]
        self.start[i], self.work_finish[i] = start, work_finish
        self.finish[i] = work_finish + self.network.hold[i]
        self.count[i] = self.network.hours[i].counted(start)
        return changed

    def _push(self, i: int, term: Term) -> bool:
        """Raise the bound at the far end of an edge out of i; True if that was needed."""
        edge, j, from_finish, to_start, lag, hours = term
        if j in self.network.begun:
            return False
        moment = earliest_after(self.finish[i] if from_finish else self.start[i], lag, hours)
        return self._raise(j, moment, at_start=to_start, driver=edge)

    def _raise(self, i: int, moment: Minutes, *, at_start: bool, driver: int) -> bool:
        if at_start:
            # Here a tie does not take over: among windows it could close a ring of drivers.
            if moment > self.bound[i] + (self.driver[i] < 0):
                self.bound[i], self.driver[i] = moment, driver
                return True
        elif moment > self.finish_bound.get(i, NEVER):
            self.finish_bound[i], self.finish_bound_driver[i] = moment, driver
            return True
        return False

    def _keep_windows(self) -> None:
        """Raise dates until every window holds (label correcting, in topological order).

        A window from A to B is kept by moving *A later*: B cannot come earlier than its own
        bounds. What changes is dated again and pushes on, forwards along edges and backwards
        along windows.
        """
        network = self.network
        place = [0] * len(network.ids)
        for position, i in enumerate(self.order):
            place[i] = position
        into: dict[int, list[Term]] = {}
        for term in network.windows:
            if network.tail[term[0]] not in self.fixed:
                into.setdefault(term[1], []).append(term)
        changes = [0] * len(network.ids)
        waiting = {i for j in into for i in self._pull(j, into[j])}
        queue = [place[i] for i in waiting]
        heapify(queue)
        while queue:
            i = self.order[heappop(queue)]
            waiting.discard(i)
            try:
                if not self._date(i):
                    continue
            except BeyondHorizon as beyond:
                ring = self._ring(i)
                if not ring:
                    raise
                raise self._contradiction(ring) from beyond
            changes[i] += 1
            if changes[i] >= 8 and changes[i].bit_count() == 1:  # 8, 16, 32, ...
                ring = self._ring(i)
                if self._grows_for_ever(ring):
                    raise self._contradiction(ring)
            touched = self._pull(i, into.get(i, []))
            for edge in network.plain[i]:
                j = network.head[edge]
                if self._raise(j, self.finish[i], at_start=True, driver=edge):
                    touched.append(j)
            for term in network.terms[i] or ():
                if self._push(i, term):
                    touched.append(term[1])
            for j in touched:
                if j not in waiting:
                    waiting.add(j)
                    heappush(queue, place[j])

    def _pull(self, j: int, windows: list[Term]) -> list[int]:
        """Raise what must not come too long before j; the packages raised."""
        raised, size = [], len(self.network.tail)
        for edge, _, from_finish, to_start, lag, hours in windows:
            i = self.network.tail[edge]
            moment = window_begin(self.start[j] if to_start else self.finish[j], lag, hours)
            # Only a window that is broken moves anything, and becomes a driver.
            if moment > (self.finish[i] if from_finish else self.start[i]):
                self._raise(i, moment, at_start=not from_finish, driver=size + edge)
                raised.append(i)
        return raised

    def pushed_by(self, i: int) -> tuple[int, bool, bool] | None:
        """Who set the start of i, by which of its ends (at its finish?), and at which end of i.

        None where no other package did.
        """
        code, size = self.driver[i], len(self.network.tail)
        if code < 0:
            return None
        edge = code if code < size else code - size
        relation = self.network.problem.dependencies[edge].relation
        if code < size:
            return self.network.tail[edge], relation.from_finish, not relation.to_start
        return self.network.head[edge], not relation.to_start, relation.from_finish

    def _ring(self, i: int) -> list[int]:
        """The ring that drivers lead into from i, each pushed by the next; empty if none."""
        path: list[int] = []
        seen: dict[int, int] = {}
        while i not in seen:
            seen[i] = len(path)
            path.append(i)
            pushed = self.pushed_by(i)
            if pushed is None:
                return []
            i = pushed[0]
        return path[seen[i] :]

    def _grows_for_ever(self, ring: list[int]) -> bool:
        """Whether going round the ring once pushes each date later, wherever it stands.

        Only what holds on any calendar counts: lags on the clock, and that work takes at least
        its minutes. What depends on opening hours proves nothing (a push into the next week may
        settle the matter), and is left to the end of the calendars.
        """
        network, total = self.network, 0
        for i in ring:
            pushed = self.pushed_by(i)
            if pushed is None:
                return False
            by, from_finish, _ = pushed
            code, size = self.driver[i], len(network.tail)
            dependency = network.problem.dependencies[code if code < size else code - size]
            lag = dependency.min_lag if code < size else -(dependency.max_lag or 0)
            if dependency.lag_calendar is not None and (lag < 0 or code >= size):
                return False
            total += lag
            # The push reached `by` at one of its ends and left it at the other or the same.
            before = self.pushed_by(by)
            if before is None:
                return False
            arrived_at_finish = before[2]
            span = network.work[by] + network.hold[by]
            if from_finish and not arrived_at_finish:
                total += span
            elif arrived_at_finish and not from_finish:
                if network.work[by] and len(network.hours[by].starts) > 1:
                    return False
                total -= span
        return bool(ring) and total > 0

    def _contradiction(self, ring: list[int]) -> Contradiction:
        ids = tuple(self.network.ids[i] for i in reversed(ring))
        return Contradiction(
            ids,
            "these packages have to come soon after each other and cannot, whatever the dates: "
            + ", ".join(ids),
        )

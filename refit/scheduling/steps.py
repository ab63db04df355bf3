"""Functions of time that never fall, cut into steps; and the grain that all times share.

A step is a stretch of moments to which a function adds the same number, or gives the same moment.
The constraint model (`exact_model`) is made of them. Not here: anything of the solver.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from heapq import heappop, heappush
from math import gcd

from .calendars import FOREVER, NEVER, Hours, intersect
from .problem import BeyondHorizon, Minutes
from .stated import Stated

Steps = tuple[Minutes, Minutes, bool, Minutes]
"""From this moment to that (included): adds the minutes (True), or gives the moment (False)."""


def grain_of(stated: Stated) -> tuple[Minutes, bool]:
    """Minutes that everything is a multiple of, and whether that is so of *now* and facts too.

    One minute where the end of a package or an open-hours window bounds others: a bound on a
    finish may move a start to the minute after closing.
    """
    problem = stated.problem
    if any(not d.relation.to_start for d in problem.dependencies):
        return 1, True
    if any(d.max_lag is not None and d.lag_calendar for d in problem.dependencies):
        return 1, True
    numbers: list[Minutes] = []
    for package in problem.packages:
        if package.id not in stated.facts:
            wishes = (package.booked, package.not_before, package.deadline, package.promised)
            numbers += [package.work, package.hold, *(wish or 0 for wish in wishes)]
    for calendar in problem.calendars:
        numbers += [moment for span in calendar.spans for moment in span]
    for d in problem.dependencies:
        numbers += [d.min_lag, d.max_lag or 0]
    numbers += [minutes for t in problem.travels for minutes in (t.minutes, t.towed or 0)]
    numbers += [m for r in problem.resources for o in r.outages for m in (o.start, o.end)]
    grain = gcd(*numbers) or 1
    happened = [p.finish for p in stated.facts.values()]
    happened += [m for p in stated.facts.values() for m in (p.start, p.work_finish)]
    happened += [piece.free_from for piece in problem.pieces]
    exact = gcd(grain, stated.now, *happened) or 1
    return (exact, True) if exact >= min(grain, 5) else (grain, False)


def steps_of(
    function: Callable[[Minutes], Minutes],
    cuts: Sequence[Minutes],
    low: Minutes,
    high: Minutes,
) -> list[Steps]:
    """The steps of a function on ``[low, high]``, constant or rising by one between jumps.

    Between two of ``cuts`` it is one of the two and jumps, or it is both and does not jump.
    """
    inside = cuts[bisect_right(cuts, low) : bisect_left(cuts, high + 1)]
    begins = [low, *dict.fromkeys(inside)]
    ends = [*(cut - 1 for cut in begins[1:]), high]
    steps: list[Steps] = []
    for begin, end in zip(begins, ends, strict=True):
        _split(function, begin, end, function(begin), function(end), steps)
    return steps


def _split(
    function: Callable[[Minutes], Minutes],
    low: Minutes,
    high: Minutes,
    first: Minutes,
    last: Minutes,
    steps: list[Steps],
) -> None:
    if first == last and low < high:
        _append(steps, (low, high, False, first))
    elif last - first == high - low:
        _append(steps, (low, high, True, first - low))
    else:
        middle = (low + high) // 2
        _split(function, low, middle, first, function(middle), steps)
        _split(function, middle + 1, high, function(middle + 1), last, steps)


def _append(steps: list[Steps], step: Steps) -> None:
    if steps and steps[-1][1] + 1 == step[0]:
        low, _, adds, minutes = steps[-1]
        one_more = not adds and step[2] and step[0] == step[1] and step[0] + step[3] == minutes
        if one_more or (adds, minutes) == step[2:]:
            steps[-1] = low, step[1], adds, minutes
            return
    steps.append(step)


def boundaries(hours: Hours, low: Minutes, high: Minutes) -> list[Minutes]:
    """The moments within ``[low, high]`` at which it opens or closes."""
    found = hours.starts[bisect_left(hours.starts, low) : bisect_right(hours.starts, high)]
    return found + hours.ends[bisect_left(hours.ends, low) : bisect_right(hours.ends, high)]


def open_between(hours: Hours, low: Minutes, high: Minutes) -> list[tuple[Minutes, Minutes]]:
    """The open stretches within ``[low, high]``, last minutes included."""
    if low > high or low <= NEVER:
        return []
    found = []
    for index in range(bisect_right(hours.ends, low), len(hours.starts)):
        start, end = max(hours.starts[index], low), min(hours.ends[index] - 1, high)
        if start > high:
            break
        found.append((start, end))
    return found


class Ways:
    """When a piece can be at one place at the earliest, having been at another, by whatever way.

    A way is open in stretches: those minutes in which a piece can leave the one place while that
    is open and reaches the other while that is. Within a stretch it is on its way at once. Before
    one it waits; or comes by a third place, if that is sooner (the earliest arrival by any way,
    Dijkstra 1959 with waiting times; the answer for the first minute of the wait stands for all of
    it, so that it is never too late).
    """

    def __init__(self, stated: Stated, *, towed: bool = False) -> None:
        self.stated, self.towed = stated, towed
        self.minutes = {
            (t.origin, t.destination): stated.travel(t.origin, t.destination, towed=towed)
            for t in stated.problem.travels
        }
        self._shortest = dict(self.minutes)
        places = list(stated.places)
        for through in places:  # Floyd 1962
            for origin in places:
                for place in places:
                    first = self._shortest.get((origin, through))
                    then = self._shortest.get((through, place))
                    if first is not None and then is not None and origin != place:
                        direct = self._shortest.get((origin, place), first + then)
                        self._shortest[origin, place] = min(direct, first + then)
        self._stretches: dict[tuple[str, str], list[tuple[Minutes, Minutes]]] = {}
        self._waits: dict[tuple[str, str, Minutes], Minutes] = {}
        self._latest: dict[tuple[str, str, Minutes], Minutes] = {}

    def arrival(self, origin: str, place: str, ready: Minutes) -> Minutes:
        """Like `Stated.passage`, but true as a bound even if it stays at a third place between;
        FOREVER where the calendars end before it gets there."""
        minutes = self.minutes.get((origin, place))
        if minutes is None or minutes > self._shortest[origin, place]:
            return self._at_least(origin, place, ready)
        stretches = self._open(origin, place)
        index = bisect_left(stretches, ready, key=lambda stretch: stretch[1])
        if index < len(stretches) and stretches[index][0] <= ready:
            return ready + minutes
        since = stretches[index - 1][1] + 1 if index else min(self.stated.now, ready)
        key = origin, place, since
        if key not in self._waits:
            self._waits[key] = self._by_any_way(origin, place, since)
        return self._waits[key]

    def latest_ready(self, origin: str, place: str, needed: Minutes) -> Minutes:
        """The latest moment from which it arrives by ``needed``, now or later; else before now."""
        key = origin, place, needed
        if key not in self._latest:
            low, high = self.stated.now - 1, max(needed, self.stated.now - 1)
            while low < high:
                middle = (low + high + 1) // 2
                if self.arrival(origin, place, middle) <= needed:
                    low = middle
                else:
                    high = middle - 1
            self._latest[key] = low
        return self._latest[key]

    def _at_least(self, origin: str, place: str, ready: Minutes) -> Minutes:
        """Both places open, the shortest way between: all that is sure where there is a detour."""
        try:
            leaves = self.stated.place_hours(origin).open_from(ready)
            there = leaves + self._shortest.get((origin, place), 0)
            return max(there, self.stated.place_hours(place).open_from(there - 1))
        except BeyondHorizon:
            return FOREVER

    def _open(self, origin: str, place: str) -> list[tuple[Minutes, Minutes]]:
        """The first and last minute of each stretch in which a piece can leave."""
        known = self._stretches.get((origin, place))
        if known is None:
            leaves, reaches = self.stated.place_hours(origin), self.stated.place_hours(place)
            minutes = self.minutes[origin, place]
            known = []
            leaving = list(zip(leaves.starts, leaves.ends, strict=True))
            for first, last in intersect(
                leaving,
                [
                    (start - minutes, end - minutes + 1)
                    for start, end in zip(reaches.starts, reaches.ends, strict=True)
                ],
            ):
                if known and first <= known[-1][1] + 1:
                    known[-1] = known[-1][0], max(known[-1][1], last - 1)
                else:
                    known.append((first, last - 1))
            self._stretches[origin, place] = known
        return known

    def _by_any_way(self, origin: str, place: str, ready: Minutes) -> Minutes:
        queue, done = [(ready, origin)], set()
        while queue:
            moment, at = heappop(queue)
            if at == place:
                return moment
            if at not in done:
                done.add(at)
                for start, end in self.minutes:
                    if start == at and end not in done:
                        try:
                            arrive = self.stated.passage(start, end, moment, towed=self.towed)[1]
                        except BeyondHorizon:  # that way is not open any more
                            continue
                        heappush(queue, (arrive, end))
        return FOREVER

    def cuts(self, origin: str, place: str, low: Minutes, high: Minutes) -> list[Minutes]:
        """Where `arrival` changes from one step to the next."""
        minutes = self.minutes.get((origin, place))
        if minutes is not None and minutes <= self._shortest[origin, place]:
            stretches = self._open(origin, place)
            index = bisect_left(stretches, low, key=lambda stretch: stretch[1])
            found = []
            for first, last in stretches[index:]:
                if first > high:
                    break
                found += [first, last + 1]
            return found
        minutes = self._shortest.get((origin, place), 0)
        found = boundaries(self.stated.place_hours(origin), low, high)
        reaches = self.stated.place_hours(place)
        for moment in boundaries(reaches, low + minutes - 1, high + minutes + 1):
            found += [moment - minutes, moment - minutes + 1]
        return found

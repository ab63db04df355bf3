"""Functions of time that never fall, cut into steps; and the grain that all times share.

A step is a stretch of moments to which a function adds the same number, or gives the same moment.
The constraint model (`exact_model`) is made of them. Not here: anything of the solver.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from math import gcd

from .calendars import NEVER, Hours
from .problem import Minutes
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
    numbers += [travel.minutes for travel in problem.travels]
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
    """When a piece can be at one place at the earliest, having been at another, by whatever way."""

    def __init__(self, stated: Stated) -> None:
        self.stated = stated
        self.minutes = {(t.origin, t.destination): t.minutes for t in stated.problem.travels}
        places = list(stated.places)
        for through in places:
            for origin in places:
                for place in places:
                    first = self.minutes.get((origin, through))
                    then = self.minutes.get((through, place))
                    if first is not None and then is not None and origin != place:
                        direct = self.minutes.get((origin, place), first + then)
                        self.minutes[origin, place] = min(direct, first + then)

    def arrival(self, origin: str, place: str, ready: Minutes) -> Minutes:
        """It leaves while the one is open and arrives while the other is, closing time included.

        Like `Stated.passage`, but true as a bound even if it stays at a third place in between.
        """
        leaves = self.stated.place_hours(origin).open_from(ready)
        there = leaves + self.minutes.get((origin, place), 0)
        return max(there, self.stated.place_hours(place).open_from(there - 1))

    def cuts(self, origin: str, place: str, low: Minutes, high: Minutes) -> list[Minutes]:
        """Where `arrival` changes from one step to the next."""
        minutes = self.minutes.get((origin, place), 0)
        found = boundaries(self.stated.place_hours(origin), low, high)
        reaches = self.stated.place_hours(place)
        for moment in boundaries(reaches, low + minutes - 1, high + minutes + 1):
            found += [moment - minutes, moment - minutes + 1]
        return found

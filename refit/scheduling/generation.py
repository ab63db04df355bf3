"""One plan from one order of priority: the serial schedule-generation scheme.

Textbook (Kelley 1963; Kolisch 1996, *Serial and parallel resource-constrained project scheduling
methods revisited*; named from memory): take the packages one at a time, always the most urgent of
those whose predecessors are placed, and give each the first start at which everything it needs is
there. What is ours is what "everything" means: opening hours, pieces that travel, bookings
reserved beforehand. Which order is best, and what to do when a requirement is missed, is decided
in `level`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from functools import partial
from heapq import heapify, heappop, heappush

from .calendars import NEVER
from .lags import earliest_point, earliest_source, point_of, source_of
from .problem import Dependency, Minutes, Package, Planned, Relation
from .stated import Stated
from .timelines import Stay, Usage, Whereabouts, demand_span

Ranks = Mapping[str, float]
"""The lower, the more urgent. Equal ranks go in the order of `Stated.order`."""


CAREFUL = 6
"""Bookings given up one at a time in one plan; a real refit has hardly more in all."""


class Generation:
    """Makes plans of one problem. Facts are placed once, every plan starts from a copy."""

    def __init__(self, stated: Stated) -> None:
        self.stated = stated
        self.position = {name: index for index, name in enumerate(stated.order)}
        self._usage = {name: Usage(r) for name, r in stated.resources.items()}
        self._whereabouts = {name: Whereabouts(p, stated) for name, p in stated.pieces.items()}
        for name, dates in stated.facts.items():
            for demand in stated.packages[name].demands:
                self._usage[demand.resource].add(*demand_span(demand, dates), demand.units)
        self._floor = {
            name: max(
                stated.now,
                NEVER if p.not_before is None else p.not_before,
                NEVER if p.booked is None else p.booked,
            )
            for name, p in stated.packages.items()
        }
        # most dependencies only add a lag on the clock to a finish: those are kept ready
        self._after_finish: dict[str, list[tuple[str, Minutes]]] = {}
        self._other: dict[str, list[Dependency]] = {}
        for name, into in stated.into.items():
            plain = [d for d in into if d.relation is Relation.FINISH_TO_START]
            plain = [d for d in plain if d.lag_calendar is None or d.min_lag == 0]
            self._after_finish[name] = [(d.before, d.min_lag) for d in plain]
            self._other[name] = [d for d in into if d not in plain]
        self.unhindered = self._unhindered()
        bookings = [
            (package.booked, name)
            for name, package in stated.packages.items()
            if package.booked is not None and package.progress is None
        ]
        self.bookable = tuple(
            name for booked, name in sorted(bookings) if self.unhindered[name].start == booked
        )

    def generate(
        self, ranks: Ranks, releases: Mapping[str, Minutes] | None = None
    ) -> dict[str, Planned]:
        """Dates for all packages. ``releases``: starts that must not be undercut.

        Bookings are reserved before anything else is placed. One that turns out to lie before
        the end of what it waits for is given up, and the plan made again without it: perhaps
        the others can then be kept. After a few rounds all that turn out so are given up at once.
        """
        reserve = list(self.bookable)
        for _ in range(CAREFUL):
            placed, impossible = self._attempt(ranks, releases or {}, reserve, stop=True)
            if not impossible:
                return placed
            reserve.remove(impossible[0])
        while True:
            placed, impossible = self._attempt(ranks, releases or {}, reserve, stop=False)
            if not impossible:
                return placed
            reserve = [name for name in reserve if name not in impossible]

    def _attempt(
        self,
        ranks: Ranks,
        releases: Mapping[str, Minutes],
        reserve: Collection[str],
        *,
        stop: bool,
    ) -> tuple[dict[str, Planned], list[str]]:
        """A plan, and the reserved packages that could not have their place.

        ``stop``: at the first of them; the plan is worth nothing then.
        """
        attempt = self.nothing_placed()
        reserved = self.reserve(attempt, reserve, releases)
        placed: dict[str, Planned] = {}
        impossible: list[str] = []
        waiting = {name: len(into) for name, into in self.stated.into.items()}
        position = self.position
        ready = [(ranks[name], position[name], name) for name in waiting if not waiting[name]]
        heapify(ready)
        while ready:
            _, _, name = heappop(ready)
            if name in self.stated.facts:
                placed[name] = self.stated.facts[name]
            else:
                bound = max(self.bound(name, placed), releases.get(name, NEVER))
                if name in reserved:
                    if bound <= reserved[name].start:
                        placed[name] = reserved[name]
                    else:
                        impossible.append(name)
                        if stop:
                            return placed, impossible
                        attempt.give_back(name, reserved[name])
                if name not in placed:
                    placed[name] = attempt.fit(name, bound)
                    attempt.take(name, placed[name])
            for dependency in self.stated.out_of[name]:
                after = dependency.after
                waiting[after] -= 1
                if not waiting[after]:
                    heappush(ready, (ranks[after], position[after], after))
        return placed, impossible

    def reserve(
        self, attempt: Attempt, names: Iterable[str], releases: Mapping[str, Minutes]
    ) -> dict[str, Planned]:
        """Those of these bookings that can be kept beside each other, taken in the attempt."""
        reserved: dict[str, Planned] = {}
        for name in names:
            booked = self.unhindered[name].start
            if releases.get(name, NEVER) <= booked:
                dates = attempt.fit(name, booked)
                if dates.start == booked:
                    attempt.take(name, dates)
                    reserved[name] = dates
        return reserved

    def nothing_placed(self) -> Attempt:
        """Facts only; every plan begins so."""
        return Attempt(self.stated, self._usage, self._whereabouts)

    def compact(self, dates: dict[str, Planned]) -> dict[str, Planned]:
        """The plan with every package as early as the others let it be; none becomes later.

        There can be air in a plan. What a package was delayed for has moved; or a piece now comes
        from another place than when its package was placed, by a shorter way.
        """
        placed, attempt = dict(dates), self.nothing_placed()
        movable = [name for name in placed if name not in self.stated.facts]
        for name in movable:
            attempt.take(name, placed[name])
        moved = True
        while moved:
            moved = False
            for name in sorted(movable, key=lambda name: placed[name].start):
                old = placed[name]
                if self.stated.packages[name].booked == old.start:
                    continue
                bound = max(self.bound(name, placed), self.window_bound(name, placed))
                attempt.give_back(name, old)
                placed[name] = attempt.fit(name, bound)
                attempt.take(name, placed[name])
                moved = moved or placed[name].start < old.start
        return placed

    def window_bound(self, name: str, placed: Mapping[str, Planned]) -> Minutes:
        """The first start that keeps what it keeps now of the maximum lags behind it."""
        bound = NEVER
        for dependency in self.stated.out_of[name]:
            if dependency.max_lag is not None and dependency.after not in self.stated.facts:
                point = point_of(dependency, placed[dependency.after])
                start = earliest_source(dependency, point, self.stated.hours)
                if dependency.relation.from_finish:
                    start = start_for_finish(self.stated, self.stated.packages[name], start)
                if start <= placed[name].start:
                    bound = max(bound, start)
        return bound

    def bound(self, name: str, placed: Mapping[str, Planned]) -> Minutes:
        """The first start that today, its own dates and those it waits for permit."""
        bound = self._floor[name]
        for before, lag in self._after_finish[name]:
            point = placed[before].finish + lag
            if point > bound:
                bound = point
        stated = self.stated
        for dependency in self._other[name]:
            source = source_of(dependency, placed[dependency.before])
            point = earliest_point(dependency, source, stated.hours)
            if not dependency.relation.to_start:
                point = start_for_finish(stated, stated.packages[name], point)
            bound = max(bound, point)
        return bound

    def _unhindered(self) -> dict[str, Planned]:
        """Earliest dates if no piece and no resource were ever missing."""
        placed: dict[str, Planned] = {}
        for name in self.stated.order:
            if name in self.stated.facts:
                placed[name] = self.stated.facts[name]
            else:
                package = self.stated.packages[name]
                placed[name] = self.stated.dates(package, self.bound(name, placed))
        return placed


def start_for_finish(stated: Stated, package: Package, finish: Minutes) -> Minutes:
    """The first start whose finish is ``finish`` or later; NEVER if any start does."""
    work_finish = finish - package.hold
    if package.promised is not None and package.promised >= work_finish:
        return NEVER
    return stated.earliest_start(package, work_finish)


class Attempt:
    """What is taken while one plan is being made.

    Time lines are shared with the attempt it branched from until something is written to them.
    """

    __slots__ = ("_own", "_usage", "_whereabouts", "stated")

    def __init__(
        self, stated: Stated, usage: Mapping[str, Usage], whereabouts: Mapping[str, Whereabouts]
    ) -> None:
        self.stated = stated
        self._usage, self._whereabouts = dict(usage), dict(whereabouts)
        self._own: set[object] = set()

    def branch(self) -> Attempt:
        """One that goes on from here. Neither sees what the other takes from now on."""
        self._own = set()
        return Attempt(self.stated, self._usage, self._whereabouts)

    def _usage_of(self, resource: str) -> Usage:
        line = self._usage[resource]
        if line not in self._own:
            self._usage[resource] = line = line.copy()
            self._own.add(line)
        return line

    def _whereabouts_of(self, piece: str) -> Whereabouts:
        line = self._whereabouts[piece]
        if line not in self._own:
            self._whereabouts[piece] = line = line.copy()
            self._own.add(line)
        return line

    def fit(self, name: str, moment: Minutes) -> Planned:
        """Dates at the first start from ``moment`` on at which all it needs is there.

        Each time line only ever moves the start later, and each moves it no further than it
        must: when all of them leave it where it is, it is the first.
        """
        package = self.stated.packages[name]
        dating = partial(self.stated.dates, package)
        dates = dating(moment)
        while True:
            start = dates.start
            for piece in package.pieces:
                assert package.place is not None
                dates = self._whereabouts[piece].earliest(dates, package.place, dating)
            for demand in package.demands:
                dates = self._usage[demand.resource].earliest(dates, demand, dating)
            if start == dates.start:
                return dates

    def take(self, name: str, dates: Planned) -> None:
        package = self.stated.packages[name]
        for piece in package.pieces:
            assert package.place is not None
            stay = Stay(dates.start, dates.finish, package.place, name)
            self._whereabouts_of(piece).add(stay)
        for demand in package.demands:
            self._usage_of(demand.resource).add(*demand_span(demand, dates), demand.units)

    def give_back(self, name: str, dates: Planned) -> None:
        package = self.stated.packages[name]
        for piece in package.pieces:
            assert package.place is not None
            stay = Stay(dates.start, dates.finish, package.place, name)
            self._whereabouts_of(piece).remove(stay)
        for demand in package.demands:
            self._usage_of(demand.resource).add(*demand_span(demand, dates), -demand.units)

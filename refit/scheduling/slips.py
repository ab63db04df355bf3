"""How long each package of a plan may slip: a backward pass over the links of that plan.

The order in which pieces and resources are used stays as planned; opening hours, travel, holds
and lags count. That is the plan's own float: less than the float of the network alone, since a
piece or a shop that is needed elsewhere is in the way too.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from heapq import heapify, heappop, heappush

from .calendars import FOREVER
from .lags import latest_point, latest_source, point_of, source_of
from .links import Link, find_links
from .problem import Dependency, Minutes, Package, Plan, Planned, Problem
from .stated import Stated


class LimitKind(StrEnum):
    """What a package that slips would run into."""

    LAUNCH = "the launch"
    DEADLINE = "its deadline"
    BOOKING = "its booking"
    WINDOW = "a maximum lag"
    DEPENDENCY = "a package that waits for it"
    PIECE = "a package that needs the piece"
    RESOURCE = "a package that needs the resource"
    OUTAGE = "an outage of the resource"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Limit:
    """What stops a package, and the details where the kind has any."""

    kind: LimitKind
    package: str | None = None
    dependency: Dependency | None = None
    piece: str | None = None
    resource: str | None = None


@dataclass(frozen=True, slots=True)
class Slip:
    """How much later ``package`` may start (if it has started: end).

    ``elapsed`` minutes on the clock, ``working`` minutes of its own calendar, until the launch
    moves or a kept booking, deadline or maximum lag is missed; ``limit`` is what it hits then,
    ``free`` the elapsed minutes until it pushes anything at all, ``first`` what that is. All
    minutes are None where nothing is ever hit. What has ended, hold included, slips by 0.
    """

    package: str
    elapsed: Minutes | None
    working: Minutes | None
    limit: Limit
    free: Minutes | None
    first: Limit


Bound = tuple[Minutes, Limit]
NO_LIMIT = Limit(LimitKind.NOTHING)


def slips(problem: Problem, plan: Plan) -> dict[str, Slip]:
    """The slip of every package of a plan in which `check` finds nothing.

    Never stated too big; too small in two cases. A maximum lag is counted from the planned date of
    the package in front even where that would slip too. And two packages that wait for each other
    (one by a dependency on its finish or a negative lag, the other by a piece or resource) are
    not pushed together.
    """
    stated = Stated(problem)
    dates = {planned.id: planned for planned in plan.packages}
    return {
        name: _slip(stated, dates[name], total, free)
        for name, (total, free) in _Backward(stated, dates, problem.target).bounds().items()
    }


def latest_starts(stated: Stated, dates: Mapping[str, Planned]) -> dict[str, Minutes]:
    """The latest start of every package that ends nothing after the last finish of the plan."""
    bounds = _Backward(stated, dates, None).bounds()
    return {name: total[0] for name, (total, _) in bounds.items()}


def _slip(stated: Stated, planned: Planned, total: Bound, free: Bound) -> Slip:
    package = stated.packages[planned.id]
    origin = planned.start
    if package.progress is not None:
        if planned.finish <= stated.now:
            return Slip(planned.id, 0, 0, NO_LIMIT, 0, NO_LIMIT)
        origin = planned.finish
    until = total[0]
    unlimited = until >= FOREVER
    return Slip(
        package=planned.id,
        elapsed=None if unlimited else until - origin,
        working=None if unlimited else stated.hours[package.calendar].worked(origin, until),
        limit=total[1],
        free=None if free[0] >= FOREVER else free[0] - origin,
        first=free[1],
    )


class _Backward:
    """The latest start of every package (of a started one: the latest finish), from the end."""

    def __init__(self, stated: Stated, dates: Mapping[str, Planned], target: str | None) -> None:
        self.stated, self.dates, self.target = stated, dates, target
        self.end = max((planned.finish for planned in dates.values()), default=0)
        self.links = find_links(stated, dates)
        self.out_of: dict[str, list[Link]] = {name: [] for name in dates}
        for link in self.links:
            self.out_of[link.before].append(link)

    def bounds(self) -> dict[str, tuple[Bound, Bound]]:
        """For each package the bound if it may push others, and if it may push nothing."""
        latest: dict[str, Planned] = dict(self.dates)
        result: dict[str, tuple[Bound, Bound]] = {}
        for name in self._order():
            total = self._bound(name, latest)
            result[name] = total, self._bound(name, self.dates)
            latest[name] = self._dates_at(name, total[0])
        return {name: result[name] for name in self.dates}

    def _order(self) -> Iterator[str]:
        """Each package after those that wait for it, the later one first; rings are cut there."""
        waiting = dict.fromkeys(self.dates, 0)
        into: dict[str, list[str]] = {name: [] for name in self.dates}
        for link in self.links:
            if link.after is not None:
                waiting[link.before] += 1
                into[link.after].append(link.before)
        by_start = sorted(self.dates, key=lambda name: (self.dates[name].start, name))
        ready = [(-self.dates[name].start, name) for name in waiting if not waiting[name]]
        heapify(ready)
        done: set[str] = set()
        while len(done) < len(self.dates):
            if ready:
                _, name = heappop(ready)
            else:
                name = by_start.pop()
            if name in done:
                continue
            done.add(name)
            yield name
            for before in into[name]:
                waiting[before] -= 1
                if not waiting[before]:
                    heappush(ready, (-self.dates[before].start, before))

    def _bound(self, name: str, after: Mapping[str, Planned]) -> Bound:
        """The first of its limits, those it pushes being no later than the dates in ``after``."""
        package, planned = self.stated.packages[name], self.dates[name]
        bound: Bound = (FOREVER, NO_LIMIT)
        for until, limit in self._limits(package, planned, after):
            if until < bound[0]:
                bound = until, limit
        if package.progress is not None:
            return max(bound[0], planned.finish), bound[1]
        until = max(bound[0], planned.start)
        begins = self.stated.begins[name]
        if package.work and until < FOREVER and not begins.is_open(until):
            until = begins.closing_before(until) - 1
        return until, bound[1]

    def _limits(
        self, package: Package, planned: Planned, after: Mapping[str, Planned]
    ) -> Iterator[Bound]:
        name = package.id
        if package.booked == planned.start and package.progress is None:
            yield planned.start, Limit(LimitKind.BOOKING)
        if name == self.target:
            yield self._for_finish(package, planned.finish), Limit(LimitKind.LAUNCH)
        elif self.target is None:
            yield self._for_finish(package, self.end), Limit(LimitKind.LAUNCH)
        if package.deadline is not None and planned.finish <= package.deadline:
            yield self._for_finish(package, package.deadline), Limit(LimitKind.DEADLINE)
        for link in self.out_of[name]:
            yield self._for_link(package, link, after)
        for dependency in self.stated.into[name]:
            before = self.dates[dependency.before]
            until = latest_point(dependency, source_of(dependency, before), self.stated.hours)
            if point_of(dependency, planned) <= until < FOREVER:
                limit = Limit(LimitKind.WINDOW, dependency.before, dependency=dependency)
                if not dependency.relation.to_start:
                    yield self._for_finish(package, until), limit
                elif package.progress is None:
                    yield until, limit

    def _for_link(self, package: Package, link: Link, after: Mapping[str, Planned]) -> Bound:
        if link.after is None:
            limit = Limit(LimitKind.OUTAGE, resource=link.resource)
            return self._for_end(package, link.at, whole=link.whole), limit
        then = after[link.after]
        if link.dependency is not None:
            limit = Limit(LimitKind.DEPENDENCY, link.after, dependency=link.dependency)
            point = then.start if link.dependency.relation.to_start else then.finish
            if point >= FOREVER:
                return FOREVER, limit
            source = latest_source(link.dependency, point, self.stated.hours)
            if link.dependency.relation.from_finish:
                return self._for_finish(package, source), limit
            return (FOREVER if package.progress is not None else source), limit
        if link.piece is not None:
            limit = Limit(LimitKind.PIECE, link.after, piece=link.piece)
            if then.start >= FOREVER:
                return FOREVER, limit
            assert package.place is not None
            place = self.stated.packages[link.after].place
            assert place is not None
            leave_by, _ = self.stated.last_passage(
                package.place, place, then.start, towed=self.stated.pieces[link.piece].towed
            )
            until = self._for_finish(package, leave_by)
            if place != package.place and package.progress is None:
                until = min(until, then.start - 1)  # even uses that take no time: one a minute
            return until, limit
        limit = Limit(LimitKind.RESOURCE, link.after, resource=link.resource)
        return self._for_end(package, then.start, whole=link.whole), limit

    def _for_finish(self, package: Package, finish: Minutes) -> Minutes:
        return self._for_end(package, finish, whole=True)

    def _for_end(self, package: Package, end: Minutes, *, whole: bool) -> Minutes:
        """The latest start (of a started package: finish) that keeps this end of its work."""
        if end >= FOREVER:
            return FOREVER
        if package.progress is not None:
            return end if whole else end + package.hold
        work_finish = end - package.hold if whole else end
        return self.stated.latest_start(package, work_finish)

    def _dates_at(self, name: str, until: Minutes) -> Planned:
        """Its dates if it is as late as ``until``."""
        package, planned = self.stated.packages[name], self.dates[name]
        if until >= FOREVER:
            return Planned(name, FOREVER, FOREVER, FOREVER)
        if package.progress is not None:
            return Planned(name, planned.start, until - package.hold, until)
        return self.stated.dates(package, until)

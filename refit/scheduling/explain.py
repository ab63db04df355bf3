"""Why this day: for each package the one thing that keeps it from starting a minute earlier.

The test is the definition. All other packages stay where the plan has them; the package is put
one open minute earlier; what is broken then is a cause, and of several the one that lets go last
is the binding one. Where it lets go in closed hours, the hours are the cause and it stands behind
them. The answers are data: sentences are made where names are known.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import partial

from .calendars import NEVER
from .generation import start_for_finish
from .lags import earliest_point, earliest_source, point_of, source_of
from .moves import stays_of
from .problem import BeyondHorizon, Demand, Dependency, Minutes, Package, Plan, Problem
from .stated import Stated
from .timelines import Stay, Usage, demand_span


class CauseKind(StrEnum):
    """What decides a start; of several that let go at once the first here is given."""

    PROGRESS = "it has started"
    BOOKING = "it is booked"
    DEPENDENCY = "it waits for a package"
    PIECE = "a piece is not there yet"
    RESOURCE = "a resource is taken"
    WINDOW = "it must not come too long before a package"
    NOT_BEFORE = "it may not start before"
    NOW = "the time before has passed"
    REFIT_START = "the refit begins"
    HOURS = "closed until then"
    PROMISE = "its end is promised"
    NOTHING = "nothing: it could start earlier"


@dataclass(frozen=True, slots=True)
class Cause:
    """Why ``package`` starts when it does.

    ``at``: the moment from which this no longer stands in the way. ``other``: the package behind
    it, that is the one waited for, that had the piece, that has the resource (None: an outage),
    or that follows in a window. ``piece``: comes from ``origin`` with ``travel`` minutes (None:
    it was at the place already). ``behind``, if closed hours of ``calendar`` are the cause: what
    let go while they were closed.
    """

    kind: CauseKind
    package: str
    at: Minutes
    other: str | None = None
    dependency: Dependency | None = None
    piece: str | None = None
    origin: str | None = None
    travel: Minutes | None = None
    resource: str | None = None
    calendar: str | None = None
    behind: Cause | None = None

    @property
    def root(self) -> Cause:
        """The cause behind the closed hours, or this one."""
        return self.behind or self


def explain(problem: Problem, plan: Plan) -> dict[str, Cause]:
    """The binding cause of every start, for a plan in which `check` finds nothing."""
    return _Explanation(Stated(problem), plan).causes()


def drivers(problem: Problem, plan: Plan, package: str | None = None) -> tuple[Cause, ...]:
    """The chain of causes from ``package`` (None: the launch) back to what nobody waits for.

    It ends at today, at a booking, at work begun, at a promise that keeps a finish (kind PROMISE,
    ``at`` that finish), or where a piece or resource becomes free by itself. KeyError if the
    package is unknown.
    """
    explanation = _Explanation(Stated(problem), plan)
    name = package or problem.target
    if name is None:
        if not plan.packages:
            return ()
        name = max(plan.packages, key=lambda planned: (planned.finish, planned.start)).id
    return tuple(explanation.chain(name))


class _Explanation:
    def __init__(self, stated: Stated, plan: Plan) -> None:
        self.stated = stated
        self.dates = {planned.id: planned for planned in plan.packages}
        self.stays = {
            piece.id: stays_of(stated, piece, self.dates) for piece in stated.pieces.values()
        }
        self.usage = {name: Usage(resource) for name, resource in stated.resources.items()}
        for name, planned in self.dates.items():
            for demand in stated.packages[name].demands:
                self.usage[demand.resource].add(*demand_span(demand, planned), demand.units)

    def causes(self) -> dict[str, Cause]:
        return {name: self.cause(name) for name in self.dates}

    def chain(self, name: str) -> Iterator[Cause]:
        seen: set[str] = set()
        by_finish = True  # whether it is the finish of the package that others wait for
        while name not in seen:
            seen.add(name)
            planned = self.dates[name]
            if by_finish and self._kept_by_promise(name):
                yield Cause(CauseKind.PROMISE, name, planned.work_finish)
                return
            cause = self.cause(name)
            yield cause
            root = cause.root
            if root.other is None:
                return
            name = root.other
            by_finish = True
            if root.dependency is not None:
                relation = root.dependency.relation
                if root.kind is CauseKind.WINDOW:
                    by_finish = not relation.to_start
                else:
                    by_finish = relation.from_finish

    def _kept_by_promise(self, name: str) -> bool:
        package, planned = self.stated.packages[name], self.dates[name]
        if package.promised != planned.work_finish:
            return False
        hours = self.stated.hours[package.calendar]
        start, work = planned.start, package.work
        if package.progress is not None:
            if package.progress.finished is not None:
                return False
            start, work = self.stated.now, self.stated.remaining(package)
        return hours.finish(start, work) < planned.work_finish

    def cause(self, name: str) -> Cause:
        package, planned = self.stated.packages[name], self.dates[name]
        if package.progress is not None:
            return Cause(CauseKind.PROGRESS, name, planned.start)
        earlier = self._minute_before(package, planned.start)
        order = list(CauseKind)
        found = [c for c in self._in_the_way(package, earlier) if c.at > earlier]
        if not found:
            return Cause(CauseKind.NOTHING, name, planned.start)
        binding = max(found, key=lambda cause: (cause.at, -order.index(cause.kind)))
        if binding.at < planned.start:
            return Cause(
                CauseKind.HOURS, name, planned.start, calendar=package.calendar, behind=binding
            )
        return binding

    def _minute_before(self, package: Package, start: Minutes) -> Minutes:
        """The last minute before ``start`` at which the package could begin by its hours."""
        if not package.work:
            return start - 1
        begins = self.stated.begins[package.id]
        if begins.is_open(start - 1):
            return start - 1
        try:
            return begins.closing_before(start - 1) - 1
        except BeyondHorizon:  # the calendar begins here
            return min(start, self.stated.now) - 1

    def _in_the_way(self, package: Package, earlier: Minutes) -> Iterator[Cause]:
        """Everything that bounds the start, and from when on it does not."""
        name, now = package.id, self.stated.now
        yield Cause(CauseKind.REFIT_START if now <= 0 else CauseKind.NOW, name, now)
        if package.not_before is not None:
            yield Cause(CauseKind.NOT_BEFORE, name, package.not_before)
        if package.booked is not None:
            yield Cause(CauseKind.BOOKING, name, package.booked)
        yield from self._dependencies(package)
        yield from self._windows(package)
        for piece in package.pieces:
            yield self._piece(package, piece)
        for demand in package.demands:
            yield from self._resource(package, demand, earlier)

    def _dependencies(self, package: Package) -> Iterator[Cause]:
        for dependency in self.stated.into[package.id]:
            source = source_of(dependency, self.dates[dependency.before])
            at = earliest_point(dependency, source, self.stated.hours)
            if not dependency.relation.to_start:
                at = start_for_finish(self.stated, package, at)
            yield Cause(
                CauseKind.DEPENDENCY, package.id, at, dependency.before, dependency=dependency
            )

    def _windows(self, package: Package) -> Iterator[Cause]:
        """A maximum lag that would be missed if the package came earlier, and is not now."""
        for dependency in self.stated.out_of[package.id]:
            if dependency.max_lag is None or dependency.after in self.stated.facts:
                continue
            point = point_of(dependency, self.dates[dependency.after])
            at = earliest_source(dependency, point, self.stated.hours)
            if dependency.relation.from_finish:
                at = start_for_finish(self.stated, package, at)
            if at <= self.dates[package.id].start:
                yield Cause(
                    CauseKind.WINDOW, package.id, at, dependency.after, dependency=dependency
                )

    def _piece(self, package: Package, piece: str) -> Cause:
        """From when the piece can be there, coming from where it was before."""
        stays, moved = self.stays[piece], self.stated.pieces[piece]
        shared, towed = moved.shared, moved.towed
        index = next(i for i, stay in enumerate(stays) if stay.package == package.id)
        place = stays[index].place
        cause = Cause(CauseKind.PIECE, package.id, NEVER, piece=piece)
        if shared:  # with others at this place: it came for the first of them
            while index and stays[index - 1].place == place:
                index -= 1
            if index == 0:
                return replace(cause, at=stays[0].start)
        if _takes_no_time(stays[index]):  # others that take none may just as well come later
            while (
                index > 1 and stays[index - 1].place == place and _takes_no_time(stays[index - 1])
            ):
                index -= 1
        before = _last_to_end(stays[:index], shared=shared)
        if before.place == place:
            if before.package is None:  # it has been here since it was free; now is no news of it
                return replace(cause, at=before.start)
            return replace(cause, at=before.end, other=before.package)
        arrive = self.stated.passage(before.place, place, before.end, towed=towed)[1]
        return replace(
            cause,
            at=arrive if before.package is None else max(arrive, before.start + 1),
            other=before.package,
            origin=before.place,
            travel=self.stated.travel(before.place, place, towed=towed),
        )

    def _resource(self, package: Package, demand: Demand, earlier: Minutes) -> Iterator[Cause]:
        """From when the resource is free for as long as it is needed, the others being fixed."""
        planned = self.dates[package.id]
        usage = self.usage[demand.resource].copy()
        usage.add(*demand_span(demand, planned), -demand.units)
        dating = partial(self.stated.dates, package)
        at, dates = NEVER, dating(earlier)
        while dates.start < planned.start:
            clash = usage.clash(*demand_span(demand, dates), demand.units)
            if clash is None:
                break
            at, dates = min(clash, planned.start), dating(clash)
        if at > NEVER:
            yield Cause(
                CauseKind.RESOURCE,
                package.id,
                at,
                self._user_until(package, demand, at),
                resource=demand.resource,
            )

    def _user_until(self, package: Package, demand: Demand, at: Minutes) -> str | None:
        """Who gives the resource back at ``at``: of several the one that had it longest."""
        users = [
            (start, name)
            for name, user in self.stated.packages.items()
            for other in user.demands
            if other.resource == demand.resource and other.units and name != package.id
            for start, end in [demand_span(other, self.dates[name])]
            if end == at and start < end
        ]
        return min(users)[1] if users else None


def _takes_no_time(stay: Stay) -> bool:
    return stay.start == stay.end


def _last_to_end(stays: list[Stay], *, shared: bool) -> Stay:
    """Of the stays at the place where the list ends (one, if not shared) the last to end."""
    last = stays[-1]
    if shared:
        for stay in reversed(stays):
            if stay.place != stays[-1].place:
                break
            if stay.end > last.end:
                last = stay
    return last

"""A problem made ready for planning: looked up by id, validated, with its opening hours prepared.

Used by the code that makes plans and explains them. `check` keeps its own lookups on purpose.
"""

from __future__ import annotations

from collections.abc import Iterable
from heapq import heapify, heappop, heappush
from typing import Protocol, TypeVar

from .calendars import Hours, earliest_passage, latest_passage
from .problem import (
    BadProblem,
    Contradiction,
    CycleFound,
    Dependency,
    Minutes,
    Package,
    Planned,
    Problem,
)


class _HasId(Protocol):
    @property
    def id(self) -> str: ...


Named = TypeVar("Named", bound=_HasId)


def by_id(kind: str, items: Iterable[Named]) -> dict[str, Named]:
    """The items by id, in their order. BadProblem if an id is used twice."""
    found: dict[str, Named] = {}
    for item in items:
        if item.id in found:
            raise BadProblem(f"{kind} {item.id} is stated twice")
        found[item.id] = item
    return found


class Stated:
    """The problem, indexed. Raises BadProblem, Contradiction or CycleFound when it is not sound.

    ``facts`` holds the dates of every package that has been started: they are not decided any
    more. ``order`` lists all ids so that each comes after those it waits for.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.now = problem.now
        self.packages = by_id("package", problem.packages)
        self.hours = {c.id: Hours(c) for c in by_id("calendar", problem.calendars).values()}
        self.resources = by_id("resource", problem.resources)
        self.pieces = by_id("piece", problem.pieces)
        self.places = by_id("place", problem.places)
        self._travels = {(t.origin, t.destination): t.minutes for t in problem.travels}
        self._passages: dict[tuple[str, str, Minutes], tuple[Minutes, Minutes]] = {}
        self._validate()
        self.into: dict[str, list[Dependency]] = {name: [] for name in self.packages}
        self.out_of: dict[str, list[Dependency]] = {name: [] for name in self.packages}
        for dependency in problem.dependencies:
            self.into[dependency.after].append(dependency)
            self.out_of[dependency.before].append(dependency)
        self.order = self._order()
        self.facts = {p.id: self._actual(p) for p in problem.packages if p.progress is not None}

    # Dates of one package

    def dates(self, package: Package, start: Minutes) -> Planned:
        """Its dates if it starts at ``start`` or at the first open minute after it.

        A promise stretches the work: it ends when its hours are worked, and not before the
        promise. A package without work starts at any minute.
        """
        hours = self.hours[package.calendar]
        if package.work:
            start = hours.open_from(start)
        work_finish = hours.finish(start, package.work)
        if package.promised is not None and package.promised > work_finish:
            work_finish = package.promised
        return Planned(package.id, start, work_finish, work_finish + package.hold)

    def _actual(self, package: Package) -> Planned:
        """Dates of a started package: what happened, then what remains counted from now."""
        progress = package.progress
        assert progress is not None
        start = progress.started
        if progress.finished is not None:
            return Planned(package.id, start, progress.finished, progress.finished + package.hold)
        hours = self.hours[package.calendar]
        remaining = progress.remaining
        if remaining is None:
            remaining = max(0, package.work - hours.worked(start, self.now))
        work_finish = hours.finish(self.now, remaining)
        if package.promised is not None:
            work_finish = max(work_finish, package.promised)
        return Planned(package.id, start, work_finish, work_finish + package.hold)

    # Ways between places

    def travel(self, origin: str, destination: str) -> Minutes:
        """Door-to-door minutes. BadProblem if nobody stated that way."""
        try:
            return self._travels[origin, destination]
        except KeyError:
            raise BadProblem(f"no travel time from {origin} to {destination}") from None

    def passage(self, origin: str, destination: str, ready: Minutes) -> tuple[Minutes, Minutes]:
        """Earliest ``(depart, arrive)``; at once if it is the same place."""
        if origin == destination:
            return ready, ready
        key = (origin, destination, ready)
        if key not in self._passages:
            self._passages[key] = earliest_passage(
                self._place_hours(origin),
                self._place_hours(destination),
                self.travel(origin, destination),
                ready,
            )
        return self._passages[key]

    def last_passage(
        self, origin: str, destination: str, needed: Minutes
    ) -> tuple[Minutes, Minutes]:
        """Latest ``(depart, arrive)`` that has arrived by ``needed``."""
        if origin == destination:
            return needed, needed
        return latest_passage(
            self._place_hours(origin),
            self._place_hours(destination),
            self.travel(origin, destination),
            needed,
        )

    def _place_hours(self, place: str) -> Hours:
        return self.hours[self.places[place].calendar]

    # Soundness

    def _validate(self) -> None:
        for place in self.problem.places:
            self._known("place", place.id, "calendar", place.calendar, self.hours)
        for (origin, destination), minutes in self._travels.items():
            way = f"from {origin} to {destination}"
            self._known("travel", way, "place", origin, self.places)
            self._known("travel", way, "place", destination, self.places)
            if minutes < 0:
                raise BadProblem(f"travel {way} takes {minutes} minutes, less than none")
        for piece in self.problem.pieces:
            self._known("piece", piece.id, "place", piece.place, self.places)
            if piece.returns_to is not None:
                self._known("piece", piece.id, "place", piece.returns_to, self.places)
        for resource in self.problem.resources:
            if resource.capacity < 0:
                raise BadProblem(f"resource {resource.id} has capacity {resource.capacity}")
            for outage in resource.outages:
                if outage.end <= outage.start or outage.units < 0:
                    raise BadProblem(
                        f"resource {resource.id}: the outage from {outage.start} to"
                        f" {outage.end} of {outage.units} units is empty or negative"
                    )
        for package in self.problem.packages:
            self._validate_package(package)
        for dependency in self.problem.dependencies:
            self._validate_dependency(dependency)
        if self.problem.target is not None and self.problem.target not in self.packages:
            raise BadProblem(f"the target {self.problem.target} is not a package")

    def _validate_package(self, package: Package) -> None:
        name = package.id
        self._known("package", name, "calendar", package.calendar, self.hours)
        if package.work < 0 or package.hold < 0:
            raise BadProblem(f"package {name} has negative work or hold")
        if package.place is not None:
            self._known("package", name, "place", package.place, self.places)
        if package.pieces and package.place is None:
            raise BadProblem(f"package {name} needs pieces but names no place for them")
        if len(set(package.pieces)) < len(package.pieces):
            raise BadProblem(f"package {name} names a piece twice")
        for piece in package.pieces:
            self._known("package", name, "piece", piece, self.pieces)
        if len({d.resource for d in package.demands}) < len(package.demands):
            raise BadProblem(f"package {name} demands a resource twice")
        for demand in package.demands:
            self._known("package", name, "resource", demand.resource, self.resources)
            if demand.units < 0:
                raise BadProblem(f"package {name} demands {demand.units} of {demand.resource}")
            capacity = self.resources[demand.resource].capacity
            if demand.units > capacity and package.progress is None:
                raise BadProblem(
                    f"package {name} demands {demand.units} of {demand.resource},"
                    f" which never has more than {capacity}"
                )
        if package.progress is not None:
            started, finished = package.progress.started, package.progress.finished
            if started > self.now or (finished is not None and finished > self.now):
                raise BadProblem(f"package {name} reports progress from after now")
            if finished is not None and finished < started:
                raise BadProblem(f"package {name} finished before it started")
            if package.progress.remaining is not None and package.progress.remaining < 0:
                raise BadProblem(f"package {name} has negative remaining work")

    def _validate_dependency(self, dependency: Dependency) -> None:
        before, after = dependency.before, dependency.after
        way = f"from {before} to {after}"
        self._known("dependency", way, "package", before, self.packages)
        self._known("dependency", way, "package", after, self.packages)
        if before == after:
            raise CycleFound((before,))
        if dependency.lag_calendar is not None:
            self._known("dependency", way, "calendar", dependency.lag_calendar, self.hours)
        if dependency.max_lag is not None and dependency.max_lag < dependency.min_lag:
            raise Contradiction(
                (before, after),
                f"{after} must come at least {dependency.min_lag} and at most"
                f" {dependency.max_lag} minutes after {before}",
            )

    @staticmethod
    def _known(
        kind: str, name: str, what: str, wanted: str, known: dict[str, Named] | dict[str, Hours]
    ) -> None:
        if wanted not in known:
            raise BadProblem(f"{kind} {name} names the unknown {what} {wanted}")

    def _order(self) -> tuple[str, ...]:
        """All ids, each after those it waits for; among the ready ones as stated."""
        position = {name: index for index, name in enumerate(self.packages)}
        waiting = {name: len(self.into[name]) for name in self.packages}
        ready = [position[name] for name, count in waiting.items() if count == 0]
        heapify(ready)
        names = tuple(self.packages)
        order: list[str] = []
        while ready:
            name = names[heappop(ready)]
            order.append(name)
            for dependency in self.out_of[name]:
                waiting[dependency.after] -= 1
                if waiting[dependency.after] == 0:
                    heappush(ready, position[dependency.after])
        if len(order) < len(names):
            raise CycleFound(self._ring({name for name, count in waiting.items() if count}))
        return tuple(order)

    def _ring(self, stuck: set[str]) -> tuple[str, ...]:
        """One ring among packages of which each waits for another of them."""
        path: list[str] = []
        seen: dict[str, int] = {}
        name = min(stuck)
        while name not in seen:
            seen[name] = len(path)
            path.append(name)
            name = next(d.before for d in self.into[name] if d.before in stuck)
        return tuple(reversed(path[seen[name] :]))

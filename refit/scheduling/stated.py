"""A problem made ready for planning: looked up by id, validated, with its opening hours prepared.

Used by the code that makes plans and explains them. `check` keeps its own lookups on purpose.
"""

from __future__ import annotations

from collections.abc import Iterable
from graphlib import TopologicalSorter
from typing import Protocol, TypeVar

from .calendars import NEVER, Hours, earliest_passage, latest_passage
from .network import Network
from .problem import BadProblem, Dependency, Minutes, Package, Planned, Problem


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
        network = Network(problem)
        network.refuse_rings()
        self.hours = network.hours_by_id
        self.begins = dict(zip(network.ids, network.begins, strict=True))
        """The minutes in which each package may begin: its hours, or fewer if done in one go."""
        self.packages = {package.id: package for package in problem.packages}
        self.resources = by_id("resource", problem.resources)
        self.pieces = by_id("piece", problem.pieces)
        self.places = by_id("place", problem.places)
        self._travels = {(t.origin, t.destination): t.minutes for t in problem.travels}
        self._towed = {
            (t.origin, t.destination): t.minutes if t.towed is None else t.towed
            for t in problem.travels
        }
        self._dates: dict[tuple[str, Minutes], Planned] = {}
        self._passages: dict[tuple[str, str, Minutes, bool], tuple[Minutes, Minutes]] = {}
        self._validate()
        self.into: dict[str, list[Dependency]] = {name: [] for name in self.packages}
        self.out_of: dict[str, list[Dependency]] = {name: [] for name in self.packages}
        for dependency in problem.dependencies:
            self.into[dependency.after].append(dependency)
            self.out_of[dependency.before].append(dependency)
        waits_for = {name: [d.before for d in into] for name, into in self.into.items()}
        self.order = tuple(TopologicalSorter(waits_for).static_order())
        self.facts = {p.id: self._actual(p) for p in problem.packages if p.progress is not None}

    # Dates of one package

    def dates(self, package: Package, start: Minutes) -> Planned:
        """Its dates if it starts at ``start`` or at the first open minute after it.

        A promise stretches the work: it ends when its hours are worked, and not before the
        promise. A package without work starts at any minute.
        """
        asked = (package.id, start)
        known = self._dates.get(asked)
        if known is not None:
            return known
        hours = self.hours[package.calendar]
        if package.work:
            start = self.begins[package.id].open_from(start)
        work_finish = hours.finish(start, package.work)
        if package.promised is not None and package.promised > work_finish:
            work_finish = package.promised
        dates = Planned(package.id, start, work_finish, work_finish + package.hold)
        self._dates[asked] = dates
        return dates

    def earliest_start(self, package: Package, work_finish: Minutes) -> Minutes:
        """The earliest start from which its work ends at ``work_finish`` or later."""
        hours, begins = self.hours[package.calendar], self.begins[package.id]
        if begins is hours:
            return hours.earliest_start(work_finish, package.work)
        return begins.open_from(work_finish - package.work)

    def latest_start(self, package: Package, work_finish: Minutes) -> Minutes:
        """The latest start from which its work ends by ``work_finish``; NEVER if there is none."""
        hours, begins = self.hours[package.calendar], self.begins[package.id]
        if package.work == 0:
            return work_finish
        if begins is not hours:
            start = begins.last_open(work_finish - package.work)
            return start if start >= begins.starts[0] else NEVER
        if hours.counted(work_finish) < package.work:
            return NEVER
        return hours.latest_start(work_finish, package.work)

    def _actual(self, package: Package) -> Planned:
        """Dates of a started package: what happened, then what remains counted from now."""
        progress = package.progress
        assert progress is not None
        start = progress.started
        if progress.finished is not None:
            return Planned(package.id, start, progress.finished, progress.finished + package.hold)
        work_finish = self.hours[package.calendar].finish(self.now, self.remaining(package))
        if package.promised is not None:
            work_finish = max(work_finish, package.promised)
        return Planned(package.id, start, work_finish, work_finish + package.hold)

    def remaining(self, package: Package) -> Minutes:
        """Working minutes from now on that a package begun and not finished still takes."""
        progress = package.progress
        assert progress is not None
        if progress.remaining is not None:
            return progress.remaining
        hours = self.hours[package.calendar]
        return max(0, package.work - hours.worked(progress.started, self.now))

    # Ways between places

    def travel(self, origin: str, destination: str, *, towed: bool = False) -> Minutes:
        """Door-to-door minutes. BadProblem if nobody stated that way."""
        try:
            return (self._towed if towed else self._travels)[origin, destination]
        except KeyError:
            raise BadProblem(f"no travel time from {origin} to {destination}") from None

    def passage(
        self, origin: str, destination: str, ready: Minutes, *, towed: bool = False
    ) -> tuple[Minutes, Minutes]:
        """Earliest ``(depart, arrive)``; at once if it is the same place."""
        if origin == destination:
            return ready, ready
        key = (origin, destination, ready, towed)
        if key not in self._passages:
            self._passages[key] = earliest_passage(
                self.place_hours(origin),
                self.place_hours(destination),
                self.travel(origin, destination, towed=towed),
                ready,
            )
        return self._passages[key]

    def last_passage(
        self, origin: str, destination: str, needed: Minutes, *, towed: bool = False
    ) -> tuple[Minutes, Minutes]:
        """Latest ``(depart, arrive)`` that has arrived by ``needed``."""
        if origin == destination:
            return needed, needed
        return latest_passage(
            self.place_hours(origin),
            self.place_hours(destination),
            self.travel(origin, destination, towed=towed),
            needed,
        )

    def place_hours(self, place: str) -> Hours:
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
            if self._towed[origin, destination] < minutes:
                raise BadProblem(f"travel {way} is quicker with a trailer than without")
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

    def _validate_package(self, package: Package) -> None:
        name = package.id
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

    @staticmethod
    def _known(
        kind: str, name: str, what: str, wanted: str, known: dict[str, Named] | dict[str, Hours]
    ) -> None:
        if wanted not in known:
            raise BadProblem(f"{kind} {name} names the unknown {what} {wanted}")

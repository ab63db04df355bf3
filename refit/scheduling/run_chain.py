"""The levelled chain: what each start of a plan waits for, in an order in which to compute it.

Here the plan's decisions are read off its dates and written down as steps: dependencies, the order
in which pieces and resources are used, the ways pieces go. `simulate` walks the steps with other
working times. Nothing here computes a date.

What is kept of the plan, whatever the working times:

- each piece serves its packages in the planned order and travels between them as planned;
- each unit of a resource serves its packages and sits out its outages in the planned order (the
  resource flow of `links`); a package pushed into an outage of its unit waits until that is over;
- where the plan leaves a package later than all this asks (to keep a maximum lag), it starts no
  earlier than planned.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from enum import IntEnum
from heapq import heapify, heappop, heappush
from itertools import groupby

from .calendars import NEVER
from .lags import earliest_point, source_of
from .moves import stays_of
from .problem import Minutes, Package, Piece, Planned, Resource
from .stated import Stated
from .timelines import Stay, demand_span


class End(IntEnum):
    """Which moment of a step is waited for."""

    START = 0
    WORK = 1
    FINISH = 2


@dataclass(frozen=True, slots=True)
class Wait:
    """A start (``to_finish``: a finish) that comes ``lag`` after an end of the step ``source``."""

    source: str
    end: End
    lag: Minutes = 0
    lag_calendar: str | None = None
    to_finish: bool = False

    @property
    def plain(self) -> bool:
        """Whether the start cannot come before the end waited for."""
        return not self.to_finish and self.lag >= 0


@dataclass(frozen=True, slots=True)
class Avoided:
    """Outages that the package may not run into, with its hold if ``whole``."""

    whole: bool
    spans: tuple[tuple[Minutes, Minutes], ...]


@dataclass(frozen=True, slots=True)
class PackageStep:
    """A package that has not ended. ``floor``: starts no earlier, whatever it waits for."""

    id: str
    package: Package
    begun: bool
    work: Minutes
    floor: Minutes
    waits: tuple[Wait, ...]
    avoided: tuple[Avoided, ...] = ()


@dataclass(frozen=True, slots=True)
class WayStep:
    """A piece gets from place to place once all ``waits`` are over; its FINISH is the arrival."""

    id: str
    origin: str
    destination: str
    travel: Minutes
    floor: Minutes
    waits: tuple[Wait, ...]


Step = PackageStep | WayStep


@dataclass(frozen=True, slots=True)
class Chain:
    """``steps``: each after those it waits for. ``settled``: packages that have ended, with their
    dates. ``loosened``: packages whose place in the order of a piece or resource contradicts a
    dependency as soon as times change, and is dropped."""

    steps: tuple[Step, ...]
    settled: Mapping[str, Planned]
    loosened: tuple[str, ...]


def read_chain(stated: Stated, dates: Mapping[str, Planned]) -> Chain:
    """The chain of a plan in which `check` finds nothing."""
    reading = _Reading(stated, dates)
    reading.read_dependencies()
    for piece in stated.pieces.values():
        reading.read_piece(piece)
    for resource in stated.resources.values():
        reading.read_resource(resource)
    return reading.chain()


@dataclass
class _Unit:
    """One unit of a resource while its users are gone through."""

    free: Minutes = NEVER
    floor: Minutes = NEVER
    last: list[tuple[str, bool]] = field(default_factory=list)
    """Who had it last, and whether until the hold ended; several only if begun work overlaps."""
    users: list[tuple[str, bool, Minutes]] = field(default_factory=list)


class _Reading:
    def __init__(self, stated: Stated, dates: Mapping[str, Planned]) -> None:
        self.stated, self.dates = stated, dates
        self.settled = {
            name: planned
            for name, planned in stated.facts.items()
            if (progress := stated.packages[name].progress) and progress.finished is not None
        }
        self.waits: dict[str, list[Wait]] = {n: [] for n in dates if n not in self.settled}
        self.floors: dict[str, Minutes] = {}
        self.avoided: dict[str, dict[bool, set[tuple[Minutes, Minutes]]]] = {}
        self.ways: dict[str, WayStep] = {}
        for name in self.waits:
            package = stated.packages[name]
            wanted = (stated.now, package.not_before, package.booked)
            self.floors[name] = max(moment for moment in wanted if moment is not None)

    # Reading

    def _wait(self, name: str, wait: Wait) -> None:
        """Note a wait; for a package that has ended it is nothing but a date."""
        if wait.source in self.settled and not wait.to_finish and not wait.lag:
            planned = self.settled[wait.source]
            at = (planned.start, planned.work_finish, planned.finish)[wait.end]
            self.floors[name] = max(self.floors[name], at)
        else:
            self.waits[name].append(wait)

    def read_dependencies(self) -> None:
        stated = self.stated
        for d in stated.problem.dependencies:
            if d.after in stated.facts:
                continue
            if d.before in self.settled and d.relation.to_start:
                at = earliest_point(d, source_of(d, self.dates[d.before]), stated.hours)
                self.floors[d.after] = max(self.floors[d.after], at)
                continue
            self.waits[d.after].append(
                Wait(
                    d.before,
                    End.FINISH if d.relation.from_finish else End.START,
                    d.min_lag,
                    d.lag_calendar if d.min_lag else None,
                    not d.relation.to_start,
                )
            )

    def read_piece(self, piece: Piece) -> None:
        stays = stays_of(self.stated, piece, self.dates)
        groups: Iterable[list[Stay]]
        if piece.shared:  # all uses at one place in a row are one
            groups = [list(same) for _, same in groupby(stays, key=lambda stay: stay.place)]
            for stay in groups[0][1:]:
                self._not_before(stay, stays[0].start)
        else:
            groups = [[stay] for stay in stays]
        before: list[Stay] | None = None
        for number, group in enumerate(groups):
            if before is not None:
                way = f"{piece.id}, way {number}"
                while way in self.dates:  # a package of that name
                    way += "'"
                self._next_uses(way, piece, before, group)
            before = group

    def _not_before(self, stay: Stay, moment: Minutes) -> None:
        if stay.package is not None:
            self.floors[stay.package] = max(self.floors[stay.package], moment)

    def _next_uses(self, way: str, piece: Piece, before: list[Stay], then: list[Stay]) -> None:
        floor, users = self._free(piece, before)
        origin, destination = before[0].place, then[0].place
        if origin == destination:
            for stay in then:
                self._not_before(stay, floor)
                for user in users:
                    assert stay.package is not None
                    self._wait(stay.package, Wait(user, End.FINISH))
            return
        going = [user for user in users if user not in self.settled]
        floor = max([floor, *(self.dates[u].finish for u in users if u in self.settled)])
        if going:
            travel = self.stated.travel(origin, destination, towed=piece.towed)
            waits = tuple(Wait(user, End.FINISH) for user in going)
            self.ways[way] = WayStep(way, origin, destination, travel, floor, waits)
        else:
            floor = self.stated.passage(origin, destination, floor, towed=piece.towed)[1]
        for stay in then:
            assert stay.package is not None
            if going:
                self.waits[stay.package].append(Wait(way, End.FINISH))
            else:
                self._not_before(stay, floor)
            for stay_before in before:
                self._a_minute_later(stay_before, stay.package)

    def _a_minute_later(self, before: Stay, name: str) -> None:
        """No minute of two uses at two places, even if the first takes no time."""
        if before.package is not None and self._is_open(before.package):
            package = self.stated.packages[before.package]
            if package.work + package.hold == 0:
                self.waits[name].append(Wait(before.package, End.START, 1))

    def _free(self, piece: Piece, stays: list[Stay]) -> tuple[Minutes, list[str]]:
        """From when the piece may leave: a date, and whose ends."""
        floor, users = NEVER, []
        for stay in stays:
            if stay.package is not None and stay.package not in self.stated.facts:
                users.append(stay.package)
                continue
            # where it is now: until all that has begun is over, or as it is said to be
            floor = max(floor, piece.free_from if stay.package is not None else stay.end)
            users += [
                name
                for name, planned in self.stated.facts.items()
                if piece.id in self.stated.packages[name].pieces
                and planned.finish > self.stated.now
            ]
        return floor, users

    def read_resource(self, resource: Resource) -> None:
        users: list[tuple[Minutes, Minutes, str, int, bool]] = []
        for name, planned in self.dates.items():
            for demand in self.stated.packages[name].demands:
                if demand.resource == resource.id:
                    start, end = demand_span(demand, planned)
                    if start < end:
                        users.append((start, end, name, demand.units, demand.through_hold))
        outages = [(o.start, o.end, "", o.units, True) for o in resource.outages]
        units = [_Unit() for _ in range(resource.capacity)]
        for start, end, name, wanted, whole in sorted([*users, *outages]):
            units.sort(key=lambda unit: (unit.free, unit.last))
            for unit in units[:wanted]:
                if name:
                    self._use(unit, start, end, name, whole)
                else:
                    self._sit_out(unit, start, end)

    def _use(self, unit: _Unit, start: Minutes, end: Minutes, name: str, whole: bool) -> None:
        """One unit goes to a package, from whoever had it."""
        free = unit.free <= start
        if free and self._is_open(name):
            self.floors[name] = max(self.floors[name], unit.floor)
            for before, before_whole in unit.last:
                self._wait(name, Wait(before, End.FINISH if before_whole else End.WORK))
        unit.last = [(name, whole)] if free else [*unit.last, (name, whole)]
        unit.free, unit.floor = max(unit.free, end), NEVER
        unit.users.append((name, whole, end))

    def _sit_out(self, unit: _Unit, start: Minutes, end: Minutes) -> None:
        """An outage on this unit: who had it before must not run into it, who comes next waits."""
        for user, whole, over in unit.users:
            if over <= start and self._is_open(user):  # work begun runs on through an outage
                spans = self.avoided.setdefault(user, {True: set(), False: set()})
                spans[whole].add((start, end))
        unit.free, unit.floor = max(unit.free, end), max(unit.floor, end)

    def _is_open(self, name: str) -> bool:
        """Whether its start is still to be decided."""
        return name not in self.stated.facts

    # Writing the steps down

    def chain(self) -> Chain:
        order, loosened = self._order()
        before: dict[str, set[str]] = {name: set() for name in self.settled}
        steps: list[Step] = []
        for name in order:
            step = self._step(name)
            needed, covered = _without_covered(step.waits, before)
            before[name] = covered
            steps.append(replace(step, waits=needed))
        return Chain(tuple(steps), self.settled, loosened)

    def _step(self, name: str) -> Step:
        if name in self.ways:
            return self.ways[name]
        package = self.stated.packages[name]
        begun = package.progress is not None
        avoided = tuple(
            Avoided(whole, tuple(sorted(spans)))
            for whole, spans in self.avoided.get(name, {}).items()
            if spans
        )
        return PackageStep(
            name,
            package,
            begun,
            self.stated.remaining(package) if begun else package.work,
            self.stated.now if begun else self.floors[name],
            tuple(dict.fromkeys(self.waits[name])),
            avoided,
        )

    def _order(self) -> tuple[list[str], tuple[str, ...]]:
        """All steps, each after those it waits for; of several the one planned first.

        Where packages wait for each other in a ring (an overlap, and a resource handed over the
        other way), what is not a dependency gives way.
        """
        sources = {name: {w.source for w in waits} for name, waits in self.waits.items()}
        sources |= {name: {w.source for w in way.waits} for name, way in self.ways.items()}
        open_ = {name: before - self.settled.keys() for name, before in sources.items()}
        into: dict[str, list[str]] = {name: [] for name in open_}
        for name, before in open_.items():
            for source in before:
                into[source].append(name)
        ready = [(self._planned_at(name), name) for name, before in open_.items() if not before]
        heapify(ready)
        order: list[str] = []
        loosened: list[str] = []
        done: set[str] = set()
        while len(done) < len(open_):
            if not ready:
                name = self._loosen(done)
                loosened.append(name)
                ready.append((self._planned_at(name), name))
            _, name = heappop(ready)
            if name in done:
                continue
            done.add(name)
            order.append(name)
            for after in into[name]:
                open_[after].discard(name)
                if not open_[after] and after not in done:
                    heappush(ready, (self._planned_at(after), after))
        return order, tuple(loosened)

    def _planned_at(self, name: str) -> Minutes:
        if name in self.ways:
            return max(self.dates[wait.source].finish for wait in self.ways[name].waits)
        return self.dates[name].start

    def _loosen(self, done: set[str]) -> str:
        """The first package that only pieces and resources keep; it waits for them no more."""
        stuck = min(
            (name for name in self.waits if name not in done and self._may_go(name, done)),
            key=lambda name: (self.dates[name].start, name),
        )
        known = done | self.settled.keys()
        self.waits[stuck] = [wait for wait in self.waits[stuck] if wait.source in known]
        return stuck

    def _may_go(self, name: str, done: set[str]) -> bool:
        known = done | self.settled.keys()
        return all(d.before in known for d in self.stated.into[name])


def _without_covered(
    waits: tuple[Wait, ...], before: Mapping[str, set[str]]
) -> tuple[tuple[Wait, ...], set[str]]:
    """The waits that another one does not contain, and all steps whose end is waited for.

    ``before``: the same set for each earlier step. To wait for the end of a step is to wait for
    the ends of all that it waited for itself.
    """
    whole = {wait.source for wait in waits if wait.plain and wait.end is End.FINISH}
    covered: set[str] = set()
    for wait in waits:
        if wait.plain:
            covered |= before[wait.source]
    needed = tuple(
        wait
        for wait in waits
        if wait.lag
        or wait.to_finish
        or wait.end is End.START
        or not (wait.source in covered or (wait.end is End.WORK and wait.source in whole))
    )
    return needed, covered | whole

"""A refit, or some packages of it, as a constraint model; OR-tools is loaded when one is made.

Time is counted in steps of ``grain`` minutes, the greatest that everything is a multiple of; where
only *now* and what has begun are not, they are rounded so that no answer is untrue, and the bound
says nothing (``exact``). What opening hours do to a date (work pauses over a night, a piece
waits for the shop to open) never falls as the date rises: on each of a few sets of moments it adds
the same number of minutes, or gives the same moment. One literal says on which set the date
lies (`_image`), so the model knows the calendars exactly, and needs no table over the horizon.

What is modelled: work, holds, promises, opening hours, dependencies of all relations with lags on
the clock or in open hours, maximum lags, bookings, deadlines, resources with outages, pieces and
their ways. Of ways only this: of two uses of a piece the later one waits until the piece can have
come straight from the earlier one; decoding the answer through the generation scheme settles the
rest.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import gcd
from typing import Any

from .calendars import FOREVER, NEVER, Hours
from .generation import Generation
from .lags import earliest_point, latest_point, latest_source, point_of, source_of
from .moves import stays_of
from .problem import Dependency, Minutes, Package, Piece, Planned, Relation, Resource
from .stated import Stated
from .timelines import demand_span, first_stay

Steps = tuple[Minutes, Minutes, bool, Minutes]
"""From this moment to that (included): adds the minutes (True), or gives the moment (False)."""


class NoRoom(Exception):
    """The bounds leave a package no start: no plan within them, and no need for a model."""


@dataclass(frozen=True, slots=True)
class Moment:
    """A date of the model: an expression (or a number), its bounds, and what it is in the hint.

    All in steps of the grain.
    """

    is_at: Any
    low: Minutes
    high: Minutes
    hint: Minutes
    after: tuple[Any, Minutes] | None = None
    """The date it follows, whatever that is, by so many minutes."""

    def plus(self, minutes: Minutes) -> Moment:
        date, by = self.after or (self.is_at, 0)
        return Moment(
            self.is_at + minutes,
            self.low + minutes,
            self.high + minutes,
            self.hint + minutes,
            (date, by + minutes),
        )

    @property
    def known(self) -> bool:
        return self.low == self.high


def constant(moment: Minutes) -> Moment:
    return Moment(moment, moment, moment, moment)


@dataclass(frozen=True, slots=True)
class Modelled:
    """The dates of one package in the model."""

    package: Package
    start: Moment
    work_finish: Moment
    finish: Moment


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a solver said. ``starts`` is None if it found nothing; ``bound`` is on the objective."""

    starts: dict[str, Minutes] | None
    optimal: bool
    infeasible: bool
    bound: Minutes


class ExactModel:
    """``names`` are decided; of the others only those in ``fixed`` are there.

    ``dates``: a plan of everything, for hints and for what need not be kept: what it misses may be
    missed again by as much, unless ``strict``. ``until``: the latest launch (of the target, or of
    everything); ``horizon``: the latest finish of what the target does not wait for. ``assume``:
    maximum lags hold only under assumptions, for `contradicting`. Raises NoRoom.
    """

    def __init__(
        self,
        stated: Stated,
        generation: Generation,
        dates: Mapping[str, Planned],
        *,
        names: Collection[str],
        fixed: Mapping[str, Planned],
        until: Minutes,
        horizon: Minutes,
        strict: bool,
        assume: bool = False,
    ) -> None:
        from ortools.sat.python import cp_model

        self.stated, self.dates, self.strict = stated, dates, strict
        self.names = [n for n in stated.order if n in set(names) and n not in stated.facts]
        self.fixed = {**{n: p for n, p in fixed.items() if n not in set(names)}, **stated.facts}
        self.until, self.horizon = until, horizon
        self.grain, self.exact = grain_of(stated)
        self.cp = cp_model
        self.model = cp_model.CpModel()
        self.solver = cp_model.CpSolver()
        self._hinted: list[tuple[Any, int]] = []
        self._assume = assume
        self._assumed: dict[int, Dependency] = {}
        self._arrivals: dict[tuple[str, str], Moment] = {}
        self._low = self._lows(generation)
        self._high = self._highs()
        self.items: dict[str, Modelled] = {}
        for name in self.names:
            if self._high[name] < self._low[name]:
                raise NoRoom(name)
            self.items[name] = self._package(stated.packages[name])
        self._dependencies()
        self._resources()
        for piece in stated.pieces.values():
            self._piece(piece)
        if self.exact:
            self._in_open_hours()

    # Bounds

    def _lows(self, generation: Generation) -> dict[str, Minutes]:
        """Earliest starts by dependencies, hours, and where pieces are now."""
        stated, placed = self.stated, dict(generation.unhindered)
        placed.update(self.fixed)
        facts = [(stated.packages[name], dates) for name, dates in stated.facts.items()]
        first = {p.id: first_stay(p, facts, stated.now) for p in stated.pieces.values()}
        lows: dict[str, Minutes] = {}
        for name in self.names:
            package = stated.packages[name]
            bound = generation.bound(name, placed)
            for piece in package.pieces:
                stay = first[piece]
                assert package.place is not None
                if stay.place != package.place:
                    bound = max(bound, stated.passage(stay.place, package.place, stay.end)[1])
                else:
                    shared = stated.pieces[piece].shared
                    bound = max(bound, stay.start if shared else stay.end)
            placed[name] = stated.dates(package, bound)
            lows[name] = placed[name].start
        return lows

    def _highs(self) -> dict[str, Minutes]:
        """Latest starts by dependencies and hours, deadlines and bookings that must be kept."""
        stated, target = self.stated, self.stated.problem.target
        highs: dict[str, Minutes] = {}
        finishes: dict[str, Minutes] = {}
        for name in reversed(self.names):
            package = stated.packages[name]
            finish = self.until if target in (None, name) else self.horizon
            start = FOREVER
            deadline = self.latest_finish(package)
            if deadline is not None:
                finish = min(finish, deadline)
            for d in stated.out_of[name]:
                if d.after in highs:
                    point = highs[d.after] if d.relation.to_start else finishes[d.after]
                elif d.after in self.fixed and d.after not in stated.facts:
                    point = point_of(d, self.fixed[d.after])
                else:
                    continue
                source = latest_source(d, point, stated.hours)
                if d.relation.from_finish:
                    finish = min(finish, source)
                else:
                    start = min(start, source)
            start = min(start, stated.latest_start(package, finish - package.hold))
            if package.booked is not None:
                kept = self.strict or self.dates[name].start == package.booked
                start = min(start, package.booked if kept else self.dates[name].start)
            highs[name], finishes[name] = start, finish
        return highs

    def latest_finish(self, package: Package) -> Minutes | None:
        """Its deadline, or where the plan misses that, the finish it has there."""
        if package.deadline is None or self.strict:
            return package.deadline
        return max(package.deadline, self.dates[package.id].finish)

    # Dates

    def up(self, minutes: Minutes) -> int:
        return -(-minutes // self.grain)

    def down(self, minutes: Minutes) -> int:
        return minutes // self.grain

    def _follow(
        self, source: Moment, function: Callable[[Minutes], Minutes], cuts: Iterable[Minutes]
    ) -> Moment:
        """The moment a function, of minutes, makes of another one; rounded up."""
        return self._image(source, self._steps(function, cuts, source.low, source.high))

    def _steps(
        self,
        function: Callable[[Minutes], Minutes],
        cuts: Iterable[Minutes],
        low: int,
        high: int,
        *,
        early: bool = False,
    ) -> list[Steps]:
        whole, grain = self.down if early else self.up, self.grain
        inside = sorted({self.up(cut) for cut in cuts if low * grain <= cut <= high * grain})
        return steps_of(lambda moment: whole(function(moment * grain)), inside, low, high)

    def _variable(self, low: Minutes, high: Minutes, hint: Minutes, name: str) -> Moment:
        if low == high:
            return constant(low)
        variable = self.model.new_int_var(low, high, name)
        self._hinted.append((variable, min(max(hint, low), high)))
        return Moment(variable, low, high, hint)

    def _package(self, package: Package) -> Modelled:
        stated, name = self.stated, package.id
        low, high = self._low[name], self._high[name]
        hint = self.up(self.dates[name].start)

        def ends(start: Minutes) -> Minutes:
            return stated.dates(package, start).work_finish

        spans = [(low, high)]
        if package.work:
            spans = open_between(stated.begins[name], low, high)
        spans = [(a, b) for a, b in ((self.up(a), self.down(b)) for a, b in spans) if a <= b]
        if not spans:
            raise NoRoom(name)
        if len(spans) == 1:
            start = self._variable(*spans[0], hint, f"start {name}")
        else:
            domain = self.cp.Domain.from_intervals([list(span) for span in spans])
            variable = self.model.new_int_var_from_domain(domain, f"start {name}")
            self._hinted.append((variable, hint))
            start = Moment(variable, spans[0][0], spans[-1][1], hint)
        cuts: list[Minutes] = []
        if package.promised is not None:  # from here on the work ends later than promised
            cuts = [stated.earliest_start(package, package.promised + 1)]
        steps = [step for a, b in spans for step in self._steps(ends, cuts, a, b)]
        work_finish = self._image(start, steps)
        return Modelled(package, start, work_finish, work_finish.plus(self.up(package.hold)))

    def _image(self, source: Moment, steps: Sequence[Steps]) -> Moment:
        """A moment that follows from another one as the steps say."""
        groups: dict[tuple[bool, Minutes], list[list[Minutes]]] = {}
        for low, high, adds, minutes in steps:
            groups.setdefault((adds, minutes), []).append([low, high])
        values = [(m + low if a else m, m + high if a else m) for low, high, a, m in steps]
        lowest, highest = min(v[0] for v in values), max(v[1] for v in values)
        if len(groups) == 1:
            (adds, minutes), _ = groups.popitem()
            return source.plus(minutes) if adds else constant(minutes)
        hint = lowest
        for low, high, adds, minutes in steps:
            if low <= source.hint <= high:
                hint = source.hint + minutes if adds else minutes
        result = self._variable(lowest, highest, hint, "")
        literals = []
        for (adds, minutes), spans in groups.items():
            literal = self.model.new_bool_var("")
            literals.append(literal)
            inside = any(low <= source.hint <= high for low, high in spans)
            self._hinted.append((literal, int(inside)))
            domain = self.cp.Domain.from_intervals(spans)
            self.model.add_linear_expression_in_domain(source.is_at, domain).only_enforce_if(
                literal
            )
            value = source.is_at + minutes if adds else minutes
            self.model.add(result.is_at == value).only_enforce_if(literal)
        self.model.add_exactly_one(literals)
        return result

    def _interval(self, start: Moment, end: Moment, name: str) -> Any:
        if end.after is not None and end.after[0] is start.is_at:
            return self.model.new_fixed_size_interval_var(start.is_at, end.after[1], name)
        if start.known and end.known:
            return self.model.new_fixed_size_interval_var(start.low, end.low - start.low, name)
        low, high = max(end.low - start.high, 0), end.high - start.low
        size = self._variable(low, high, end.hint - start.hint, f"size {name}")
        return self.model.new_interval_var(start.is_at, size.is_at, end.is_at, name)

    # Dependencies

    def _ends(self, name: str, whole: Callable[[Minutes], int]) -> tuple[Moment, Moment] | None:
        """Start and finish of a package that is there; ``whole`` rounds what is fixed."""
        if name in self.items:
            return self.items[name].start, self.items[name].finish
        if name in self.fixed:
            planned = self.fixed[name]
            return constant(whole(planned.start)), constant(whole(planned.finish))
        return None

    def _dependencies(self) -> None:
        for d in self.stated.problem.dependencies:
            if d.before in self.fixed and d.after in self.fixed:
                continue
            before, after = self._ends(d.before, self.up), self._ends(d.after, self.down)
            if before is None or after is None:
                continue
            point = after[0] if d.relation.to_start else after[1]
            if d.after not in self.stated.facts:
                self._at_least(d, before[1] if d.relation.from_finish else before[0], point)
            if d.max_lag is not None:
                before, after = self._ends(d.before, self.down), self._ends(d.after, self.up)
                assert before is not None
                assert after is not None
                point = after[0] if d.relation.to_start else after[1]
                self._at_most(d, before[1] if d.relation.from_finish else before[0], point)

    def _at_least(self, d: Dependency, source: Moment, point: Moment) -> None:
        hours = None if d.lag_calendar is None else self.stated.hours[d.lag_calendar]
        if hours is None or d.min_lag == 0:
            bound = source.plus(self.up(d.min_lag))
            if bound.high > point.low:
                self._later(point, bound)
            return
        never = min(source.low, point.low) * self.grain

        def first(moment: Minutes) -> Minutes:
            at = earliest_point(d, moment, self.stated.hours)
            return never if at == NEVER else at

        cuts = boundaries(hours, source.low * self.grain, source.high * self.grain)
        if d.min_lag < 0:  # until then it reaches back before the calendar begins
            cuts.append(hours.earliest_at(1 - d.min_lag))
        bound = self._follow(source, first, cuts)
        if bound.high > point.low:
            self._later(point, bound)

    def _later(self, point: Moment, bound: Moment, unless: Any = None) -> None:
        """``point`` is at ``bound`` or later, if the literal ``unless`` is false."""
        if point.known and bound.known:
            if point.low < bound.low and unless is None:
                raise NoRoom(str(point))
            if point.low < bound.low:
                self.model.add_bool_or([unless])
            return
        constraint = self.model.add(point.is_at >= bound.is_at)
        if unless is not None:
            constraint.only_enforce_if(~unless)

    def _at_most(self, d: Dependency, source: Moment, point: Moment) -> None:
        """The maximum lag, if it has to be kept."""
        after = self.stated.packages[d.after]
        if after.progress is not None and (
            d.relation.to_start or after.progress.finished is not None
        ):
            return
        stated = self.stated
        kept = latest_point(d, source_of(d, self.dates[d.before]), stated.hours)
        if not self.strict and point_of(d, self.dates[d.after]) > kept:
            return

        if d.lag_calendar is None:
            assert d.max_lag is not None
            self._later(source.plus(self.down(d.max_lag)), point, self._unless(d))
            return
        far = point.high * self.grain

        def last(moment: Minutes) -> Minutes:
            return min(latest_point(d, moment, stated.hours), far)

        if last(source.low * self.grain) >= far:
            return
        low, high = source.low * self.grain, source.high * self.grain + 1
        while low < high:  # from which moment on it reaches far enough to bind nothing
            middle = (low + high) // 2
            low, high = (low, middle) if last(middle) >= far else (middle + 1, high)
        begin, end = source.low * self.grain, source.high * self.grain
        cuts = [*boundaries(stated.hours[d.lag_calendar], begin, end), low]
        steps = self._steps(last, cuts, source.low, source.high, early=True)
        self._later(self._image(source, steps), point, self._unless(d))

    def _unless(self, d: Dependency) -> Any:
        if not self._assume:
            return None
        given_up = self.model.new_bool_var("")
        self._assumed[(~given_up).index] = d
        self.model.add_assumption(~given_up)
        return given_up

    # Resources

    def _resources(self) -> None:
        users: dict[str, list[tuple[Any, int]]] = {}
        for name, item in self.items.items():
            intervals: dict[bool, Any] = {}
            for demand in item.package.demands:
                end = item.finish if demand.through_hold else item.work_finish
                if not demand.units or end.high <= item.start.low:
                    continue
                if demand.through_hold not in intervals:
                    interval = self._interval(item.start, end, f"{name} {demand.through_hold}")
                    intervals[demand.through_hold] = interval
                users.setdefault(demand.resource, []).append(
                    (intervals[demand.through_hold], demand.units)
                )
        for resource, used in users.items():
            self._resource(self.stated.resources[resource], used)

    def _resource(self, resource: Resource, used: list[tuple[Any, int]]) -> None:
        taken = list(self._taken(resource))
        if resource.capacity == 1 and all(units == 1 for _, units in used):
            self.model.add_no_overlap([interval for interval, _ in (*used, *taken)])
            return
        intervals, units = zip(*used, *taken, strict=True)
        self.model.add_cumulative(intervals, units, resource.capacity)

    def _taken(self, resource: Resource) -> Iterable[tuple[Any, int]]:
        """Outages and what is fixed, as intervals that never add up to more than there is."""
        changes: dict[Minutes, int] = {}
        spans = [(o.start, o.end, o.units) for o in resource.outages]
        for name, planned in self.fixed.items():
            for demand in self.stated.packages[name].demands:
                if demand.resource == resource.id and demand.units:
                    start, end = demand_span(demand, planned)
                    spans.append((start, end, demand.units))
        for start, end, units in spans:
            if start < end:
                changes[start] = changes.get(start, 0) + units
                changes[end] = changes.get(end, 0) - units
        level, begins = 0, 0
        for moment in sorted(changes):
            taken = min(level, resource.capacity)
            if taken and moment > self.stated.now:
                first = self.down(max(begins, self.stated.now))
                size = self.up(moment) - first
                yield self.model.new_fixed_size_interval_var(first, size, ""), taken
            level, begins = level + changes[moment], moment

    # Open hours

    def _in_open_hours(self) -> None:
        """The same order once more, counted in open minutes, in which work never pauses.

        Adds no requirement: work of one calendar that does not overlap in time does not overlap in
        its open minutes either. But there it has a fixed length, and a week of it is full after
        forty hours and not after a hundred and sixty-eight: bounds follow from that.
        """
        groups: dict[tuple[str, str], list[Modelled]] = {}
        for item in self.items.values():
            package = item.package
            if package.work and len(self.stated.hours[package.calendar].starts) > 1:
                for demand in package.demands:
                    if demand.units:
                        groups.setdefault((demand.resource, package.calendar), []).append(item)
        begun: dict[str, Moment] = {}
        for (name, _), items in groups.items():
            if len(items) > 1:
                intervals = [self._worked(item, begun) for item in items]
                units = [
                    next(d.units for d in item.package.demands if d.resource == name)
                    for item in items
                ]
                capacity = self.stated.resources[name].capacity
                if capacity == 1:
                    self.model.add_no_overlap(intervals)
                else:
                    self.model.add_cumulative(intervals, units, capacity)
        for d in self.stated.problem.dependencies:
            before, after = begun.get(d.before), begun.get(d.after)
            if before is None or after is None or d.relation is not Relation.FINISH_TO_START:
                continue
            packages = self.stated.packages[d.before], self.stated.packages[d.after]
            if d.min_lag >= 0 and packages[0].calendar == packages[1].calendar:
                self._later(after, before.plus(self.up(packages[0].work)))

    def _worked(self, item: Modelled, begun: dict[str, Moment]) -> Any:
        """The work as an interval of open minutes."""
        package = item.package
        known = begun.get(package.id)
        if known is None:
            hours = self.stated.hours[package.calendar]
            low, high = item.start.low * self.grain, item.start.high * self.grain
            steps = [
                step
                for a, b in open_between(hours, low, high)
                for step in self._steps(hours.counted, (), self.up(a), self.down(b))
            ]
            known = begun[package.id] = self._image(item.start, steps)
        return self.model.new_fixed_size_interval_var(known.is_at, self.up(package.work), "")

    # Pieces

    def _piece(self, piece: Piece) -> None:
        uses = [item for item in self.items.values() if piece.id in item.package.pieces]
        if not uses:
            return
        if not piece.shared and len(uses) > 1:
            self.model.add_no_overlap(
                [self._interval(u.start, u.finish, f"{piece.id} {u.package.id}") for u in uses]
            )
        for use in uses:
            for other in self._fixed_uses(piece):
                self._one_behind(piece, use, other)
        for index, use in enumerate(uses):
            for other in uses[:index]:
                if use.package.place != other.package.place:
                    self._one_behind(piece, use, other)

    def _fixed_uses(self, piece: Piece) -> Iterable[Modelled]:
        """Uses that are fixed and still to come."""
        now = {n: p for n, p in self.fixed.items() if n not in self.stated.facts}
        for stay in stays_of(self.stated, piece, now)[1:]:
            assert stay.package is not None
            start, end = constant(self.down(stay.start)), constant(self.up(stay.end))
            yield Modelled(self.stated.packages[stay.package], start, end, end)

    def _one_behind(self, piece: Piece, one: Modelled, other: Modelled) -> None:
        """One of the two uses comes first, and the piece then gets to the other in time."""
        if piece.shared and one.package.place == other.package.place:
            return
        there, back = self._arrival(one, other), self._arrival(other, one)
        if there.low > other.start.high:  # one cannot come first
            self._later(one.start, back)
        elif back.low > one.start.high:
            self._later(other.start, there)
        else:
            first = self.model.new_bool_var("")
            self._hinted.append((first, int(one.start.hint < other.start.hint)))
            self._later(other.start, there, ~first)
            self._later(one.start, back, first)

    def _arrival(self, one: Modelled, other: Modelled) -> Moment:
        """When a piece can be at the place of ``other``, coming from ``one``."""
        origin, place = one.package.place, other.package.place
        assert origin is not None
        assert place is not None
        if origin == place:
            return one.finish
        known = self._arrivals.get((one.package.id, place))
        if known is not None:
            return known
        stated = self.stated

        def arrive(ready: Minutes) -> Minutes:
            return stated.passage(origin, place, ready)[1]

        minutes = stated.travel(origin, place)
        leaves, reaches = stated.place_hours(origin), stated.place_hours(place)
        low, high = one.finish.low * self.grain, one.finish.high * self.grain
        cuts = boundaries(leaves, low, high)
        for moment in boundaries(reaches, low + minutes - 1, high + minutes):
            cuts += [moment - minutes, moment - minutes + 1]
        found = self._follow(one.finish, arrive, cuts)
        self._arrivals[one.package.id, place] = found
        return found

    # Objectives

    def minimise_launch(self) -> None:
        target = self.stated.problem.target
        if target is not None:
            launch = self._ends(target, self.up)
            assert launch is not None
            self.model.minimize(launch[1].is_at)
            return
        floor = self.up(max((p.finish for p in self.fixed.values()), default=self.stated.now))
        floor = max([floor, *(item.finish.low for item in self.items.values())])
        hint = max((item.finish.hint for item in self.items.values()), default=floor)
        until = max(self.up(self.until), floor)
        launch_at = self._variable(floor, until, max(hint, floor), "launch")
        for item in self.items.values():
            if item.finish.high > launch_at.low:
                self.model.add(launch_at.is_at >= item.finish.is_at)
        self.model.minimize(launch_at.is_at)

    def minimise_lateness(self, due: Mapping[str, Minutes]) -> None:
        """The greatest finish beyond its due date, then the sum of finishes."""
        items = list(self.items.values())
        by = {item.package.id: self.down(due[item.package.id]) for item in items}
        worst = max(item.finish.low - by[item.package.id] for item in items)
        latest = max(item.finish.high - by[item.package.id] for item in items)
        hint = max(item.finish.hint - by[item.package.id] for item in items)
        late = self._variable(worst, latest, hint, "late")
        for item in items:
            self.model.add(late.is_at >= item.finish.is_at - by[item.package.id])
        self.model.minimize(20 * len(items) * late.is_at + sum(i.finish.is_at for i in items))

    # Solving

    def contradicting(self, *, seconds: float) -> list[Dependency] | None:
        """Some maximum lags that no plan keeps together; None if that is not proved in time."""
        self.solver.parameters.max_time_in_seconds = max(seconds, 0.01)
        self.solver.parameters.num_workers = 1
        if self.solver.solve(self.model) != self.cp.INFEASIBLE:
            return None
        return [
            self._assumed[index] for index in self.solver.sufficient_assumptions_for_infeasibility()
        ]

    def solve(
        self,
        *,
        seconds: float,
        workers: int,
        seed: int,
        hint: bool = True,
        found: Callable[[dict[str, Minutes], Minutes], None] | None = None,
        stop: Callable[[], bool] | None = None,
        more: Mapping[str, Any] | None = None,
    ) -> Outcome:
        """``found`` hears of every better answer and the bound; ``stop`` is asked at each."""
        cp = self.cp
        if hint:
            for variable, value in self._hinted:
                self.model.add_hint(variable, value)
        solver = self.solver
        solver.parameters.max_time_in_seconds = max(seconds, 0.01)
        solver.parameters.num_workers = workers
        solver.parameters.random_seed = seed
        for key, value in (more or {}).items():
            setattr(solver.parameters, key, value)
        callback = None
        if found is not None:
            callback = _listener(cp, self, found, stop)
        status = solver.solve(self.model, callback)
        starts = None
        if status in (cp.OPTIMAL, cp.FEASIBLE):
            starts = self.starts_in(solver)
        return Outcome(
            starts,
            status == cp.OPTIMAL,
            status == cp.INFEASIBLE,
            self.grain * round(solver.best_objective_bound) if self.exact else NEVER,
        )

    def starts_in(self, answer: Any) -> dict[str, Minutes]:
        """The starts, in minutes, in what a solver or a callback holds."""
        return {
            name: self.grain
            * (item.start.low if item.start.known else answer.value(item.start.is_at))
            for name, item in self.items.items()
        }


def _listener(
    cp: Any,
    model: ExactModel,
    found: Callable[[dict[str, Minutes], Minutes], None],
    stop: Callable[[], bool] | None,
) -> Any:
    class Listener(cp.CpSolverSolutionCallback):  # type: ignore[misc]
        def on_solution_callback(self) -> None:
            found(model.starts_in(self), model.grain * round(self.best_objective_bound))
            if stop is not None and stop():
                self.stop_search()

    return Listener()


# Steps of time


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


# Steps of functions that never fall


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

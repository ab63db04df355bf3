"""The dates of a constraint model and what binds them to each other; see `exact_model`.

Time is counted in steps of ``grain`` minutes, the greatest that everything is a multiple of; where
only *now* and what has begun are not, they are rounded so that no answer is untrue, and the bound
says nothing (``exact``). What opening hours do to a date (work pauses over a night, a piece
waits for the shop to open) never falls as the date rises: on each of a few sets of moments it adds
the same number of minutes, or gives the same moment. One literal says on which set the date
lies (`_image`), so the model knows the calendars exactly, and needs no table over the horizon.

Here: work, holds, promises, opening hours, bookings, deadlines, dependencies of all relations with
lags on the clock or in open hours, maximum lags. Not here: what is shared, objectives, solving.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from .calendars import FOREVER, NEVER
from .generation import Generation
from .lags import earliest_point, latest_point, point_of, source_of
from .problem import Dependency, Minutes, Package, Planned
from .stated import Stated
from .steps import Steps, Ways, boundaries, grain_of, open_between, steps_of
from .windows import earliest_starts, latest_starts_by


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


class ExactDates:
    """``names`` are decided; of the others only those in ``fixed`` are there.

    ``dates``: a plan of everything, for hints and for what need not be kept: what it misses may be
    missed again by as much, unless ``strict``. ``until``: the latest launch (of the target, or of
    everything); ``horizon``: the latest finish of what the target does not wait for. ``assume``:
    maximum lags hold only under assumptions (``assumed``). ``ways``: those of an earlier model of
    the same problem. Raises NoRoom.
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
        ways: Ways | None = None,
    ) -> None:
        from ortools.sat.python import cp_model

        self.stated, self.dates, self.strict = stated, dates, strict
        self.names = [n for n in stated.order if n in set(names) and n not in stated.facts]
        self.fixed = {**{n: p for n, p in fixed.items() if n not in set(names)}, **stated.facts}
        self.until, self.horizon = until, horizon
        self.grain, self.exact = grain_of(stated)
        self.ways = ways or Ways(stated)
        self.cp = cp_model
        self.model = cp_model.CpModel()
        self.solver = cp_model.CpSolver()
        self.hinted: list[tuple[Any, int]] = []
        self._assume = assume
        self.assumed: dict[int, Dependency] = {}
        self._low = earliest_starts(stated, generation, self.ways, self.names, self.fixed)
        self._high = self._highs()
        self.items: dict[str, Modelled] = {}
        for name in self.names:
            if self._high[name] < self._low[name]:
                raise NoRoom(name)
            self.items[name] = self._package(stated.packages[name])
        self._dependencies()

    # Bounds

    def _highs(self) -> dict[str, Minutes]:
        """Latest starts; deadlines and bookings count as far as they must be kept."""
        target = self.stated.problem.target

        def finish_by(package: Package) -> Minutes:
            launch = self.until if target in (None, package.id) else self.horizon
            deadline = self.latest_finish(package)
            return launch if deadline is None else min(launch, deadline)

        def start_by(package: Package) -> Minutes:
            if package.booked is None:
                return FOREVER
            planned = self.dates[package.id].start
            return package.booked if self.strict else max(package.booked, planned)

        return latest_starts_by(
            self.stated, self.ways, self.names[::-1], self.fixed, finish_by, start_by
        )

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

    def follow(
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

    def variable(self, low: Minutes, high: Minutes, hint: Minutes, name: str) -> Moment:
        if low == high:
            return constant(low)
        variable = self.model.new_int_var(low, high, name)
        self.hinted.append((variable, min(max(hint, low), high)))
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
            start = self.variable(*spans[0], hint, f"start {name}")
        else:
            domain = self.cp.Domain.from_intervals([list(span) for span in spans])
            variable = self.model.new_int_var_from_domain(domain, f"start {name}")
            self.hinted.append((variable, hint))
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
        result = self.variable(lowest, highest, hint, "")
        literals = []
        for (adds, minutes), spans in groups.items():
            literal = self.model.new_bool_var("")
            literals.append(literal)
            inside = any(low <= source.hint <= high for low, high in spans)
            self.hinted.append((literal, int(inside)))
            domain = self.cp.Domain.from_intervals(spans)
            self.model.add_linear_expression_in_domain(source.is_at, domain).only_enforce_if(
                literal
            )
            value = source.is_at + minutes if adds else minutes
            self.model.add(result.is_at == value).only_enforce_if(literal)
        self.model.add_exactly_one(literals)
        return result

    def interval(self, start: Moment, end: Moment, name: str) -> Any:
        if end.after is not None and end.after[0] is start.is_at:
            return self.model.new_fixed_size_interval_var(start.is_at, end.after[1], name)
        if start.known and end.known:
            return self.model.new_fixed_size_interval_var(start.low, end.low - start.low, name)
        low, high = max(end.low - start.high, 0), end.high - start.low
        size = self.variable(low, high, end.hint - start.hint, f"size {name}")
        return self.model.new_interval_var(start.is_at, size.is_at, end.is_at, name)

    # Dependencies

    def ends_of(self, name: str, whole: Callable[[Minutes], int]) -> tuple[Moment, Moment] | None:
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
            before, after = self.ends_of(d.before, self.up), self.ends_of(d.after, self.down)
            if before is None or after is None:
                continue
            point = after[0] if d.relation.to_start else after[1]
            if d.after not in self.stated.facts:
                self._at_least(d, before[1] if d.relation.from_finish else before[0], point)
            if d.max_lag is not None:
                before, after = self.ends_of(d.before, self.down), self.ends_of(d.after, self.up)
                assert before is not None
                assert after is not None
                point = after[0] if d.relation.to_start else after[1]
                self._at_most(d, before[1] if d.relation.from_finish else before[0], point)

    def _at_least(self, d: Dependency, source: Moment, point: Moment) -> None:
        hours = None if d.lag_calendar is None else self.stated.hours[d.lag_calendar]
        if hours is None or d.min_lag == 0:
            bound = source.plus(self.up(d.min_lag))
            if bound.high > point.low:
                self.later(point, bound)
            return
        never = min(source.low, point.low) * self.grain

        def first(moment: Minutes) -> Minutes:
            at = earliest_point(d, moment, self.stated.hours)
            return never if at == NEVER else at

        cuts = boundaries(hours, source.low * self.grain, source.high * self.grain)
        if d.min_lag < 0:  # until then it reaches back before the calendar begins
            cuts.append(hours.earliest_at(1 - d.min_lag))
        bound = self.follow(source, first, cuts)
        if bound.high > point.low:
            self.later(point, bound)

    def later(self, point: Moment, bound: Moment, unless: Any = None) -> None:
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
            self.later(source.plus(self.down(d.max_lag)), point, self._unless(d))
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
        self.later(self._image(source, steps), point, self._unless(d))

    def _unless(self, d: Dependency) -> Any:
        if not self._assume:
            return None
        given_up = self.model.new_bool_var("")
        self.assumed[(~given_up).index] = d
        self.model.add_assumption(~given_up)
        return given_up

"""A refit, or some packages of it, as a constraint model; OR-tools is loaded when one is made.

On top of the dates (`exact_dates`): resources with outages, pieces and their ways, objectives,
solving. Of ways the model knows only what is true whatever lies between two uses of a piece: that
it left the one place while that was open and came to the other while that was, by the shortest way
there is. Decoding the answer through the generation scheme settles the rest, and a bound stays a
bound.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from .calendars import NEVER
from .exact_dates import ExactDates, Modelled, Moment, NoRoom, constant
from .generation import Generation
from .moves import stays_of
from .problem import Dependency, Minutes, Piece, Planned, Resource
from .stated import Stated
from .steps import Ways
from .timelines import demand_span
from .windows import come_after

__all__ = ["ExactModel", "NoRoom", "Outcome"]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a solver said. ``starts`` is None if it found nothing; ``bound`` is on the objective."""

    starts: dict[str, Minutes] | None
    optimal: bool
    infeasible: bool
    bound: Minutes


class ExactModel(ExactDates):
    """The dates and everything that packages share; arguments as there."""

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
        super().__init__(
            stated,
            generation,
            dates,
            names=names,
            fixed=fixed,
            until=until,
            horizon=horizon,
            strict=strict,
            assume=assume,
            ways=ways,
        )
        self._arrivals: dict[tuple[str, str, bool], Moment] = {}
        towed = any(piece.towed for piece in stated.pieces.values())
        self._towed_ways = Ways(stated, towed=True) if towed else self.ways
        self._behind = come_after(stated)
        self._resources()
        for piece in stated.pieces.values():
            self._piece(piece)

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
                    interval = self.interval(item.start, end, f"{name} {demand.through_hold}")
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

    # Pieces

    def _piece(self, piece: Piece) -> None:
        uses = [item for item in self.items.values() if piece.id in item.package.pieces]
        if not uses:
            return
        if not piece.shared and len(uses) > 1:
            self.model.add_no_overlap(
                [self.interval(u.start, u.finish, f"{piece.id} {u.package.id}") for u in uses]
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
        if other.package.id in self._behind[one.package.id]:
            self.later(other.start, self._arrival(one, other, piece))
            return
        if one.package.id in self._behind[other.package.id]:
            self.later(one.start, self._arrival(other, one, piece))
            return
        there = self._arrival(one, other, piece)
        back = self._arrival(other, one, piece)
        if there.low > other.start.high:  # one cannot come first
            self.later(one.start, back)
        elif back.low > one.start.high:
            self.later(other.start, there)
        else:
            first = self.model.new_bool_var("")
            self.hinted.append((first, int(one.start.hint < other.start.hint)))
            self.later(other.start, there, ~first)
            self.later(one.start, back, first)

    def _arrival(self, one: Modelled, other: Modelled, piece: Piece) -> Moment:
        """When the piece can be at the place of ``other``, coming from ``one``."""
        origin, place = one.package.place, other.package.place
        assert origin is not None
        assert place is not None
        if origin == place:
            return one.finish
        key = one.package.id, place, piece.towed
        known = self._arrivals.get(key)
        if known is not None:
            return known

        ways = self._towed_ways if piece.towed else self.ways
        never = max(self.until, self.horizon) + self.grain

        def arrive(ready: Minutes) -> Minutes:
            return min(ways.arrival(origin, place, ready), never)

        low, high = one.finish.low * self.grain, one.finish.high * self.grain
        cuts = ways.cuts(origin, place, low, high)
        found = self.follow(one.finish, arrive, cuts)
        self._arrivals[key] = found
        return found

    # Objectives

    def minimise_launch(self, bound: Minutes) -> None:
        """``bound``: the launch is known to be at this moment or later."""
        target = self.stated.problem.target
        if target is not None:
            launch = self.ends_of(target, self.up)
            assert launch is not None
            if not launch[1].known:
                self.model.add(launch[1].is_at >= min(self.up(bound), launch[1].high))
            self.model.minimize(launch[1].is_at)
            return
        floor = self.up(max((p.finish for p in self.fixed.values()), default=self.stated.now))
        floor = max([floor, *(item.finish.low for item in self.items.values())])
        floor = max(floor, min(self.up(bound), self.up(self.until)))
        hint = max((item.finish.hint for item in self.items.values()), default=floor)
        until = max(self.up(self.until), floor)
        launch_at = self.variable(floor, until, max(hint, floor), "launch")
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
        late = self.variable(worst, latest, hint, "late")
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
            self.assumed[index] for index in self.solver.sufficient_assumptions_for_infeasibility()
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
            for variable, value in self.hinted:
                self.model.add_hint(variable, value)
        solver = self.solver
        solver.parameters.max_time_in_seconds = max(seconds, 0.01)
        solver.parameters.num_workers = workers
        solver.parameters.random_seed = seed
        for key, value in (more or {}).items():
            if isinstance(value, list):
                getattr(solver.parameters, key).extend(value)
            else:
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

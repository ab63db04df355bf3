"""A better plan within a time limit, and a proof where one can be had.

1. A bound. No launch is before that of the critical path, nor before the hours of work fit into
   the days there are (`energy`); if a plan launches then, it is proved.
2. Where hours and pieces decide nothing, a population of plans (`population`) comes close in a
   moment.
3. CP-SAT (`exact_model`) is given the whole problem where it can hold it, with the best plan as a
   hint and its launch as the horizon, and works on one core while the search goes on beside it.
4. Elsewhere: changes of order, decoded through the generation scheme (`climb`), and beside them
   CP-SAT on stretches of the plan (`stretches`).

Every answer is decoded through the exact calendars, judged and checked as any other plan
(`Search`); the best plan never becomes worse.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from threading import Thread
from time import monotonic
from typing import Any

from .climb import Climb
from .critical_path import critical_path
from .energy import Energy
from .exact_model import ExactModel, NoRoom, Outcome
from .population import Population, arrays_of
from .problem import Contradiction, Minutes, SchedulingError
from .search import Search
from .stated import Stated
from .steps import Ways
from .stretches import Stretches

SMALL, LARGE = 40, 90
"""Where hours and pieces decide nothing: packages up to which both cores are CP-SAT's alone, and
from which on it gets only one."""
PROVERS = ["no_lp", "objective_lb_search_no_lp"]
"""CP-SAT's workers where a proof is all that is missing: one searches for plans, one raises the
bound, neither solves linear programs, which say little here (tried on the two j30 instances that
the usual pair leaves open: both proved by this one)."""
ALONE = 50
"""Where there are opening hours: packages up to which CP-SAT works alone after a short climb."""
HELD_WHOLE = 200
"""Packages that CP-SAT is given all at once where there are opening hours: more it cannot hold."""

MARGIN = 0.3
"""Seconds of ten kept back for the end of the solver's last step and for the plan to be made."""


@dataclass(frozen=True, slots=True)
class Improved:
    """What is known so far: the best launch, what no launch can be before, and if that is all."""

    seconds: float
    launch: Minutes
    bound: Minutes
    proved: bool
    missed: int
    contradiction: tuple[str, ...] = ()


class Effort:
    """How long the search may go on, and who hears of it."""

    def __init__(
        self,
        search: Search,
        limit: float,
        progress: Callable[[Improved], None] | None,
        stop: Callable[[], bool] | None,
        began: float,
    ) -> None:
        self.search, self.began = search, began
        self.limit = limit - min(MARGIN, MARGIN / 10 * limit)
        self._progress, self._stop = progress, stop
        self.bound: Minutes = search.stated.now
        self.contradiction: tuple[str, ...] = ()
        self.stopped = False
        self._asked = 0.0

    @property
    def left(self) -> float:
        return self.limit - (monotonic() - self.began)

    @property
    def launch(self) -> Minutes:
        assert self.search.key is not None
        return self.search.key[2]

    @property
    def missed(self) -> int:
        assert self.search.key is not None
        return self.search.key[0]

    @property
    def proved(self) -> bool:
        return self.missed == 0 and self.launch <= self.bound

    def over(self) -> bool:
        """No time left, nothing better possible, or told to stop."""
        if self._stop is not None and not self.stopped and monotonic() - self._asked > 0.2:
            self._asked = monotonic()
            self.stopped = self._stop()
        return self.stopped or self.left <= 0 or self.proved

    def at_least(self, bound: Minutes) -> None:
        if bound > self.bound:
            self.bound = bound
            self.tell()

    def tell(self) -> None:
        if self._progress is not None:
            self._progress(self.state())

    def state(self) -> Improved:
        return Improved(
            monotonic() - self.began,
            self.launch,
            min(self.bound, self.launch) if self.missed == 0 else self.bound,
            self.proved,
            self.missed,
            self.contradiction,
        )


def improve(
    search: Search,
    *,
    limit: float,
    seed: int,
    progress: Callable[[Improved], None] | None,
    stop: Callable[[], bool] | None,
    began: float | None = None,
) -> Improved:
    """Leaves the best plan in ``search``, which must hold one, and says what is known of it.

    ``began``: the moment (`time.monotonic`) from which the limit counts, if that was before now.
    """
    search.best_dates()
    stated, effort = (
        search.stated,
        Effort(search, limit, progress, stop, monotonic() if began is None else began),
    )
    try:
        effort.bound = max(stated.now, critical_path(stated.problem).finish)
    except Contradiction as contradiction:
        effort.contradiction = contradiction.ids
        return effort.state()
    if not effort.over():
        energy = Energy(stated, search.generation, Ways(stated), _waited_for(stated))
        effort.bound = energy.bound(effort.bound, max(effort.bound, effort.launch))
    if not effort.over():
        _Whole(effort, seed).run()
    return effort.state()


class _Whole:
    """CP-SAT on the whole problem, a population beside it where that is possible."""

    def __init__(self, effort: Effort, seed: int) -> None:
        self.effort, self.search, self.seed = effort, effort.search, seed
        self.stated = self.search.stated
        self.answers: list[dict[str, Minutes]] = []
        self.outcome: Outcome | None = None
        self.beside: Callable[[], bool] | None = None

    def run(self) -> None:
        population = self._population()
        effort = self.effort
        if population is not None:
            self._evolve(population, 0.06 * effort.limit)
        if effort.over():
            return
        if effort.missed:
            self._keep_everything()
        if effort.over() or effort.contradiction:
            return
        open_always, size = always_open(self.stated), len(self.stated.order)
        if population is not None and size > SMALL:
            self.beside = self._generation(population)
        elif not open_always:
            climb = self.beside = Climb(self.search, self.seed).step
            if size <= ALONE:
                until = 0.9 * effort.left
                while effort.left > until and not effort.over():
                    self._beside()
                self.beside = None
        if not open_always and size > HELD_WHOLE:
            self._stretches()
            return
        more = {"subsolvers": PROVERS} if open_always and size <= SMALL else None
        try:
            model = self._model(until=effort.launch, strict=False)
            model.minimise_launch(effort.bound)
            self._solve(model, effort.left, 1 if self.beside and size > LARGE else 2, more)
        except NoRoom:  # nothing that the model could say
            pass
        if not open_always:  # what the model takes for best may not be quite possible
            self.beside = climb
        while self.beside is not None and not effort.over():
            self._beside()

    def _beside(self) -> None:
        """One step of what goes on while CP-SAT works."""
        assert self.beside is not None
        if self.beside():
            self.effort.tell()

    def _generation(self, population: Population) -> Callable[[], bool]:
        def step() -> bool:
            if population.step():
                self._take(population)
            return False

        return step

    def _stretches(self) -> None:
        """CP-SAT on one stretch of the best plan after the other; beside it, changes of order."""
        stretches = Stretches(self.search, self.seed)
        thread = Thread(target=lambda: stretches.work(self.effort), daemon=True)
        thread.start()
        while not self.effort.over():
            self._beside()
            while stretches.answers:
                self.try_starts(stretches.answers.pop())
        stretches.halt()
        thread.join()

    def _keep_everything(self) -> None:
        """A plan that misses nothing, or the proof that there is none."""
        open_always = always_open(self.stated)
        until = _long_enough(self.search) if open_always else 2 * self.search.horizon()
        try:
            model = self._model(until=until, strict=True)
        except NoRoom:
            return
        model.minimise_launch(self.effort.bound)
        self._solve(model, self.effort.left, 2)
        if open_always and self.outcome is not None and self.outcome.infeasible:
            self.effort.contradiction = self._contradiction(until)

    def _contradiction(self, until: Minutes) -> tuple[str, ...]:
        """Packages whose maximum lags no plan keeps together: few, if time allows."""
        windows = [d for d in self.stated.problem.dependencies if d.max_lag is not None]
        model = self._model(until=until, strict=True, assume=True)
        few = model.contradicting(seconds=max(self.effort.left, 1))
        windows = windows if few is None else few
        return tuple(dict.fromkeys(n for d in windows for n in (d.before, d.after)))

    def _population(self) -> Population | None:
        search, now = self.search, self.stated.now
        arrays = arrays_of(self.stated, search.generation.unhindered, self.effort.launch)
        if arrays is None:
            return None
        starts = [search.dates[name].start - now for name in arrays.names]
        import numpy as np

        first = np.array(starts, dtype=np.int32) // arrays.grain
        horizon = (self.effort.launch - now) // arrays.grain
        return Population(arrays, horizon, first, size=100, seed=self.seed)

    def _evolve(self, population: Population, seconds: float) -> None:
        effort, until = self.effort, self.effort.left - seconds
        self._take(population)
        while not effort.over() and effort.left > until:
            if population.step():
                self._take(population)

    def _take(self, population: Population) -> None:
        _, starts = population.best
        self.try_starts(population.dates(starts, self.stated.now))

    def try_starts(self, starts: dict[str, Minutes]) -> bool:
        """Whether these starts, as they are or as an order, give a better plan."""
        stated, search = self.stated, self.search
        full = {**{n: p.start for n, p in search.dates.items()}, **starts}
        better = False
        try:
            dates = {n: stated.dates(stated.packages[n], at) for n, at in full.items()}
            better = search.try_dates(dates)
        except SchedulingError:
            pass
        better = search.try_ranks({n: float(at) for n, at in full.items()}) or better
        if better:
            self.effort.tell()
        return better

    def _model(self, *, until: Minutes, strict: bool, assume: bool = False) -> ExactModel:
        return ExactModel(
            self.stated,
            self.search.generation,
            self.search.dates,
            names=_waited_for(self.stated),
            fixed={},
            until=until,
            horizon=until,
            strict=strict,
            assume=assume,
        )

    def _solve(
        self,
        model: ExactModel,
        seconds: float,
        workers: int,
        more: Mapping[str, Any] | None = None,
    ) -> None:
        """Solve in a thread; take answers as they come; beside it, whatever else there is."""
        effort = self.effort

        def work() -> None:
            self.outcome = model.solve(
                seconds=seconds,
                workers=workers,
                seed=self.seed,
                found=lambda starts, bound: self.answers.append(starts),
                more=more,
            )

        thread = Thread(target=work, daemon=True)
        thread.start()
        while thread.is_alive():
            if self.beside is not None and not self.effort.missed:
                self._beside()
            else:
                thread.join(0.05)
            self._take_answers()
            if effort.over():
                model.solver.stop_search()
        self._take_answers()
        if self.outcome is not None:
            if self.outcome.starts is not None:
                self.try_starts(self.outcome.starts)
            if not self.outcome.infeasible:
                effort.at_least(self.outcome.bound)

    def _take_answers(self) -> None:
        while self.answers:
            last = self.answers[-1]
            self.answers.clear()
            self.try_starts(last)


def always_open(stated: Stated) -> bool:
    """Whether hours and ways decide nothing about what is still to be planned."""
    for name in stated.order:
        package, begins = stated.packages[name], stated.begins[name]
        if package.pieces:
            return False
        if package.work and (len(begins.starts) > 1 or begins.starts[0] > stated.now):
            return False
    return all(d.lag_calendar is None for d in stated.problem.dependencies)


def _long_enough(search: Search) -> Minutes:
    """A launch that some plan reaches if there is any: one thing after the other."""
    stated = search.stated
    until = max(planned.finish for planned in search.generation.unhindered.values())
    until = max([until, *(o.end for r in stated.resources.values() for o in r.outages)])
    for name, package in stated.packages.items():
        lags = (max(d.min_lag, d.max_lag or 0, 0) for d in stated.out_of[name])
        until += max(package.work + package.hold, max(lags, default=0))
    return until


def _waited_for(stated: Stated) -> list[str]:
    """What the launch waits for; the rest is left out of the model, so that its bound is one."""
    target = stated.problem.target
    if target is None:
        return list(stated.order)
    found, waiting = {target}, [target]
    for name in waiting:  # grows while it is read
        for dependency in stated.into[name]:
            if dependency.before not in found:
                found.add(dependency.before)
                waiting.append(dependency.before)
    return [name for name in stated.order if name in found]

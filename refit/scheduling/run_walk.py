"""A levelled chain walked for many runs at once: dates forward, what drives the launch backward.

Here drawn times become dates (`walk`) and dates become chains (`trace`). What is drawn is decided
in `sampling`, what the plan has decided is read in `run_chain`, what it means is for `simulate`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from .problem import BadProblem, Minutes, Package, Plan, Planned
from .run_chain import Chain, End, PackageStep, Step, Wait, WayStep, read_chain
from .run_hours import NEVER, RunHours, Runs, Spans, departures, earliest_after
from .sampling import Draws
from .stated import Stated

Ends = tuple[Runs, Runs, Runs]
"""Start, end of work and finish in each run, in the order of `End`."""


@dataclass(frozen=True, slots=True)
class Walked:
    """Dates of every step in every run, and what decided them.

    ``bounds``: from when a start or an arrival was possible by all that it waits for. ``kept``:
    where the end of the work was not that of the hours worked but a promise. ``on_time``: where a
    vendor can be late, the end of the work if it had not been.
    """

    draws: Draws
    ends: dict[str, Ends]
    bounds: dict[str, Runs] = field(default_factory=dict)
    kept: dict[str, NDArray[np.bool_]] = field(default_factory=dict)
    on_time: dict[str, Runs] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Driven:
    """In how many runs a package drives the launch, and in which of them by its end."""

    count: int
    by_end: NDArray[np.bool_]


def prepare(stated: Stated, plan: Plan) -> Walk:
    """The chain of the plan, found to give the plan's own dates when nothing is drawn."""
    dates = {planned.id: planned for planned in plan.packages}
    if dates.keys() != stated.packages.keys():
        raise BadProblem("the plan is not one of this problem: its packages are others")
    return Walk(stated, read_chain(stated, dates), dates)


class Walk:
    """Walks the steps of a chain for many runs at once."""

    def __init__(self, stated: Stated, chain: Chain, dates: Mapping[str, Planned]) -> None:
        self.stated, self.chain = stated, chain
        self._hours: dict[str, RunHours] = {}
        self._ways: dict[tuple[str, str, Minutes], RunHours] = {}
        target = stated.problem.target
        self._targets = list(dates) if target is None else [target]
        self.planned = max((dates[name].finish for name in self._targets), default=0)
        self.held: tuple[str, ...] = ()
        self._hold_back(dates)

    def _hold_back(self, dates: Mapping[str, Planned]) -> None:
        """Raise floors to what the plan has where nothing else that is kept asks for it."""
        steps: list[Step] = []
        held: list[str] = []
        walked = self._empty(Draws(1, {}, {}))
        for step in self.chain.steps:
            self._step(step, walked)
            if isinstance(step, PackageStep) and not step.begun:
                planned = dates[step.id].start
                start = int(walked.ends[step.id][End.START][0])
                if start > planned:
                    raise BadProblem(f"the plan is not one of this problem: {step.id} is too early")
                if start < planned:
                    step = replace(step, floor=planned)
                    held.append(step.id)
                    self._step(step, walked)
            steps.append(step)
        self.chain = replace(self.chain, steps=tuple(steps))
        self.held = tuple(held)

    def _hours_of(self, calendar: str) -> RunHours:
        if calendar not in self._hours:
            hours = self.stated.hours[calendar]
            self._hours[calendar] = RunHours(calendar, hours.starts, hours.ends)
        return self._hours[calendar]

    def _departures(self, way: WayStep) -> RunHours:
        origin, destination = (
            self.stated.places[place].calendar for place in (way.origin, way.destination)
        )
        key = origin, destination, way.travel
        if key not in self._ways:
            self._ways[key] = departures(
                self._hours_of(origin), self._hours_of(destination), way.travel
            )
        return self._ways[key]

    # Forward

    def _empty(self, draws: Draws) -> Walked:
        ends: dict[str, Ends] = {}
        for name, planned in self.chain.settled.items():
            moments = (planned.start, planned.work_finish, planned.finish)
            start, work, finish = (np.full(draws.runs, m, dtype=np.int32) for m in moments)
            ends[name] = start, work, finish
        return Walked(draws, ends)

    def walk(self, draws: Draws) -> Walked:
        """Dates in every run."""
        walked = self._empty(draws)
        for step in self.chain.steps:
            self._step(step, walked)
        return walked

    def launch(self, ends: Mapping[str, Ends]) -> Runs:
        """The finish of the target in every run."""
        finishes = [ends[name][End.FINISH] for name in self._targets]
        latest: Runs = np.maximum.reduce(finishes) if finishes else np.zeros(1, dtype=np.int32)
        return latest

    def _step(self, step: Step, walked: Walked) -> None:
        if isinstance(step, WayStep):
            ready = self._bound(step, walked, 0)
            depart = self._departures(step).open_from(ready)
            walked.ends[step.id] = ready, depart, depart + np.int32(step.travel)
        else:
            self._package(step, walked)

    def _package(self, step: PackageStep, walked: Walked) -> None:
        package, name = step.package, step.id
        hours = self._hours_of(package.calendar) if package.work or step.work else None
        work: Runs | Minutes = walked.draws.work.get(name, step.work)
        bound = self._bound(step, walked, work)
        span: Spans | None = None
        if hours is not None and not step.begun:
            bound, span = _begin(package, hours, bound, work)
        ends = self._dated(step, walked, bound, work, hours, span)
        ends = self._avoid(step, walked, ends, work, hours)
        if step.begun:
            assert package.progress is not None
            started = np.full(walked.draws.runs, package.progress.started, dtype=np.int32)
            ends = started, ends[End.WORK], ends[End.FINISH]
        walked.ends[name] = ends

    def _bound(self, step: Step, walked: Walked, work: Runs | Minutes) -> Runs:
        """The latest of the floor and all that is waited for."""
        bound: Runs = np.full(walked.draws.runs, max(step.floor, NEVER), dtype=np.int32)
        for wait in step.waits:
            np.maximum(bound, self._point(step, wait, walked, work), out=bound)
        walked.bounds[step.id] = bound
        return bound

    def _point(self, step: Step, wait: Wait, walked: Walked, work: Runs | Minutes) -> Runs:
        point = walked.ends[wait.source][wait.end]
        if wait.lag:
            calendar = wait.lag_calendar
            counted_in = None if calendar is None else self._hours_of(calendar)
            point = earliest_after(point, wait.lag, counted_in)
        if not wait.to_finish:
            return point
        assert isinstance(step, PackageStep)
        package = step.package
        work_finish: Runs = point - np.int32(package.hold)
        starts = work_finish
        if package.unbroken:
            starts = work_finish - work
        elif package.work:
            each = np.broadcast_to(np.asarray(work, dtype=np.int32), work_finish.shape)
            starts = self._hours_of(package.calendar).earliest_start(work_finish, each)
        if package.promised is not None:
            starts = np.where(work_finish <= package.promised, np.int32(NEVER), starts)
        return starts

    def _dated(
        self,
        step: PackageStep,
        walked: Walked,
        starts: Runs,
        work: Runs | Minutes,
        hours: RunHours | None,
        span: Spans | None,
    ) -> Ends:
        """Ends of the work and the hold from these starts, which lie in open hours."""
        package, name = step.package, step.id
        work_finish = starts
        if step.work:
            assert hours is not None
            work_finish = hours.finish(starts, work, span)
        if package.promised is not None:
            walked.kept[name] = work_finish < package.promised
            work_finish = np.maximum(work_finish, np.int32(package.promised))
        late = walked.draws.late.get(name)
        if late is not None:
            walked.on_time[name] = work_finish
            after = self._hours_of(package.calendar).finish(work_finish, late)
            work_finish = np.where(late > 0, after, work_finish)
        if not package.hold:
            return starts, work_finish, work_finish
        return starts, work_finish, work_finish + np.int32(package.hold)

    def _avoid(
        self,
        step: PackageStep,
        walked: Walked,
        ends: Ends,
        work: Runs | Minutes,
        hours: RunHours | None,
    ) -> Ends:
        """Later, where it would run into an outage of what it uses."""
        pushed = bool(step.avoided)
        while pushed:  # out of one outage it may run into another
            pushed = False
            for avoided in step.avoided:
                for begins, over in avoided.spans:
                    end = ends[End.FINISH if avoided.whole else End.WORK]
                    clash = (ends[End.START] < over) & (end > begins)
                    if clash.any():
                        pushed = True
                        starts = np.where(clash, np.int32(over), ends[End.START])
                        span: Spans | None = None
                        if hours is not None:
                            starts, span = _begin(step.package, hours, starts, work)
                        ends = self._dated(step, walked, starts, work, hours, span)
        return ends

    # Backward

    def trace(self, walked: Walked) -> dict[str, Driven]:
        """Which packages drive the launch in which runs: the chain that decided, followed back.

        Where several decide at once, the chain follows one of them.
        """
        runs = walked.draws.runs
        by_end: dict[str, NDArray[np.bool_]] = {}
        by_start: dict[str, NDArray[np.bool_]] = {}
        launch = self.launch(walked.ends)
        left = np.ones(runs, dtype=np.bool_)
        for name in self._targets:
            decides = left & (walked.ends[name][End.FINISH] == launch)
            if decides.any():
                by_end[name] = decides
                left &= ~decides
        driven: dict[str, Driven] = {}
        for step in reversed(self.chain.steps):
            at_end, at_start = by_end.get(step.id), by_start.get(step.id)
            if at_end is None and at_start is None:
                continue
            none = np.zeros(runs, dtype=np.bool_)
            at_end = none if at_end is None else at_end
            at_start = none if at_start is None else at_start
            if isinstance(step, PackageStep):
                driven[step.id] = Driven(int(np.count_nonzero(at_end | at_start)), at_end)
                if step.begun:
                    continue
            kept = walked.kept.get(step.id)
            behind = at_start | (at_end if kept is None else at_end & ~kept)
            work: Runs | Minutes = 0
            if isinstance(step, PackageStep):
                work = walked.draws.work.get(step.id, step.work)
            bound = walked.bounds[step.id]
            behind = behind & (bound > step.floor)
            for wait in step.waits:
                here = behind & (self._point(step, wait, walked, work) == bound)
                if here.any():
                    ends = by_start if wait.end is End.START else by_end
                    known = ends.get(wait.source)
                    ends[wait.source] = here if known is None else known | here
                    behind &= ~here
        return driven


def _begin(
    package: Package, hours: RunHours, moments: Runs, work: Runs | Minutes
) -> tuple[Runs, Spans]:
    if package.unbroken:
        return hours.begin_unbroken(moments, work)
    return hours.begin(moments)

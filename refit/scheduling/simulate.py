"""How sure is the launch: the levelled chain run thousands of times, hours and all.

Each run draws a working time for every package and a lateness for every return of a vendor
(`sampling`), keeps what the plan has decided (`run_chain`), and asks the same opening hours as the
plan does (`run_hours`). A run in which everything takes its likely time and nobody is late is the
plan itself, minute for minute: the plan is tried against that before anything is drawn.

What is not modelled: nobody reacts. A crew that sees a shop slip a week would change the order;
here it waits. Maximum lags may be overrun. So the late runs are later than they need be.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .problem import BadProblem, Minutes, Plan, Problem
from .run_chain import End, PackageStep
from .run_hours import Runs
from .run_walk import Driven, Walk, Walked, prepare
from .sampling import Draws, Lateness, Shape, draw_stated
from .stated import Stated

CHUNK = 5000
"""Runs walked at a time: few enough that what a package needs stays near the processor."""
WEIGHED = 8
WEIGHED_RUNS = 500
"""Returns whose lateness is tried on its own, at most (those that can matter most), and in how many
of the runs in which it matters."""


@dataclass(frozen=True, slots=True)
class Promise:
    """What it is worth that ``vendor`` hands ``package`` back on the day.

    ``gain``: how much earlier the launch is on average, elapsed minutes, if this one return is
    never late and all else goes as it went, in the same runs. ``drives``: share of the runs in
    which this lateness is on the chain that drives the launch.
    """

    package: str
    vendor: str
    gain: float
    drives: float


@dataclass(frozen=True, slots=True, eq=False)
class Risk:
    """What the runs say of the launch. Moments are minutes, as in the plan.

    ``planned``: the launch of the plan itself. ``finishes``: the launch of every run, sorted.
    ``drives``: for every package that has not ended the share of runs in which it is on the chain
    that drives the launch. ``promises``: the returns that matter, the one that matters most first.
    ``held``: packages that the plan keeps back, to be in time for what must follow closely.
    """

    runs: int
    planned: Minutes
    finishes: NDArray[np.int32]
    drives: Mapping[str, float]
    promises: tuple[Promise, ...]
    held: tuple[str, ...]

    def by(self, share: float) -> Minutes:
        """The first moment by which at least this share of the runs is afloat."""
        rank = int(np.ceil(round(share * self.runs, 9)))
        return int(self.finishes[min(max(rank, 1), self.runs) - 1])

    def within(self, moment: Minutes) -> float:
        """The share of runs afloat by ``moment``."""
        return float(np.searchsorted(self.finishes, moment, side="right")) / self.runs

    @property
    def p10(self) -> Minutes:
        return self.by(0.1)

    @property
    def p50(self) -> Minutes:
        return self.by(0.5)

    @property
    def p80(self) -> Minutes:
        return self.by(0.8)

    @property
    def p90(self) -> Minutes:
        return self.by(0.9)

    @property
    def mean(self) -> float:
        return float(self.finishes.mean(dtype=np.float64))


def simulate(
    problem: Problem,
    plan: Plan,
    *,
    runs: int = 10_000,
    seed: int = 0,
    late: Iterable[Lateness] = (),
    shape: Shape = Shape.PERT_BETA,
) -> Risk:
    """Run a plan in which `check` finds nothing; the same answer for the same seed.

    Raises BadProblem when the problem or the figures are not sound, or the plan is not one of this
    problem; BeyondHorizon when some run does not end before the calendars do.
    """
    if runs < 1:
        raise BadProblem(f"{runs} runs")
    stated = Stated(problem)
    lateness = tuple(late)
    draws = draw_stated(stated, runs=runs, seed=seed, late=lateness, shape=shape)
    walk = prepare(stated, plan)
    vendors = {name: one.vendor for one in lateness for name in one.packages}
    finishes: list[Runs] = []
    counts: dict[str, int] = {}
    promises: tuple[Promise, ...] = ()
    for first in range(0, runs, CHUNK):
        chunk = _part(draws, first, min(first + CHUNK, runs))
        walked = walk.walk(chunk)
        finishes.append(walk.launch(walked.ends))
        driving = walk.trace(walked)
        for name, driven in driving.items():
            counts[name] = counts.get(name, 0) + driven.count
        if first == 0:
            promises = _weigh(walk, walked, driving, vendors)
    return Risk(
        runs=runs,
        planned=walk.planned,
        finishes=np.sort(np.concatenate(finishes)),
        drives={
            step.id: counts.get(step.id, 0) / runs
            for step in walk.chain.steps
            if isinstance(step, PackageStep)
        },
        promises=promises,
        held=walk.held,
    )


def _part(draws: Draws, first: int, end: int) -> Draws:
    return Draws(
        end - first,
        {name: drawn[first:end] for name, drawn in draws.work.items()},
        {name: drawn[first:end] for name, drawn in draws.late.items()},
    )


def _weigh(
    walk: Walk, walked: Walked, driving: Mapping[str, Driven], vendors: Mapping[str, str]
) -> tuple[Promise, ...]:
    """What each return on the day would bring: these runs walked again without its lateness.

    A lateness can cost no more than its own length, and only where it drives the launch: by
    that limit the `WEIGHED` most promising are tried, the others are not worth as much.
    """
    limits: dict[str, float] = {}
    for name, on_time in walked.on_time.items():
        if name in driving:
            lost = (walked.ends[name][End.WORK] - on_time) * driving[name].by_end
            limits[name] = float(lost.mean())
    likeliest = sorted((n for n in limits if limits[n] > 0), key=lambda n: (-limits[n], n))
    tried: list[tuple[str, float, NDArray[np.intp]]] = []
    for name in likeliest[:WEIGHED]:
        late = driving[name].by_end & (walked.ends[name][End.WORK] > walked.on_time[name])
        matters = np.flatnonzero(late)  # elsewhere the launch would be the same without
        tried.append((name, len(matters) / walked.draws.runs, matters[:WEIGHED_RUNS]))
    if not tried:
        return ()
    launch = walk.launch(walked.ends)
    promises = []
    for (name, share, which), kept in zip(tried, _kept(walk, walked.draws, tried), strict=True):
        gain = float((launch[which] - kept).mean()) * share
        promises.append(Promise(name, vendors[name], gain, share))
    return tuple(sorted(promises, key=lambda p: (-p.gain, p.package)))


def _kept(
    walk: Walk, draws: Draws, tried: Sequence[tuple[str, float, NDArray[np.intp]]]
) -> Iterator[Runs]:
    """For each of the packages the launch of its runs if it is handed back on the day.

    All in one walk, the runs of one package beside those of the next.
    """
    which = np.concatenate([runs for _, _, runs in tried])
    late = {name: drawn[which] for name, drawn in draws.late.items()}
    work = {name: drawn[which] for name, drawn in draws.work.items()}
    bounds = np.cumsum([0, *(len(runs) for _, _, runs in tried)])
    for (name, _, _), first, end in zip(tried, bounds, bounds[1:], strict=False):
        late[name][first:end] = 0
    launch = walk.launch(walk.walk(Draws(len(which), work, late)).ends)
    for first, end in pairwise(bounds):
        yield launch[first:end]

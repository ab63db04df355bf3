"""How sure is the launch: 10,000 runs of 500 packages with opening hours, against networkx.

The refit is random, with pieces that travel, resources with outages, holds and bookings; the plan
is levelled once and not timed. Timed is all that `simulate` does: reading the plan's links,
drawing, running, following the driving chains back, weighing the promises.

The comparison is what one would write with networkx: the links of the same plan as a graph, built
once; for every run a walk in topological order over it, with the same drawn working times and the
same opening hours, answered by `Hours` one moment at a time. It computes the launch and nothing
else, and keeps no piece moving between opening hours of two places (a fixed time instead), so it
does less. It is timed on a few of the runs, in turns with the other, and the time of one run is
multiplied by the number of runs. A second figure leaves out the hours as well: durations added up.

Both take one core, and processor time is measured, the best of several turns: what else the
machine does can only add. Limits: 2 seconds, and 50 times faster than the walk with hours.
"""

from __future__ import annotations

import argparse
import random
from dataclasses import replace
from time import process_time

import networkx

from refit.scheduling import level, simulate
from refit.scheduling.calendars import Hours
from refit.scheduling.problem import DAY, HOUR, Problem
from refit.scheduling.run_chain import Chain, End, PackageStep, read_chain
from refit.scheduling.sampling import Draws, Lateness, Shape, draw
from refit.scheduling.stated import Stated
from tests.scheduling.problems import refit_problem

SECONDS = 2.0
TIMES = 50.0


def with_estimates(problem: Problem, seed: int) -> Problem:
    """Every package with work is given a low and a high figure around its likely one."""
    rng = random.Random(seed)
    return replace(
        problem,
        packages=tuple(
            replace(
                package,
                low=int(package.work * rng.uniform(0.5, 0.9)),
                high=int(package.work * rng.uniform(1.2, 3.0)),
            )
            for package in problem.packages
        ),
    )


def lateness_of(problem: Problem) -> tuple[Lateness, ...]:
    """Six vendors, each late now and then, share a third of the packages."""
    figures = (0, 0, 0, 0, 0, 4 * HOUR, 8 * HOUR, 16 * HOUR, 24 * HOUR, 40 * HOUR)
    names = [package.id for package in problem.packages][::3]
    return tuple(Lateness(f"vendor {i}", figures, tuple(names[i::6])) for i in range(6))


class GraphWalk:
    """The launch of one run after the other, by networkx."""

    def __init__(self, stated: Stated, chain: Chain) -> None:
        self.hours: dict[str, Hours] = stated.hours
        self.target = stated.problem.target
        self.steps = {step.id: step for step in chain.steps}
        self.graph = networkx.DiGraph()
        self.graph.add_nodes_from(self.steps)
        for step in chain.steps:
            for wait in step.waits:
                if wait.source in self.steps:
                    self.graph.add_edge(wait.source, step.id, end=wait.end, lag=wait.lag)

    def with_hours(self, draws: Draws, run: int) -> int:
        work, late = draws.work, draws.late
        ends: dict[str, tuple[int, int, int]] = {}
        graph = self.graph
        for name in networkx.topological_sort(graph):
            step = self.steps[name]
            start = step.floor
            for before, _, wait in graph.in_edges(name, data=True):
                start = max(start, ends[before][wait["end"]] + wait["lag"])
            if not isinstance(step, PackageStep):
                ends[name] = start, start, start + step.travel
                continue
            package = step.package
            hours = self.hours[package.calendar]
            minutes = int(work[name][run]) if name in work else step.work
            if name in late:
                minutes += int(late[name][run])
            if minutes:
                start = hours.open_from(start)
            end = hours.finish(start, minutes)
            if package.promised is not None:
                end = max(end, package.promised)
            ends[name] = start, end, end + package.hold
        if self.target is not None:
            return ends[self.target][End.FINISH]
        return max(end[End.FINISH] for end in ends.values())

    def bare(self, draws: Draws, run: int) -> int:
        work = draws.work
        finish: dict[str, int] = {}
        graph = self.graph
        for name in networkx.topological_sort(graph):
            start = max((finish[before] for before in graph.predecessors(name)), default=0)
            finish[name] = start + (int(work[name][run]) if name in work else 0)
        return max(finish.values())


def run(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench risk")
    parser.add_argument("--packages", type=int, default=500)
    parser.add_argument("--runs", type=int, default=10_000)
    parser.add_argument("--walks", type=int, default=20, help="networkx walks a turn")
    parser.add_argument("--turns", type=int, default=7)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    problem = with_estimates(
        refit_problem(options.seed, options.packages, awkward=False), options.seed
    )
    late = lateness_of(problem)
    plan = level(problem)
    stated = Stated(problem)
    dates = {planned.id: planned for planned in plan.packages}
    walk = GraphWalk(stated, read_chain(stated, dates))
    draws = draw(problem, runs=options.walks, seed=1, late=late, shape=Shape.PERT_BETA)
    ours, with_hours, bare = [], [], []
    for _ in range(options.turns):
        began = process_time()
        risk = simulate(problem, plan, runs=options.runs, late=late)
        ours.append(process_time() - began)
        began = process_time()
        for number in range(options.walks):
            walk.with_hours(draws, number)
        with_hours.append((process_time() - began) / options.walks)
        began = process_time()
        for number in range(options.walks):
            walk.bare(draws, number)
        bare.append((process_time() - began) / options.walks)
    seconds = min(ours)
    times = min(with_hours) * options.runs / seconds
    links = walk.graph.number_of_edges()
    spans = sum(len(calendar.spans) for calendar in problem.calendars)
    print(
        f"{options.packages} packages, {links} links, {len(problem.calendars)} calendars with"
        f" {spans} spans; planned launch on day {risk.planned // DAY}, of {options.runs} runs"
        f" 8 of 10 by day {risk.p80 // DAY}"
    )
    print(f"simulate: {seconds:.3f} s of one core (best of {options.turns})")
    for what, walks in (("with hours", min(with_hours)), ("without hours", min(bare))):
        print(
            f"networkx {what}: {walks * 1000:.2f} ms a run (best of {options.turns} turns of"
            f" {options.walks} runs), {walks * options.runs:.1f} s for all:"
            f" {walks * options.runs / seconds:.0f} times as long"
        )
    print(f"limits: {SECONDS} s and {TIMES:g} times, with hours")
    return 0 if seconds < SECONDS and times >= TIMES else 1

"""Levelling published instances: makespan, proof and time of each, against the best known.

Instances are read from ``.sm`` (Kolisch and Sprecher 1997, "PSPLIB - a project scheduling problem
library", EJOR 96) and ``.sch`` (RCPSP/max, Schwindt's generator ProGen/max) and put through
`level` as any refit is: a unit of time is a minute, everything is always open. `check` tries every
plan. A file ``best-known.csv`` beside them (columns instance, makespan; the makespan is a number,
bounds ``lower..upper``, or ``unsat``) is compared with if it is there.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter
from typing import Any

from refit.scheduling import check, level
from refit.scheduling.problem import (
    Calendar,
    Contradiction,
    Demand,
    Dependency,
    Package,
    Plan,
    Problem,
    Relation,
    Resource,
    ResourceKind,
)

INFEASIBLE = "infeasible"


@dataclass(frozen=True, slots=True)
class Row:
    """What came of one instance. ``makespan`` is None where no schedule was found."""

    instance: str
    makespan: int | None
    infeasible: bool
    proved: bool
    seconds: float
    bound: int | None

    def line(self) -> str:
        makespan = INFEASIBLE if self.infeasible else self.makespan
        return json.dumps(
            {
                "instance": self.instance,
                "makespan": makespan,
                "proved": self.proved,
                "bound": self.bound,
                "seconds": round(self.seconds, 2),
            }
        )


def run(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench psplib", description=__doc__)
    parser.add_argument("directory", type=Path)
    parser.add_argument("--limit", type=float, default=10.0, help="seconds an instance")
    parser.add_argument("--only", help="names that contain this")
    options = parser.parse_args(arguments)
    paths = sorted(p for p in options.directory.iterdir() if p.suffix.lower() in (".sm", ".sch"))
    rows = []
    for path in paths:
        if options.only and options.only not in path.name:
            continue
        rows.append(solve(path, options.limit))
        print(rows[-1].line(), flush=True)
    known = options.directory / "best-known.csv"
    best = read_best_known(known) if known.exists() else {}
    print(summary(rows, best))
    text, reached = judged(options.directory.name, rows, best)
    print(text)
    return 0 if reached else 1


def solve(path: Path, limit: float) -> Row:
    """One instance through `level`; AssertionError if `check` finds anything in the plan."""
    problem = read_instance(path)
    began = perf_counter()
    try:
        plan = level(problem, limit=limit)
    except Contradiction:
        return Row(path.name, None, True, True, perf_counter() - began, None)
    seconds = perf_counter() - began
    breaches = check(problem, plan)
    assert breaches == (), (path.name, breaches)
    assert kept_as_read(path, plan), path.name
    if plan.shortfalls:  # a maximum lag is missed: no schedule, and no proof that there is none
        return Row(
            path.name, None, bool(plan.contradiction), bool(plan.contradiction), seconds, None
        )
    return Row(path.name, plan.finish_of(None), False, plan.proved, seconds, plan.bound)


def read_best_known(path: Path) -> dict[str, tuple[int | None, bool]]:
    """The best makespan known (None if there is no schedule), and whether the optimum is open."""
    best: dict[str, tuple[int | None, bool]] = {}
    with path.open(newline="") as file:
        for row in csv.DictReader(file):
            text = row["makespan"]
            best[row["instance"]] = (
                None if text == "unsat" else int(text.split("..")[-1]),
                ".." in text,
            )
    return best


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be reached on one set: so many proved, so many at best known, a mean gap."""

    instances: int
    proved: int = 0
    at_best: int = 0
    gap: float | None = None


TO_REACH = {
    "j30": Wanted(60, proved=60, at_best=60),
    "j60": Wanted(24, proved=20, gap=0.2),
    "j120": Wanted(20, gap=1.5),
    "sm_j30": Wanted(30, at_best=30),
    "ubo50": Wanted(15, at_best=15),
}
"""By the name of the directory; 10 s an instance on two cores."""


def judged(
    name: str, rows: list[Row], best: dict[str, tuple[int | None, bool]]
) -> tuple[str, bool]:
    """Each figure to reach and what was reached, in words; whether all were."""
    wanted = TO_REACH.get(name)
    if wanted is None or len(rows) != wanted.instances:
        return f"nothing to reach is set for {len(rows)} instances of {name}", True
    found: list[tuple[str, bool]] = []
    if wanted.proved:
        proved = sum(row.proved for row in rows)
        found.append((f"{proved} proved (to reach: {wanted.proved})", proved >= wanted.proved))
    reached, gap, without = compared(rows, best)
    if wanted.at_best:
        text = f"{reached} at best known (to reach: {wanted.at_best})"
        found.append((text, reached >= wanted.at_best))
    if wanted.gap is not None:
        text = f"mean gap {gap:.2f} % (to reach: under {wanted.gap} %)"
        found.append((text, gap < wanted.gap and not without))
    lines = [f"  {'reached    ' if good else 'NOT reached'} {name}: {text}" for text, good in found]
    return "\n".join(lines), all(good for _, good in found)


def compared(
    rows: list[Row], best: dict[str, tuple[int | None, bool]]
) -> tuple[int, float, list[str]]:
    """How many are at the best known, the mean gap to it in percent, which have no schedule."""
    pairs = [(row, best[row.instance][0]) for row in rows if row.instance in best]
    reached = sum(
        row.infeasible if known is None else row.makespan is not None and row.makespan <= known
        for row, known in pairs
    )
    gaps = [
        row.makespan / known - 1
        for row, known in pairs
        if known is not None and row.makespan is not None
    ]
    without = [row.instance for row, known in pairs if known is not None and row.makespan is None]
    return reached, 100 * sum(gaps) / len(gaps) if gaps else 0.0, without


def summary(rows: list[Row], best: dict[str, tuple[int | None, bool]]) -> str:
    lines = [
        f"{len(rows)} instances, {sum(row.proved for row in rows)} proved,"
        f" longest {max((row.seconds for row in rows), default=0):.1f} s,"
        f" load {os.getloadavg()[0]:.1f}"
    ]
    known = sum(row.instance in best for row in rows)
    if known:
        reached, gap, without = compared(rows, best)
        lines.append(
            f"{reached} of {known} at best known, mean gap {gap:.2f} %,"
            f" without a schedule: {', '.join(without) or 'none'}"
        )
    return "\n".join(lines)


# Reading


def read_instance(path: Path) -> Problem:
    """The instance as a problem: packages "0" (source) to the sink, resources "R1" and so on."""
    lagged = path.suffix.lower() == ".sch"
    read = _parsed(path)
    durations = [activity.modes[0].duration for activity in read.activities]
    packages = tuple(
        Package(
            id=str(index),
            work=durations[index],
            calendar="always",
            demands=tuple(
                Demand(f"R{resource + 1}", units)
                for resource, units in enumerate(activity.modes[0].demands)
                if units
            ),
        )
        for index, activity in enumerate(read.activities)
    )
    if lagged:
        arcs = [
            (index, after, delay)
            for index, activity in enumerate(read.activities)
            for after, delay in zip(activity.successors, activity.delays or (), strict=True)
        ]
        dependencies = tuple(start_to_start(arcs, len(packages)))
    else:
        dependencies = tuple(
            Dependency(str(index), str(after))
            for index, activity in enumerate(read.activities)
            for after in activity.successors
        )
    longest = sum(durations) + sum(max(0, lag.max_lag or lag.min_lag) for lag in dependencies)
    return Problem(
        packages=packages,
        dependencies=dependencies,
        calendars=(Calendar("always", ((0, 4 * longest + 1000),)),),
        resources=tuple(
            Resource(f"R{index + 1}", resource.capacity, ResourceKind.CREW)
            for index, resource in enumerate(read.resources)
        ),
    )


def _parsed(path: Path) -> Any:
    from psplib import parse

    lagged = path.suffix.lower() == ".sch"
    return parse(path, instance_format="rcpsp_max" if lagged else "psplib")


def kept_as_read(path: Path, plan: Plan) -> bool:
    """Whether the plan keeps every arc as it stands in the file, or says that it does not."""
    read = _parsed(path)
    start = [planned.start for planned in plan.packages]
    return bool(plan.shortfalls) or all(
        start[after]
        >= start[index] + (activity.delays[n] if activity.delays else activity.modes[0].duration)
        for index, activity in enumerate(read.activities)
        for n, after in enumerate(activity.successors)
    )


def start_to_start(arcs: Iterable[tuple[int, int, int]], size: int) -> Iterator[Dependency]:
    """Arcs ``start of b >= start of a + delay`` as dependencies that make no ring.

    A delay below zero says that a follows b by so much at most: a maximum lag from b to a, unless
    a comes before b anyway.
    """
    behind: list[set[int]] = [set() for _ in range(size)]
    """Which come after each, by the arcs so far."""
    for a, b, delay in sorted(arcs, key=lambda arc: (arc[2] <= 0, arc[2] < 0)):
        if delay > 0 or b in behind[a] or (delay == 0 and a not in behind[b]):
            _join(behind, a, b)
            yield Dependency(str(a), str(b), Relation.START_TO_START, delay)
        else:
            _join(behind, b, a)
            far = -(1 << 20)  # a may come before b as early as it likes
            yield Dependency(str(b), str(a), Relation.START_TO_START, far, -delay)


def _join(behind: list[set[int]], a: int, b: int) -> None:
    new = {b, *behind[b]}
    for index, after in enumerate(behind):
        if index == a or a in after:
            after |= new

"""Levelling made-up refits of 40 to 400 packages: priority rules, a climb, the engine, a bound.

For each size ten problems of a generator with seeds of its own: hours of five kinds at one-hour
steps, eight pieces (one of them the boat, shared) that travel between six places, zones, a bay
kept through holds, two helpers, shops with one hand each. Printed in one run, in days from the
start: the best of the six priority rules of `priorities` (Davis and Patterson 1975; Alvarez-Valdes
and Tamarit 1989; see there), a plain hill climb over priorities given the same seconds, the
engine's plan after so many seconds, the best after ten minutes (kept in ``refit-best.json`` beside
this file; ``--refresh`` makes it anew, ``--refresh-seconds`` in less time), and the engine's bound.
"""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from random import Random
from time import perf_counter

from refit.scheduling import check, level
from refit.scheduling.generation import Generation
from refit.scheduling.priorities import rank_as_stated, rank_by_rules
from refit.scheduling.problem import (
    DAY,
    HOUR,
    Calendar,
    Demand,
    Dependency,
    Minutes,
    Package,
    Piece,
    Place,
    Planned,
    Problem,
    Resource,
    ResourceKind,
    Travel,
)
from refit.scheduling.stated import Stated

SIZES = (40, 80, 150, 400)
BEST = Path(__file__).with_name("refit-best.json")

HOURS: dict[str, tuple[int, int, int, bool]] = {
    "crew": (8, 17, 5, True),
    "metal": (7, 16, 5, True),
    "paint": (7, 17, 5, False),
    "canvas": (9, 18, 5, False),
    "yard": (8, 16, 6, False),
}
"""Opens, closes, days a week from Monday, closed for an hour at noon."""

WHERE: dict[str, tuple[int, int, str]] = {
    "shed": (0, 0, "crew"),
    "metal": (2, 1, "metal"),
    "paint": (3, 0, "paint"),
    "loft": (1, 2, "canvas"),
    "rigger": (0, 3, "yard"),
    "ramp": (1, 0, "yard"),
}
"""Half hours east and north of the shed, and the hours of the place."""

WORKS_AT = {"shed": "crew", "metal": "metal", "paint": "paint", "loft": "canvas", "ramp": "yard"}


def made_up(seed: int, packages: int) -> Problem:
    """A refit of so many packages; the same for the same seed and number."""
    random = Random(f"refit-like {packages} {seed}")
    days = 200 + 8 * packages
    boat = Piece("boat", "shed", shared=True)
    pieces = [Piece(f"piece-{number}", "shed", returns_to="shed") for number in range(1, 8)]
    names = [f"job-{number}" for number in range(packages)]
    jobs = [_job(random, name, boat, pieces) for name in names[:-1]]
    launch = Package(
        names[-1],
        4 * HOUR,
        "yard",
        place="ramp",
        pieces=("boat",),
        demands=(Demand("helpers", 2),),
    )
    return Problem(
        packages=(*jobs, launch),
        dependencies=tuple(_order(random, jobs, launch)),
        calendars=tuple(_week(name, days) for name in HOURS),
        resources=(
            Resource("helpers", 2, ResourceKind.CREW),
            Resource("welder", 1, ResourceKind.VENDOR),
            Resource("sprayer", 1, ResourceKind.VENDOR),
            Resource("sewer", 1, ResourceKind.VENDOR),
            Resource("booth", 1, ResourceKind.BAY),
            Resource("cockpit", 1, ResourceKind.ZONE),
            Resource("cabin", 1, ResourceKind.ZONE),
            Resource("foredeck", 1, ResourceKind.ZONE),
        ),
        places=tuple(Place(name, hours) for name, (_, _, hours) in WHERE.items()),
        travels=tuple(
            Travel(a, b, HOUR * -(-(abs(xa - xb) + abs(ya - yb)) // 2) + HOUR)
            for a, (xa, ya, _) in WHERE.items()
            for b, (xb, yb, _) in WHERE.items()
            if a != b
        ),
        pieces=(boat, *pieces),
        target=names[-1],
    )


def _week(name: str, days: int) -> Calendar:
    opens, closes, open_days, noon = HOURS[name]
    spans: list[tuple[Minutes, Minutes]] = []
    for day in range(days):
        if day % 7 < open_days:
            start, end = day * DAY + opens * HOUR, day * DAY + closes * HOUR
            if noon:
                spans.append((start, day * DAY + 12 * HOUR))
                start = day * DAY + 13 * HOUR
            spans.append((start, end))
    return Calendar(name, tuple(spans))


def _job(random: Random, name: str, boat: Piece, pieces: list[Piece]) -> Package:
    place = random.choice(("shed", "shed", "shed", "metal", "paint", "loft"))
    demands = {
        "shed": ["helpers"],
        "metal": ["welder"],
        "paint": ["sprayer", "booth"],
        "loft": ["sewer"],
    }[place]
    used = (random.choice(pieces).id,)
    if place == "shed" and random.random() < 0.7:
        used = (boat.id,)
        demands.append(random.choice(("cockpit", "cabin", "foredeck")))
    hold = random.choice((12, 24, 48)) * HOUR if place == "paint" else 0
    if place == "shed" and random.random() < 0.2:
        hold = random.choice((6, 12, 24)) * HOUR
    return Package(
        name,
        random.choice((2, 3, 4, 6, 8, 12, 16)) * HOUR,
        WORKS_AT[place],
        hold=hold,
        place=place,
        pieces=used,
        demands=tuple(
            Demand(
                resource,
                2 if resource == "helpers" and random.random() < 0.3 else 1,
                through_hold=resource in ("booth", "cockpit", "cabin", "foredeck"),
            )
            for resource in demands
        ),
    )


def _order(random: Random, jobs: list[Package], launch: Package) -> Iterable[Dependency]:
    last_of: dict[str, str] = {}
    for index, job in enumerate(jobs):
        earlier = jobs[max(0, index - 12) : index]
        for before in random.sample(earlier, min(len(earlier), random.choice((0, 1, 1, 2)))):
            yield Dependency(before.id, job.id)
        piece = job.pieces[0]
        if piece != "boat" and piece in last_of and random.random() < 0.6:
            yield Dependency(last_of[piece], job.id)
        last_of[piece] = job.id
    for job in jobs:
        yield Dependency(job.id, launch.id)


@dataclass(frozen=True, slots=True)
class Row:
    """Launches of one problem, in minutes; seconds until the engine ended and its first plan."""

    rules: Minutes
    climb: Minutes
    engine: Minutes
    bound: Minutes
    proved: bool
    seconds: float
    first: float


def run(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench refit", description=__doc__)
    parser.add_argument("--limit", type=float, default=10.0, help="seconds a problem")
    parser.add_argument("--sizes", type=int, nargs="*", default=list(SIZES))
    parser.add_argument("--problems", type=int, default=10, help="of each size")
    parser.add_argument("--refresh", action="store_true", help="make the ten-minute plans anew")
    parser.add_argument("--refresh-seconds", type=float, default=600.0)
    options = parser.parse_args(arguments)
    best: dict[str, dict[str, float]] = json.loads(BEST.read_text()) if BEST.exists() else {}
    for size in options.sizes:
        rows = []
        for seed in range(options.problems):
            problem = made_up(seed, size)
            if options.refresh:
                best[f"{size}-{seed}"] = refreshed(problem, options.refresh_seconds)
                BEST.write_text(json.dumps(best, indent=1, sort_keys=True) + "\n")
            rows.append(measure(problem, options.limit, seed))
            print(line(size, seed, rows[-1], best.get(f"{size}-{seed}")), flush=True)
        print(summary(size, rows), flush=True)
    print(f"load {os.getloadavg()[0]:.1f}")
    return 0


def refreshed(problem: Problem, seconds: float) -> dict[str, float]:
    plan = level(problem, limit=seconds)
    assert check(problem, plan) == ()
    return {"launch": plan.finish_of(problem.target), "seconds": seconds}


def measure(problem: Problem, limit: float, seed: int) -> Row:
    stated = Stated(problem)
    began = perf_counter()
    generation = Generation(stated)
    dates = generation.generate(rank_as_stated(stated))
    first = perf_counter() - began
    end = max(planned.finish for planned in dates.values())
    orders = rank_by_rules(stated, generation.unhindered, end)
    launches = [_launch(problem, generation.generate(ranks)) for ranks in orders]
    climbed = climb(stated, generation, orders[launches.index(min(launches))], limit, seed)
    began = perf_counter()
    plan = level(problem, limit=limit, seed=seed)
    seconds = perf_counter() - began
    assert check(problem, plan) == ()
    assert plan.bound is not None
    engine = plan.finish_of(problem.target)
    return Row(min(launches), climbed, engine, plan.bound, plan.proved, seconds, first)


def _launch(problem: Problem, dates: dict[str, Planned]) -> Minutes:
    assert problem.target is not None
    return dates[problem.target].finish


def climb(
    stated: Stated, generation: Generation, ranks: dict[str, float], limit: float, seed: int
) -> Minutes:
    """One priority is changed to another's at random; what is no worse is kept."""
    random, names = Random(seed), list(stated.order)
    best = _launch(stated.problem, generation.generate(ranks))
    began = perf_counter()
    while perf_counter() - began < limit:
        one, other = random.sample(names, 2)
        changed = {**ranks, one: ranks[other] + random.choice((-0.5, 0.5))}
        launch = _launch(stated.problem, generation.generate(changed))
        if launch <= best:
            best, ranks = launch, changed
    return best


def line(size: int, seed: int, row: Row, best: dict[str, float] | None) -> str:
    long = "-" if best is None else f"{best['launch'] / DAY:.2f}"
    return (
        f"{size:4} {seed:2}  rules {row.rules / DAY:7.2f}  climb {row.climb / DAY:7.2f}"
        f"  engine {row.engine / DAY:7.2f}  long {long:>7}  bound {row.bound / DAY:7.2f}"
        f"  {'proved' if row.proved else '      '}  {row.seconds:5.2f} s"
        f"  first plan {row.first:.2f} s"
    )


def summary(size: int, rows: list[Row]) -> str:
    count = len(rows)
    over_rules = sum(1 - row.engine / row.rules for row in rows) / count
    over_climb = sum(1 - row.engine / row.climb for row in rows) / count
    gap = sum(row.engine / row.bound - 1 for row in rows) / count
    return (
        f"{size:4}: {sum(row.proved for row in rows)} of {count} proved; on average"
        f" {100 * over_rules:.1f} % shorter than the best rule, {100 * over_climb:.1f} % shorter"
        f" than the climb, {100 * gap:.1f} % over the bound"
    )

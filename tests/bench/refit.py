"""Levelling made-up refits of 40 to 400 packages: priority rules, a climb, the engine, a bound.

For each size ten problems of a generator with seeds of its own: hours of five kinds at one-hour
steps, eight pieces (one of them the boat, shared) that travel between six places, zones, a bay
kept through holds, two helpers, shops with one hand each. One JSON line a problem, all measured in
one run, launches in days from the start: ``rules`` the best of the six priority rules of
`priorities` (Davis and Patterson 1975; Alvarez-Valdes and Tamarit 1989; see there), ``climb`` a
plain hill climb over priorities given the same seconds, ``engine`` the engine's plan after so many
seconds, ``long`` the best plan ever seen of it, and ``bound`` what the engine proved. At the end
each figure to reach and what was reached; the status is 0 if all are.

``long`` is kept in ``refit-best.json`` beside this file. ``--refresh`` gives the engine ten minutes
a problem instead of measuring it (``--refresh-seconds`` other than 600), keeps what is better, and
may be stopped at any time: it goes on with those that have not had as long. So do ``--sizes 80,150
--problems 0,1,2`` choose which.
"""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass
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

    size: int
    problem: int
    rules: Minutes
    climb: Minutes
    engine: Minutes
    bound: Minutes
    proved: bool
    seconds: float
    first: float
    long: Minutes | None

    def line(self) -> str:
        days = {
            name: None if value is None else round(value / DAY, 3)
            for name, value in asdict(self).items()
            if name in ("rules", "climb", "engine", "bound", "long")
        }
        seconds = {"seconds": round(self.seconds, 2), "first_plan": round(self.first, 3)}
        return json.dumps(
            {"size": self.size, "problem": self.problem, **days, "proved": self.proved, **seconds}
        )


def run(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench refit", description=__doc__)
    parser.add_argument("--limit", type=float, default=10.0, help="seconds a problem")
    parser.add_argument("--sizes", type=_numbers, default=list(SIZES), help="such as 80,150")
    parser.add_argument("--problems", type=_numbers, default=list(range(10)), help="such as 0,1,2")
    parser.add_argument("--refresh", action="store_true", help="look for better long plans")
    parser.add_argument("--refresh-seconds", type=float, default=600.0)
    options = parser.parse_args(arguments)
    began = perf_counter()
    chosen = [(size, problem) for size in options.sizes for problem in options.problems]
    if options.refresh:
        for size, problem in chosen:
            refresh(size, problem, options.refresh_seconds)
        print(f"{perf_counter() - began:.0f} s in all")
        return 0
    best = kept()
    rows = []
    for size, problem in chosen:
        rows.append(measure(size, problem, options.limit, best))
        print(rows[-1].line(), flush=True)
    reached = True
    for size in options.sizes:
        text, good = summary(size, [row for row in rows if row.size == size])
        print(text)
        reached = reached and good
    print(
        f"{perf_counter() - began:.0f} s in all, on {os.cpu_count()} cores;"
        f" load of the last 15 minutes {os.getloadavg()[2]:.1f}"
    )
    return 0 if reached else 1


def _numbers(text: str) -> list[int]:
    return [int(number) for number in text.split(",")]


def kept() -> dict[str, dict[str, float]]:
    """The best plan ever seen of each problem: its launch, and the longest time given to one."""
    best: dict[str, dict[str, float]] = json.loads(BEST.read_text()) if BEST.exists() else {}
    return best


def refresh(size: int, problem: int, seconds: float) -> None:
    """Looks for a better plan unless one had as many seconds; what is not better is not kept."""
    key = f"{size}-{problem}"
    before = kept().get(key)
    if before is not None and (before["seconds"] >= seconds or before.get("proved")):
        return
    refit = made_up(problem, size)
    plan = level(refit, limit=seconds)
    assert check(refit, plan) == ()
    launch, best = plan.finish_of(refit.target), kept()
    best[key] = {
        "launch": launch if before is None else min(launch, before["launch"]),
        "seconds": seconds,
        "cores": float(os.cpu_count() or 1),
        "proved": float(plan.proved),
    }
    beside = BEST.with_suffix(".new")
    beside.write_text(json.dumps(best, indent=1, sort_keys=True) + "\n")
    beside.replace(BEST)
    print(json.dumps({"problem": key, **best[key], "now": launch}), flush=True)


def measure(size: int, number: int, limit: float, best: dict[str, dict[str, float]]) -> Row:
    problem = made_up(number, size)
    began = perf_counter()
    stated = Stated(problem)
    generation = Generation(stated)
    dates = generation.generate(rank_as_stated(stated))
    first = perf_counter() - began
    end = max(planned.finish for planned in dates.values())
    orders = rank_by_rules(stated, generation.unhindered, end)
    launches = [_launch(problem, generation.generate(ranks)) for ranks in orders]
    climbed = climb(stated, generation, orders[launches.index(min(launches))], limit, number)
    began = perf_counter()
    plan = level(problem, limit=limit, seed=number)
    seconds = perf_counter() - began
    assert check(problem, plan) == ()
    assert plan.bound is not None
    engine = plan.finish_of(problem.target)
    long = best.get(f"{size}-{number}")
    return Row(
        size,
        number,
        rules=min(launches),
        climb=climbed,
        engine=engine,
        bound=plan.bound,
        proved=plan.proved,
        seconds=seconds,
        first=first,
        long=None if long is None else min(engine, int(long["launch"])),
    )


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


def summary(size: int, rows: list[Row]) -> tuple[str, bool]:
    """What was reached of what is to be reached at this size, in words, and whether all was."""
    count = len(rows)
    proved = sum(row.proved for row in rows)
    over_rules = 100 * sum(1 - row.engine / row.rules for row in rows) / count
    over_climb = 100 * sum(1 - row.engine / row.climb for row in rows) / count
    gap = 100 * sum(row.engine / row.bound - 1 for row in rows) / count
    behind = [100 * (row.engine / row.long - 1) for row in rows if row.long is not None]
    longest, first = max(row.seconds for row in rows), max(row.first for row in rows)
    wanted: list[tuple[str, bool]] = []
    if size == 40:
        quick = sum(row.proved and row.seconds < 5 for row in rows)
        wanted.append((f"{quick} of {count} proved in under 5 s (to reach: all)", quick == count))
    if size in (80, 150):
        wanted.append(
            (f"{over_rules:.1f} % shorter than the best rule (to reach: 4)", over_rules >= 4)
        )
        wanted.append((f"{over_climb:.1f} % shorter than the climb (to reach: 1)", over_climb >= 1))
        most = f"{max(behind):.1f} %" if behind else "unknown"
        good = len(behind) == count and max(behind) <= 3
        wanted.append((f"at most {most} over the long plan, of {len(behind)} (to reach: 3)", good))
    if size == 400:
        wanted.append((f"first plan in {first:.2f} s at most (to reach: 1)", first < 1))
    lines = [
        f"{size} packages, {count} problems: {proved} proved, on average {over_rules:.1f} % shorter"
        f" than the best rule, {over_climb:.1f} % shorter than the climb, {gap:.1f} % over the"
        f" bound; longest {longest:.2f} s"
    ]
    lines += [f"  {'reached    ' if good else 'NOT reached'} {text}" for text, good in wanted]
    return "\n".join(lines), all(good for _, good in wanted)

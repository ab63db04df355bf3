"""Critical path with calendars, against a bare pass without them on the same network.

The bare pass is what a textbook would write: plain lists of integers, durations and successors
ready made, a topological order, forward, backward, total float. The full one starts from a
`Problem` of frozen objects with string ids and does everything it does for the web side: checks
the input, indexes it, keeps six calendars, lags, holds and four relations, and names drivers.

Limits: half a second on one core, and ten times the bare pass. Both take one core and no waiting,
so their processor time is what the clock shows on an idle machine. They are timed in turns and the
best of each counts: what else the machine does can only add. The bare pass is so short that it
could slip between two disturbances, so it runs several times in a row and its average is taken.
"""

from __future__ import annotations

import argparse
import random
from time import process_time

from refit.scheduling import critical_path
from refit.scheduling.problem import (
    DAY,
    HOUR,
    WEEK,
    Calendar,
    Dependency,
    Minutes,
    Package,
    Problem,
    Relation,
)

SECONDS = 0.5
TIMES = 10.0
YEARS = 4
REPEATS = 8

# Weekday -> opening hours, Monday 0: own crew, shops, and curing that never closes.
WEEKS: dict[str, dict[int, list[tuple[float, float]]]] = {
    "crew": {day: [(8, 12), (12.5, 16.5)] for day in range(5)},
    "metal shop": {day: [(7, 15.5)] for day in range(5)},
    "coater": {day: [(7, 12), (13, 18)] for day in range(4)},
    "canvas loft": {day: [(9, 17)] for day in range(1, 6)},
    "weekend helper": {5: [(9, 13), (14, 18)], 6: [(10, 16)]},
    "around the clock": {},
}


def make_calendars(rng: random.Random) -> tuple[Calendar, ...]:
    """Six calendars over some years, each closed on twelve days a year of its own."""
    calendars = []
    for name, week in WEEKS.items():
        days = 365 * YEARS
        closed = set(rng.sample(range(days), 12 * YEARS))
        spans = [
            (day * DAY + int(opens * HOUR), day * DAY + int(closes * HOUR))
            for day in range(days)
            if day not in closed
            for opens, closes in week.get(day % 7, [])
        ]
        calendars.append(Calendar(name, tuple(spans) or ((0, YEARS * 53 * WEEK),)))
    return tuple(calendars)


def make_problem(*, packages: int, dependencies: int, seed: int, window_share: float) -> Problem:
    """A random network: 85 of 100 dependencies finish-to-start without lag, the rest anything."""
    rng = random.Random(seed)
    calendars = make_calendars(rng)
    names = [f"package {number}" for number in range(packages)]
    # One crew does half of the work, the others share the rest.
    calendar_of = rng.choices([c.id for c in calendars], weights=[10, 3, 3, 2, 1, 1], k=packages)
    made = tuple(
        Package(
            name,
            work=rng.choice((0, 1, 2, 4, 8, 12, 16)) * HOUR,
            calendar=calendar,
            hold=rng.choice((0, 0, 0, 12, 24)) * HOUR,
        )
        for name, calendar in zip(names, calendar_of, strict=True)
    )
    pairs: set[tuple[int, int]] = set()
    reach = max(2, packages // 10)
    while len(pairs) < dependencies:
        after = rng.randrange(1, packages)
        pairs.add((rng.randrange(max(0, after - reach), after), after))
    relations = list(Relation)
    linked = []
    in_any_order = sorted(pairs)
    rng.shuffle(in_any_order)
    for before, after in in_any_order:
        relation, lag, lag_calendar = Relation.FINISH_TO_START, 0, None
        if rng.random() < 0.15:
            relation = rng.choice(relations)
            lag = rng.choice((-4, 0, 4, 24)) * HOUR
            lag_calendar = rng.choice((None, "crew"))
        window: Minutes | None = None
        if rng.random() < window_share:
            window = max(lag, 0) + 26 * WEEK
            lag_calendar = None
        linked.append(Dependency(names[before], names[after], relation, lag, window, lag_calendar))
    return Problem(made, tuple(linked), calendars)


def bare_pass(durations: list[int], successors: list[list[int]]) -> tuple[list[int], ...]:
    """Start and finish, earliest and latest, and total float: finish-to-start only, no calendar.

    As short as plain Python gets it.
    """
    size = len(durations)
    waiting = [0] * size
    for targets in successors:
        for j in targets:
            waiting[j] += 1
    order = [i for i in range(size) if not waiting[i]]
    early_start, early_finish = [0] * size, [0] * size
    for i in order:
        early_finish[i] = finish = early_start[i] + durations[i]
        for j in successors[i]:
            if finish > early_start[j]:
                early_start[j] = finish
            waiting[j] -= 1
            if not waiting[j]:
                order.append(j)
    end = max(early_finish)
    late_start, late_finish = [0] * size, [0] * size
    for i in reversed(order):
        finish = end
        for j in successors[i]:
            if late_start[j] < finish:
                finish = late_start[j]
        late_finish[i] = finish
        late_start[i] = finish - durations[i]
    total_float = [late - early for early, late in zip(early_start, late_start, strict=True)]
    return early_start, early_finish, late_start, late_finish, total_float


def run(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench critical_path")
    parser.add_argument("--packages", type=int, default=10_000)
    parser.add_argument("--dependencies", type=int, default=30_000)
    parser.add_argument("--rounds", type=int, default=25)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--windows", type=float, default=0.0, help="share with a maximum lag")
    options = parser.parse_args(arguments)
    problem = make_problem(
        packages=options.packages,
        dependencies=options.dependencies,
        seed=options.seed,
        window_share=options.windows,
    )
    position = {package.id: i for i, package in enumerate(problem.packages)}
    durations = [package.work + package.hold for package in problem.packages]
    successors: list[list[int]] = [[] for _ in durations]
    for dependency in problem.dependencies:
        successors[position[dependency.before]].append(position[dependency.after])
    bare, full = [], []
    for _ in range(options.rounds):
        began = process_time()
        for _ in range(REPEATS):
            bare_pass(durations, successors)
        bare.append((process_time() - began) / REPEATS)
        began = process_time()
        result = critical_path(problem)
        full.append(process_time() - began)
    ratio = min(full) / min(bare)
    spans = sum(len(calendar.spans) for calendar in problem.calendars)
    print(
        f"{options.packages} packages, {options.dependencies} dependencies,"
        f" {len(problem.calendars)} calendars with {spans} spans;"
        f" launch on day {result.finish // DAY}, driven by a chain of {len(result.chain)}"
    )
    print(f"bare pass, no calendars: {min(bare):.4f} s of one core (best of {options.rounds})")
    print(f"critical_path:           {min(full):.4f} s of one core (best of {options.rounds})")
    print(f"ratio:                   {ratio:.1f} (limits: {SECONDS} s and {TIMES:g} times)")
    return 0 if min(full) < SECONDS and ratio <= TIMES else 1

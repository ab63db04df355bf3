"""Levelling random refits: how long a plan takes, and what its search gains over the first one.

Limits, all on processor time of one core: a refit of 50 packages in a tenth of a second, and of
400 a first feasible plan within a second. Every plan timed is also checked.
"""

from __future__ import annotations

import argparse
from time import process_time

from refit.scheduling import check, explain, level, slips
from refit.scheduling.generation import Generation
from refit.scheduling.level import find_shortfalls
from refit.scheduling.priorities import rank_as_stated
from refit.scheduling.problem import DAY, Problem
from refit.scheduling.stated import Stated
from tests.scheduling.problems import refit_problem

SIZES = (50, 150, 400)
SEEDS = range(5)
SECONDS_FOR_50 = 0.1
SECONDS_FOR_FIRST_OF_400 = 1.0


def run(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench level", description=__doc__)
    parser.add_argument("--plain", action="store_true", help="no lags, windows or progress")
    options = parser.parse_args(arguments)
    print(
        "          processor seconds                          first plan    kept plan\n"
        "packages  first  level  check  explain  slips    missed    days  missed  days"
    )
    slow = False
    for size in SIZES:
        rows = [measure(refit_problem(seed, size, awkward=not options.plain)) for seed in SEEDS]
        first, whole, checked, explained, slipped = (max(row[i] for row in rows) for i in range(5))
        missed, end, missed_kept, end_kept = (
            sum(row[i] for row in rows) / len(rows) for i in range(5, 9)
        )
        print(
            f"{size:8}  {first:5.3f}  {whole:5.3f}  {checked:5.3f}  {explained:7.3f}"
            f"  {slipped:5.3f}"
            f"    {missed:6.1f}  {end / DAY:6.1f}  {missed_kept:6.1f} {end_kept / DAY:6.1f}"
        )
        slow = slow or (size == 50 and whole > SECONDS_FOR_50)
        slow = slow or (size == 400 and first > SECONDS_FOR_FIRST_OF_400)
    print(f"seconds are the worst, requirements missed and days the mean of {len(SEEDS)} problems")
    return int(slow)


def measure(problem: Problem) -> tuple[float, ...]:
    """Processor seconds of each step; then what the first plan misses and its end, and the same
    of the plan that is kept."""
    started = process_time()
    stated = Stated(problem)
    dates = Generation(stated).generate(rank_as_stated(stated))
    first = process_time()
    plan = level(problem)
    levelled = process_time()
    breaches = check(problem, plan)
    checked = process_time()
    explain(problem, plan)
    explained = process_time()
    slips(problem, plan)
    slipped = process_time()
    assert breaches == ()
    target = problem.target
    return (
        first - started,
        levelled - first,
        checked - levelled,
        explained - checked,
        slipped - explained,
        len(find_shortfalls(stated, dates)),
        dates[target].finish if target else max(planned.finish for planned in dates.values()),
        len(plan.shortfalls),
        plan.finish_of(target),
    )

"""Planning drives: 60 moves over 12 weeks against one trip a move, and against a routing library.

Limits: under 10 s, and at least 25 % fewer kilometres than one trip a move on the default mix.
With ``--second-opinion`` also 20, 30 and 40 moves within 2 % of what PyVRP finds in 10 s.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from time import perf_counter

from refit.scheduling.trips import can_be_driven, one_trip_a_move, plan_trips
from refit.scheduling.trips_check import check_trips
from tests.scheduling.trips_problems import trip_problem

SEEDS = range(5)
MOST_SECONDS = 10
LEAST_SAVED = 0.25
MOST_DEARER = 1.02


def run(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench trips", description=__doc__)
    parser.add_argument("--second-opinion", action="store_true", help="ask PyVRP as well")
    options = parser.parse_args(arguments)
    missed = False
    print("60 moves, 12 weeks   one trip a move      planned             saved")
    print("seed   seconds          km  trips        km  trips    km %  money %  not driven")
    for seed in SEEDS:
        problem = trip_problem(seed)
        began = perf_counter()
        plan = plan_trips(problem, seconds=8, pool=True)
        took = perf_counter() - began
        assert check_trips(problem, plan) == []
        alone = one_trip_a_move(problem)
        assert len(plan.left) == len(alone.left)
        saved = 1 - plan.metres / alone.metres
        print(
            f"{seed:4}   {took:7.2f}   {alone.metres / 1000:9.0f}  {len(alone.trips):5}"
            f" {plan.metres / 1000:9.0f}  {len(plan.trips):5}  {saved:6.1%}"
            f"   {1 - plan.cost / alone.cost:6.1%}  {len(plan.left):10}"
        )
        missed |= took > MOST_SECONDS or saved < LEAST_SAVED
    if options.second_opinion:
        missed |= ask_another()
    return int(missed)


def ask_another() -> bool:
    from tests.scheduling.trips_pyvrp import cost_by_pyvrp

    print("\nmoves  seed   ours / PyVRP, both within 10 s")
    missed = False
    for moves in (20, 30, 40):
        for seed in SEEDS:
            problem = trip_problem(seed, moves + 6, 8, plain=True)
            able = can_be_driven(problem)
            sound = [m for m in problem.moves if able[m.id]][:moves]
            problem = replace(problem, moves=tuple(sound))
            theirs = cost_by_pyvrp(problem, seconds=10)
            ours = plan_trips(problem, seconds=10, pool=True)
            if theirs is None or ours.left:
                print(f"{moves:5}  {seed:4}   not comparable: {len(ours.left)} of ours not driven")
                continue
            print(f"{moves:5}  {seed:4}   {ours.cost / theirs:.4f}")
            missed |= ours.cost > MOST_DEARER * theirs
    return missed

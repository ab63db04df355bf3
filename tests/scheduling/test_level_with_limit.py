"""`level` given a time limit: never worse, always true, and what it claims to prove is so."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from itertools import permutations
from time import monotonic

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refit.scheduling import check, level
from refit.scheduling.generation import Generation
from refit.scheduling.improve import Improved
from refit.scheduling.problem import (
    HOUR,
    Demand,
    Dependency,
    Minutes,
    Package,
    Piece,
    Plan,
    Problem,
    Relation,
    Resource,
    ResourceKind,
    ShortfallKind,
)
from refit.scheduling.stated import Stated
from tests.scheduling.problems import at, refit_problem, small_refit

CREW = Resource("crew", 1, ResourceKind.CREW)
BY_CREW = (Demand("crew"),)


def judged(problem: Problem, plan: Plan) -> tuple[int, Minutes, Minutes]:
    missed = sum(s.by for s in plan.shortfalls if s.kind is not ShortfallKind.WINDOW)
    return len(plan.shortfalls), missed, plan.finish_of(problem.target)


def job(name: str, hours: float, **more: object) -> Package:
    return Package(id=name, work=int(hours * HOUR), calendar="weekdays", **more)  # type: ignore[arg-type]


def test_importing_the_core_does_not_load_the_solver() -> None:
    code = "import sys, refit.scheduling; sys.exit('ortools' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@settings(max_examples=12, deadline=None, derandomize=True)
@given(st.integers(0, 10**6), st.integers(2, 14), st.booleans(), st.booleans())
def test_the_plan_is_true_and_no_worse_than_without_a_limit(
    seed: int, packages: int, awkward: bool, unbroken: bool
) -> None:
    problem = refit_problem(seed, packages, awkward=awkward, unbroken=unbroken)
    before, after = level(problem), level(problem, limit=0.6)
    assert check(problem, after) == ()
    assert judged(problem, after) <= judged(problem, before)
    assert after.bound is not None
    assert after.shortfalls or after.bound <= after.finish_of(problem.target)
    if after.proved:
        assert after.shortfalls == ()
        assert after.finish_of(problem.target) == after.bound


@settings(max_examples=8, deadline=None, derandomize=True)
@given(st.integers(0, 10**6))
def test_no_order_of_five_packages_launches_before_a_proved_plan(seed: int) -> None:
    """All orders are tried, each decoded by the generation scheme: some of them is best there is
    where no maximum lag asks for waiting."""
    problem = refit_problem(seed, 5, awkward=False)
    problem = replace(problem, packages=tuple(replace(p, deadline=None) for p in problem.packages))
    plan = level(problem, limit=2.0)
    stated = Stated(problem)
    generation = Generation(stated)
    launches = []
    for order in permutations(problem.packages):
        dates = generation.generate({p.id: float(i) for i, p in enumerate(order)})
        if all(p.booked is None or dates[p.id].start == p.booked for p in problem.packages):
            launch = max(d.finish for d in dates.values())
            launches.append(dates[problem.target].finish if problem.target else launch)
    if launches and not plan.shortfalls:
        assert plan.finish_of(problem.target) <= min(launches)
        assert plan.bound is not None
        assert plan.bound <= min(launches)


def test_a_bound_that_the_critical_path_reaches_is_proof_enough() -> None:
    plan = level(small_refit(job("a", 3), job("b", 5)), limit=5)
    assert (plan.proved, plan.bound, plan.finish_of(None)) == (True, at(0, 13), at(0, 13))


def test_an_optimum_that_no_rule_finds_is_found_and_proved() -> None:
    # One crew, nights closed (8 h a day), and what is done in one go: 5 + 3 and 6 + 2 fit into
    # two days; any other pairing (5 + 2, then 6, then 3) takes three.
    works = {"a": 5, "b": 6, "c": 2, "d": 3}
    jobs = [job(n, hours, unbroken=True, demands=BY_CREW) for n, hours in works.items()]
    problem = small_refit(*jobs, resources=(CREW,))
    plan = level(problem, limit=10)
    assert (plan.finish_of(None), plan.proved) == (at(1, 16), True)
    assert check(problem, plan) == ()


def test_travel_is_counted_in_the_proof() -> None:
    # The frame: 2 h at the shed, 2 h at the shop, 2 h at the shed again costs two ways; doing both
    # at the shed first only one: Mon 8-12, travel to 14, shop 14-16.
    problem = small_refit(
        job("grind", 2, place="shed", pieces=("frame",)),
        job("weld", 2, place="shop", pieces=("frame",)),
        job("fit", 2, place="shed", pieces=("frame",)),
        pieces=(Piece("frame", "shed"),),
    )
    plan = level(problem, limit=10)
    assert (plan.finish_of(None), plan.proved) == (at(0, 16), True)


def test_maximum_lags_that_one_crew_cannot_keep_are_named() -> None:
    # Both follow "open" within two hours (start to start), each takes the crew four hours.
    always = {"calendar": "always", "demands": BY_CREW}
    problem = small_refit(
        Package("open", 60, "always"),
        Package("coat", 240, **always),  # type: ignore[arg-type]
        Package("seal", 240, **always),  # type: ignore[arg-type]
        Package("wash", 60, "always"),
        dependencies=(
            Dependency("open", "coat", Relation.START_TO_START, 0, 2 * HOUR),
            Dependency("open", "seal", Relation.START_TO_START, 0, 2 * HOUR),
            Dependency("open", "wash", Relation.START_TO_START, 0, 2 * HOUR),
        ),
        resources=(CREW,),
    )
    plan = level(problem, limit=10)
    assert set(plan.contradiction) == {"open", "coat", "seal"}
    assert [s.kind for s in plan.shortfalls] == [ShortfallKind.WINDOW]
    assert check(problem, plan) == ()


def test_it_stops_when_told_to_and_keeps_the_best_so_far() -> None:
    problem = refit_problem(5, 60, awkward=False)
    began = monotonic()
    plan = level(problem, limit=30, stop=lambda: True)
    assert monotonic() - began < 5
    assert check(problem, plan) == ()
    assert judged(problem, plan) <= judged(problem, level(problem))


def test_progress_tells_of_ever_better_plans() -> None:
    heard: list[Improved] = []
    problem = refit_problem(11, 30, awkward=False)
    plan = level(problem, limit=3, progress=heard.append)
    keys = [(state.missed, state.launch) for state in heard if state.missed == 0]
    assert keys == sorted(keys, reverse=True)
    assert heard == [] or heard[-1].seconds < 4
    assert check(problem, plan) == ()


@pytest.mark.parametrize("limit", [0.0, -1.0])
def test_no_time_is_no_error(limit: float) -> None:
    problem = refit_problem(3, 10)
    assert level(problem, limit=limit) == level(problem)

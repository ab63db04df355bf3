"""The bound from what there is to do: true of every plan, reached where it can be worked out."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from refit.scheduling import level
from refit.scheduling.critical_path import critical_path
from refit.scheduling.energy import Energy
from refit.scheduling.generation import Generation
from refit.scheduling.problem import (
    DAY,
    HOUR,
    Demand,
    Dependency,
    Minutes,
    Package,
    Piece,
    Problem,
    Resource,
    ResourceKind,
)
from refit.scheduling.stated import Stated
from refit.scheduling.steps import Ways
from tests.scheduling.problems import at, refit_problem, small_refit

FAR = 4000 * DAY


def bound_of(problem: Problem) -> Minutes:
    stated = Stated(problem)
    names = [name for name in stated.order if problem.target in (None, name)]
    if problem.target is not None:
        for name in names:
            names += [d.before for d in stated.into[name] if d.before not in names]
        names = [name for name in stated.order if name in names]
    energy = Energy(stated, Generation(stated), Ways(stated), names)
    return energy.bound(critical_path(problem).finish, FAR)


def by_two(name: str, hours: int, units: int = 1) -> Package:
    return Package(name, hours * HOUR, "weekdays", demands=(Demand("hands", units),))


def test_the_hours_of_two_hands_are_counted_in_working_days() -> None:
    # Weekdays, eight hours a day (see small_refit): 3 x 8 h one-handed and 4 h for both are 32
    # hours of two hands, two days exactly; the critical path alone says one day.
    jobs = [by_two("a", 8), by_two("b", 8), by_two("c", 8), by_two("d", 4, units=2)]
    problem = small_refit(*jobs, resources=(Resource("hands", 2, ResourceKind.CREW),))
    assert critical_path(problem).finish == at(0, 16)
    assert bound_of(problem) == at(1, 16)


def test_the_way_of_a_piece_to_what_waits_for_it_is_part_of_the_bound() -> None:
    # Shed Mon 8-10, two hours of travel as in test_travel_is_counted_in_the_proof, shop 12-14.
    problem = small_refit(
        Package("grind", 2 * HOUR, "weekdays", place="shed", pieces=("frame",)),
        Package("weld", 2 * HOUR, "weekdays", place="shop", pieces=("frame",)),
        dependencies=(Dependency("grind", "weld"),),
        pieces=(Piece("frame", "shed"),),
    )
    assert critical_path(problem).finish == at(0, 12)
    assert bound_of(problem) == at(0, 14) == level(problem).finish_of(None)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.integers(0, 10**6), st.integers(1, 25), st.booleans(), st.booleans())
def test_no_plan_launches_before_the_bound(
    seed: int, packages: int, awkward: bool, unbroken: bool
) -> None:
    problem = refit_problem(seed, packages, awkward=awkward, unbroken=unbroken)
    problem = replace(
        problem, dependencies=tuple(replace(d, max_lag=None) for d in problem.dependencies)
    )
    assert bound_of(problem) <= level(problem).finish_of(problem.target)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.integers(0, 10**6), st.integers(1, 25))
def test_one_more_of_a_resource_never_makes_the_bound_worse(seed: int, packages: int) -> None:
    problem = refit_problem(seed, packages, awkward=False)
    before = bound_of(problem)
    for index, resource in enumerate(problem.resources):
        more = (*problem.resources[:index], replace(resource, capacity=resource.capacity + 1))
        more += problem.resources[index + 1 :]
        assert bound_of(replace(problem, resources=more)) <= before


@settings(max_examples=10, deadline=None, derandomize=True)
@given(st.integers(0, 10**6), st.integers(2, 8))
def test_one_more_of_a_resource_never_makes_a_proved_launch_later(seed: int, packages: int) -> None:
    problem = refit_problem(seed, packages, awkward=False)
    plan = level(problem, limit=3)
    more = tuple(replace(r, capacity=r.capacity + 1) for r in problem.resources)
    richer = level(replace(problem, resources=more), limit=3)
    if plan.proved and richer.proved:
        assert richer.finish_of(problem.target) <= plan.finish_of(problem.target)
    assert richer.bound is not None
    if not plan.shortfalls:
        assert richer.bound <= plan.finish_of(problem.target)

"""An order decoded from the first turn that changes gives the plan that decoding it whole gives."""

from __future__ import annotations

from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from refit.scheduling.generation import Generation
from refit.scheduling.nearby import Nearby
from refit.scheduling.problem import BeyondHorizon
from refit.scheduling.stated import Stated
from tests.scheduling.problems import refit_problem


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.integers(0, 10**6), st.integers(2, 30), st.booleans(), st.booleans())
def test_changes_of_order_give_the_plans_of_the_whole_scheme(
    seed: int, packages: int, awkward: bool, unbroken: bool
) -> None:
    stated = Stated(refit_problem(seed, packages, awkward=awkward, unbroken=unbroken))
    generation, random, names = Generation(stated), Random(seed), list(stated.order)
    nearby = Nearby(generation)
    ranks = {name: float(random.randrange(packages)) for name in names}
    plan = nearby.start(ranks)
    assert plan == generation.generate(ranks)
    for _ in range(12):
        changed = random.sample(names, random.randint(1, min(3, len(names))))
        other = dict(ranks)
        for name in changed:
            other[name] = other[random.choice(names)] + random.choice((-0.5, 0.5))
        try:
            whole = generation.generate(other)
        except BeyondHorizon:
            continue
        found = nearby.plan(other, changed, None)
        assert whole == (plan if found is None else found)
        if found is not None and random.random() < 0.5:
            nearby.settle()
            ranks, plan = other, found


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.integers(0, 10**6), st.integers(3, 30))
def test_a_plan_is_given_up_only_if_some_package_starts_too_late(seed: int, packages: int) -> None:
    stated = Stated(refit_problem(seed, packages, awkward=False))
    generation, random, names = Generation(stated), Random(seed), list(stated.order)
    nearby, ranks = Nearby(generation), dict.fromkeys(names, 0.0)
    first = nearby.start(ranks)
    latest = {name: planned.start for name, planned in first.items()}
    for name in names:
        other = {**ranks, name: random.choice((-1.0, 1.0))}
        found, whole = nearby.plan(other, [name], latest), generation.generate(other)
        too_late = any(planned.start > latest[n] for n, planned in whole.items())
        assert (found is None) == (too_late or whole == first) or (found == whole == first)

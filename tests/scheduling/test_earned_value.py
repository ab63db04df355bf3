"""Earned value and earned schedule against the General Foundry example (Render and Stair).

Network as published; times, budgets and status at the end of week 6 from memory, the sums worked
out by hand. Thousands of dollars, weeks.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refit.scheduling.earned_value import EarnedSchedule, EarnedValue, earned_schedule
from refit.scheduling.problem import BadProblem

# id: first week, weeks, budget, done in parts of a hundred after six weeks, spent by then
FOUNDRY = {
    "A": (0, 2, 22, 100, 20),
    "B": (0, 3, 30, 100, 36),
    "C": (2, 2, 26, 100, 26),
    "D": (3, 4, 48, 10, 6),
    "E": (4, 4, 56, 20, 20),
    "F": (4, 3, 30, 20, 4),
    "G": (8, 5, 80, 0, 0),
    "H": (13, 2, 16, 0, 0),
}
CURVE = (21, 42, 65, 90, 126, 162, 198, 212, 228, 244, 260, 276, 292, 300, 308)


def foundry() -> EarnedValue:
    return EarnedValue(
        planned=Fraction(CURVE[5]),
        earned=sum((Fraction(b * done, 100) for _, _, b, done, _ in FOUNDRY.values()), Fraction()),
        actual=Fraction(sum(spent for *_, spent in FOUNDRY.values())),
        budget=Fraction(sum(budget for _, _, budget, _, _ in FOUNDRY.values())),
    )


def test_the_published_curve_is_that_of_the_earliest_starts() -> None:
    """Each budget in equal parts over its weeks, from the earliest start on."""
    planned = [
        sum(
            Fraction(budget, weeks) * min(max(week - first, 0), weeks)
            for first, weeks, budget, _, _ in FOUNDRY.values()
        )
        for week in range(1, 16)
    ]
    assert planned == list(CURVE)


def test_the_amounts_and_indices_after_six_weeks_are_the_published_ones() -> None:
    value = foundry()
    assert [value.budget, value.earned, value.actual, value.planned] == [308, 100, 112, 162]
    assert [value.cost_variance, value.schedule_variance] == [-12, -62]
    assert value.cost_index == Fraction(100, 112)
    assert value.schedule_index == Fraction(100, 162)
    assert round(float(value.cost_index or 0), 4) == 0.8929
    assert round(float(value.schedule_index or 0), 4) == 0.6173
    assert value.estimate_at_completion == Fraction("344.96")
    assert round(float(value.index_to_complete or 0), 4) == 1.0612


def test_the_earned_schedule_after_six_weeks_is_the_published_one() -> None:
    """EV 100 lies between 90 (week 4) and 126 (week 5): 4 + 10/36."""
    schedule = earned_schedule(CURVE, 100, 6)
    assert schedule.earned == 4 + Fraction(10, 36)
    assert round(float(schedule.earned), 4) == 4.2778
    assert round(float(schedule.variance), 3) == -1.722
    assert round(float(schedule.index or 0), 4) == 0.7130
    assert schedule.planned == 15
    assert round(float(schedule.estimate_at_completion or 0), 2) == 21.04


def test_before_anything_is_spent_or_done_there_is_no_index() -> None:
    nothing = EarnedValue(Fraction(0), Fraction(0), Fraction(0), Fraction(308))
    assert nothing.cost_index is nothing.schedule_index is nothing.estimate_at_completion is None
    assert nothing.index_to_complete == 1
    spent = EarnedValue(Fraction(9), Fraction(0), Fraction(9), Fraction(9))
    assert spent.cost_index == 0
    assert spent.estimate_at_completion is spent.index_to_complete is None
    assert EarnedSchedule(Fraction(0), Fraction(0), Fraction(15)).index is None
    assert earned_schedule(CURVE, 0, 2).estimate_at_completion is None


def test_weeks_in_which_nothing_is_planned_count_as_reached() -> None:
    """0, then 10 by the end of week 2, nothing in weeks 3 and 4, 20 by the end of week 5."""
    curve = (5, 10, 10, 10, 20)
    assert earned_schedule(curve, 10, 3).earned == 4
    assert earned_schedule(curve, 9, 3).earned == Fraction(9, 5)
    assert earned_schedule((*curve, 20), 20, 7) == EarnedSchedule(
        Fraction(5), Fraction(7), Fraction(5)
    )


@given(st.lists(st.integers(0, 50), min_size=1, max_size=20), st.integers(0, 20), st.data())
def test_work_done_exactly_as_planned_is_on_schedule(
    steps: list[int], week: int, data: st.DataObject
) -> None:
    curve = [sum(steps[: n + 1]) for n in range(len(steps))]
    week = min(week, len(steps))
    done = curve[week - 1] if week else 0
    schedule = earned_schedule(curve, done, week)
    # idle weeks apart, at which the plan stands still
    assert schedule.variance == 0 or done in {*curve[week:], curve[-1]} or done == 0
    less = data.draw(st.integers(0, done))
    assert earned_schedule(curve, less, week).earned <= schedule.earned


def test_amounts_that_cannot_be_are_refused_by_name() -> None:
    one = Fraction(1)
    with pytest.raises(BadProblem, match="actual is -1"):
        EarnedValue(one, one, -one, one)
    with pytest.raises(BadProblem, match="earned is 2, more than the whole budget"):
        EarnedValue(one, 2 * one, one, one)
    for curve in ((), (5, 4)):
        with pytest.raises(BadProblem, match="never falls"):
            earned_schedule(curve, 1, 1)
    with pytest.raises(BadProblem, match="309 earned"):
        earned_schedule(CURVE, 309, 6)

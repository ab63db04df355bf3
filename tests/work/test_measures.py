"""Metric inside, the refit's choice outside."""

from __future__ import annotations

from decimal import Decimal

import pytest

from refit.work import measures

# 1 ft = 0.3048 m and 1 lb = 0.45359237 kg exactly (international yard and pound agreement, 1959;
# NIST Special Publication 811, 2008, appendix B.8; from memory).


@pytest.mark.parametrize(
    ("measure", "stored", "said"),
    [
        (measures.length("metric"), "8.230", "8.23 m"),
        (measures.length("us"), "8.230", "27 ft"),
        (measures.length("us"), "0.305", "1 ft"),
        (measures.weight("us"), "45.36", "100 lb"),
        (measures.weight("metric"), "2650.00", "2650 kg"),
        (measures.distance("us"), "160.93", "100 mi"),
        (measures.distance("metric"), "12.50", "12.5 km"),
    ],
)
def test_a_measure_is_said_without_idle_zeros(
    measure: measures.Measure, stored: str, said: str
) -> None:
    assert measure.say(Decimal(stored)) == said


def test_what_is_typed_in_feet_is_stored_in_metres() -> None:
    assert measures.length("us").store(Decimal("24.5")) == Decimal("7.468")
    assert measures.weight("us").store(Decimal("5500")) == Decimal("2494.76")


def test_nothing_is_said_of_nothing() -> None:
    assert measures.length("us").say(None) == ""

"""Towing checks against the published rules and the cases worked out from them."""

from __future__ import annotations

import pytest

from refit.trips.towing import (
    FOOT,
    POUND,
    Towed,
    TowLimits,
    holding_strength,
    look_over,
    size_limit,
    tie_downs_needed,
)


@pytest.mark.parametrize(
    ("feet", "pounds", "blocked", "needed"),
    [
        # 49 CFR 393.110 (read second-hand) and the cases reckoned from it
        (5, 1100, False, 1),
        (5, 1101, False, 2),
        (5.1, 500, False, 2),
        (10, 3000, False, 2),
        (10.1, 3000, False, 3),
        (20, 3000, False, 3),
        (21, 3000, False, 4),
        (24, 5500, False, 4),
        (24, 5500, True, 3),
        (10, 5500, True, 1),
    ],
)
def test_number_of_tie_downs(feet: float, pounds: float, blocked: bool, needed: int) -> None:
    assert tie_downs_needed(feet * FOOT, pounds * POUND, blocked_forward=blocked) == needed


def test_three_two_inch_straps_are_strong_enough_but_too_few_unless_blocked() -> None:
    # 5,500 lb, 24 ft, three direct 2 in straps of 2,000 lb (393.108, second-hand): 3,000 >= 2,750
    assert holding_strength(3, 0, 2000) == 3000
    for blocked in (False, True):
        found = {one.what: one.good for one in look_over(_boat(blocked), _limits())}
        assert found["Holding strength"] is True
        assert found["Tie-downs"] is blocked


def test_over_the_top_counts_whole() -> None:
    assert holding_strength(0, 3, 2000) == 6000


def test_weight_tongue_and_size_against_their_limits() -> None:
    found = {one.what: one.good for one in look_over(_boat(True), _limits(tow_kg=3000))}
    assert found["Total weight"] is False
    assert found["Tongue share"] is True
    assert found["Width"] is True
    assert found["Height"] is None


def test_limits_by_country() -> None:
    us, gb, de = size_limit("US"), size_limit("GB"), size_limit("DE")
    assert us is not None
    assert de is not None
    assert gb is not None
    assert us.width_m == 2.6  # 23 CFR 658.15(a): 102 in, 2.6 m
    assert (de.width_m, de.height_m) == (2.55, 4.0)  # 96/53/EC, second-hand
    assert gb.width_m == 2.55
    assert size_limit("XX") is None


def _boat(blocked: bool) -> Towed:
    return Towed(
        boat_kg=5500 * POUND, trailer_kg=700, tongue_kg=250, length_m=24 * FOOT, width_m=2.5,
        height_m=3.4, direct=3, over=0, tie_limit_kg=2000 * POUND, blocked_forward=blocked,
    )  # fmt: skip


def _limits(tow_kg: float = 3500) -> TowLimits:
    return TowLimits(tow_kg, 350, 5, 15, 2.6, None, "test")

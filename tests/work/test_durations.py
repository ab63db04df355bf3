"""Durations as people type them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refit.work.durations import (
    UnreadableDuration,
    read_elapsed,
    read_working_lag,
    read_working_time,
    write_elapsed,
    write_working_time,
)


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("2 d", 960),
        ("2d", 960),
        ("6 h", 360),
        ("90 min", 90),
        ("1.5 d", 720),
        ("1,5 d", 720),
        ("½ d", 240),
        ("2½ days", 1200),
        ("1 d 2 h 5 min", 605),
        ("1 day and 2 hours", 600),
        ("1 w", 2400),
        ("1:30", 90),
        ("0 min", 0),
    ],
)
def test_working_time_is_read_with_days_of_eight_hours(text: str, minutes: int) -> None:
    assert read_working_time(text) == minutes


def test_a_working_day_is_as_long_as_the_refit_says() -> None:
    assert read_working_time("2 d", Decimal("7.5")) == 900


def test_a_day_on_the_clock_has_twenty_four_hours() -> None:
    assert read_elapsed("3 d") == 3 * 1440


@pytest.mark.parametrize("text", ["", "3", "d", "2 x", "two days", "2 d foo", "1:75", "1e9 d"])
def test_what_is_no_duration_is_refused(text: str) -> None:
    with pytest.raises(UnreadableDuration):
        read_working_time(text)


def test_working_time_cannot_be_negative_but_a_lag_can() -> None:
    with pytest.raises(UnreadableDuration, match="less than nothing"):
        read_working_time("-2 h")
    with pytest.raises(UnreadableDuration, match="less than nothing"):
        read_elapsed("-2 h")
    assert read_elapsed("-2 h", negative=True) == -120
    assert read_working_lag("-1 d") == -480


def test_more_than_three_years_is_a_slip_of_the_keyboard() -> None:
    with pytest.raises(UnreadableDuration, match="three years"):
        read_elapsed("99999 d")


@given(st.integers(0, 100_000), st.sampled_from([Decimal(8), Decimal("7.5"), Decimal(24)]))
def test_written_working_time_is_read_back_the_same(minutes: int, day: Decimal) -> None:
    assert read_working_time(write_working_time(minutes, day), day) == minutes


@given(st.integers(-100_000, 100_000))
def test_written_elapsed_time_is_read_back_the_same(minutes: int) -> None:
    assert read_elapsed(write_elapsed(minutes), negative=True) == minutes

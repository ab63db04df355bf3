"""Hours and days as people type them."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refit.work.hours import (
    UnreadableHours,
    read_days,
    read_hours,
    write_days,
    write_hours,
)


@pytest.mark.parametrize(
    ("text", "spans"),
    [
        ("8–12, 13:00-17.30", [["08:00", "12:00"], ["13:00", "17:30"]]),
        ("13 to 17 and 8 to 12", [["08:00", "12:00"], ["13:00", "17:00"]]),
        ("8-12;12-16", [["08:00", "12:00"], ["12:00", "16:00"]]),
        ("18:00–24:00", [["18:00", "00:00"]]),
        ("0-0", [["00:00", "00:00"]]),
        ("", []),
        ("Closed", []),
        ("-", []),
    ],
)
def test_hours_are_read_in_the_ways_people_write_them(text: str, spans: list[list[str]]) -> None:
    assert read_hours(text) == spans


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("all day", "“all day” are no hours"),
        ("8", "“8” are no hours"),
        ("17–8", "“17–8” closes before it opens"),
        ("8–12, 11–13", "two of these spans overlap"),
        ("8–24, 23–24", "two of these spans overlap"),
        ("24–0", "a day ends at 24:00"),
        ("8–25", "a day ends at 24:00"),
        ("٨-١٢", "are no hours"),
    ],
)
def test_hours_that_cannot_be_say_why(text: str, said: str) -> None:
    with pytest.raises(UnreadableHours, match=said):
        read_hours(text)


SPANS = st.lists(st.integers(0, 1440), max_size=8, unique=True).map(
    lambda ends: [
        [f"{a // 60:02}:{a % 60:02}", f"{b % 1440 // 60:02}:{b % 60:02}"]
        for a, b in zip(sorted(ends)[::2], sorted(ends)[1::2], strict=False)
    ]
)


@given(SPANS, st.sampled_from([("–", ", "), ("-", "; ")]))
def test_hours_that_are_written_are_read_back(
    spans: list[list[str]], marks: tuple[str, str]
) -> None:
    dash, between = marks
    assert read_hours(write_hours(spans, dash=dash, between=between)) == spans


@pytest.mark.parametrize(
    ("text", "span"),
    [
        ("2026-12-24 to 2027-01-02 winter closing", ("2026-12-24", "2027-01-02", "winter closing")),
        ("2026-12-24–2027-01-02: winter", ("2026-12-24", "2027-01-02", "winter")),
        ("2026-12-24, stocktaking", ("2026-12-24", "2026-12-24", "stocktaking")),
        (" 2026-12-24 ", ("2026-12-24", "2026-12-24", "")),
    ],
)
def test_days_are_read_with_and_without_an_end_and_a_reason(
    text: str, span: tuple[str, str, str]
) -> None:
    assert read_days(text) == span


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Christmas", "“Christmas” are no days"),
        ("2026-02-30", "are no days"),
        ("2026-12-245", "are no days"),
        ("2026-12-24 to 2026-12-20", "ends before it begins"),
    ],
)
def test_days_that_cannot_be_say_why(text: str, said: str) -> None:
    with pytest.raises(UnreadableHours, match=said):
        read_days(text)


@given(
    st.dates(max_value=date(2500, 1, 1)),
    st.integers(0, 400),
    st.text("abcdefg ,:-–äñ漢", max_size=20).map(str.strip),
)
def test_days_that_are_written_are_read_back(first: date, days: int, reason: str) -> None:
    span = str(first), str(first + timedelta(days=days)), reason
    assert read_days(write_days(*span)) == span

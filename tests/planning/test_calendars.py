"""Opening hours become spans of UTC minutes; each expected value is reckoned by hand."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from refit.planning.calendars import (
    Clock,
    Horizon,
    UnknownHolidays,
    WeeklySpan,
    day_spans,
    public_holidays,
    unfold,
    without,
)

LISBON = ZoneInfo("Europe/Lisbon")
SUNDAY = 6


def spans_of(
    week: Iterable[WeeklySpan], first: date, last: date, shut: Iterable[date] = ()
) -> list[tuple[datetime, datetime]]:
    """Unfolded spans as pairs of UTC moments."""
    clock = Clock.of(first, LISBON)
    spans = unfold(tuple(week), frozenset(shut), Horizon(clock, first, last))
    return [(clock.moment(start), clock.moment(end)) for start, end in spans]


def utc(month: int, day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=UTC)


def test_minute_zero_is_the_first_local_midnight() -> None:
    # Lisbon is an hour ahead of UTC in July.
    clock = Clock.of(date(2026, 7, 6), LISBON)
    assert clock.moment(0) == datetime(2026, 7, 5, 23, 0, tzinfo=UTC)
    assert clock.minutes(datetime(2026, 7, 6, 0, 1, 59, tzinfo=LISBON)) == 1
    assert clock.minutes_up(datetime(2026, 7, 6, 0, 1, 1, tzinfo=LISBON)) == 2
    assert clock.minutes(datetime(2026, 7, 5, 23, 59, tzinfo=LISBON)) == -1


def test_opening_hours_follow_the_local_clock_over_both_changes() -> None:
    # Clocks go forward on Sunday 29 March 2026 at 01:00 UTC and back on 25 October at 01:00 UTC.
    week = [(4, 480, 1020), (0, 480, 1020)]  # Fridays and Mondays 08:00-17:00
    assert spans_of(week, date(2026, 3, 27), date(2026, 3, 31)) == [
        (utc(3, 27, 8), utc(3, 27, 17)),
        (utc(3, 30, 7), utc(3, 30, 16)),
    ]
    assert spans_of(week, date(2026, 10, 23), date(2026, 10, 27)) == [
        (utc(10, 23, 7), utc(10, 23, 16)),
        (utc(10, 26, 8), utc(10, 26, 17)),
    ]


@pytest.mark.parametrize(("month", "day", "hours"), [(3, 29, 23), (10, 25, 25), (11, 1, 24)])
def test_a_place_open_all_day_is_open_as_long_as_the_day_is(
    month: int, day: int, hours: int
) -> None:
    [(start, end)] = spans_of(
        [(SUNDAY, 0, 1440)], date(2026, month, day), date(2026, month, day + 1)
    )
    assert (end - start).total_seconds() == hours * 3600


def test_a_shift_over_the_hour_that_is_skipped_is_an_hour_shorter() -> None:
    # 00:30 is 00:30 UTC still; 03:00 summer time is 02:00 UTC.
    [span] = spans_of([(SUNDAY, 30, 180)], date(2026, 3, 29), date(2026, 3, 30))
    assert span == (utc(3, 29, 0, 30), utc(3, 29, 2))


def test_a_time_that_does_not_exist_moves_forward_with_the_clocks() -> None:
    # 01:30 on 29 March does not exist: it is 02:30 summer time, 01:30 UTC.
    [span] = spans_of([(SUNDAY, 90, 240)], date(2026, 3, 29), date(2026, 3, 30))
    assert span == (utc(3, 29, 1, 30), utc(3, 29, 3))


def test_hours_that_are_wholly_skipped_leave_nothing_behind() -> None:
    # 01:30 becomes 02:30; closing at 02:10 would come before it.
    assert spans_of([(SUNDAY, 90, 130)], date(2026, 3, 29), date(2026, 3, 30)) == []


def test_spans_that_touch_or_overlap_are_one() -> None:
    week = [(0, 480, 720), (0, 700, 1020), (0, 1320, 1440), (1, 0, 360)]
    assert spans_of(week, date(2026, 11, 2), date(2026, 11, 4)) == [
        (utc(11, 2, 8), utc(11, 2, 17)),
        (utc(11, 2, 22), utc(11, 3, 6)),
    ]


def test_days_that_are_shut_have_no_hours() -> None:
    week = [(day, 480, 1020) for day in range(5)]
    spans = spans_of(week, date(2026, 11, 2), date(2026, 11, 7), [date(2026, 11, 4)])
    assert [start.day for start, _ in spans] == [2, 3, 5, 6]


def test_public_holidays_are_those_of_the_country_and_the_region() -> None:
    # 1 December is a holiday of all Portugal; the third Monday of February (Heritage Day) is one
    # of Nova Scotia, not of Newfoundland and Labrador. From memory, and as the library has them.
    assert date(2026, 12, 1) in public_holidays("PT", "", 2026, 2026)
    assert date(2026, 2, 16) in public_holidays("CA", "NS", 2026, 2026)
    assert date(2026, 2, 16) not in public_holidays("CA", "NL", 2026, 2026)
    assert public_holidays("", "", 2026, 2026) == frozenset()


@pytest.mark.parametrize(
    ("country", "region", "said"),
    [
        ("XX", "", "the public holidays of “XX” are not known"),
        ("CA", "ZZ", "“ZZ” is not a region of CA whose public holidays are known; use one of AB"),
    ],
)
def test_unknown_holidays_are_refused_with_what_to_write_instead(
    country: str, region: str, said: str
) -> None:
    with pytest.raises(UnknownHolidays) as refused:
        public_holidays(country, region, 2026, 2026)
    assert said in str(refused.value)


def test_whole_days_are_cut_out_of_spans() -> None:
    clock = Clock.of(date(2026, 10, 24), LISBON)
    gaps = day_spans(
        [(date(2026, 10, 25), date(2026, 10, 25)), (date(2026, 10, 26), date(2026, 10, 26))], clock
    )
    assert gaps == ((1440, 1440 + 25 * 60 + 1440),)  # the Sunday has 25 hours
    assert without(((0, 1500), (1600, 2000), (4300, 4500)), gaps) == ((0, 1440), (4380, 4500))
    assert without(((0, 10),), ()) == ((0, 10),)


def test_a_gap_inside_a_span_leaves_both_ends() -> None:
    assert without(((0, 100),), ((10, 20), (30, 40))) == ((0, 10), (20, 30), (40, 100))

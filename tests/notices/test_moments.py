from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from refit.notices.moments import digest_moment, is_quiet, next_digest, to_utc

LISBON = ZoneInfo("Europe/Lisbon")
HALIFAX = ZoneInfo("America/Halifax")


@pytest.mark.parametrize(
    ("zone", "day", "utc"),
    [
        # Lisbon, 2027: summer time from 28 March 01:00 UTC to 31 October 01:00 UTC.
        (LISBON, date(2027, 3, 27), datetime(2027, 3, 27, 7, tzinfo=UTC)),
        (LISBON, date(2027, 3, 28), datetime(2027, 3, 28, 6, tzinfo=UTC)),
        (LISBON, date(2027, 10, 30), datetime(2027, 10, 30, 6, tzinfo=UTC)),
        (LISBON, date(2027, 10, 31), datetime(2027, 10, 31, 7, tzinfo=UTC)),
        # Halifax, 2027: summer time from 14 March 06:00 UTC to 7 November 05:00 UTC.
        (HALIFAX, date(2027, 3, 13), datetime(2027, 3, 13, 11, tzinfo=UTC)),
        (HALIFAX, date(2027, 3, 14), datetime(2027, 3, 14, 10, tzinfo=UTC)),
        (HALIFAX, date(2027, 11, 6), datetime(2027, 11, 6, 10, tzinfo=UTC)),
        (HALIFAX, date(2027, 11, 7), datetime(2027, 11, 7, 11, tzinfo=UTC)),
    ],
)
def test_the_digest_is_at_seven_on_both_sides_of_a_clock_change(
    zone: ZoneInfo, day: date, utc: datetime
) -> None:
    assert digest_moment(day, zone) == utc


def test_a_time_that_the_clocks_skip_moves_forward() -> None:
    # 28 March 2027, 01:30 is not shown in Lisbon: 00:59 UTC+0 is followed by 02:00 UTC+1.
    assert to_utc(date(2027, 3, 28), time(1, 30), LISBON) == datetime(
        2027, 3, 28, 1, 30, tzinfo=UTC
    )
    shown = to_utc(date(2027, 3, 28), time(1, 30), LISBON).astimezone(LISBON)
    assert (shown.hour, shown.minute) == (2, 30)


def test_of_a_time_shown_twice_the_first_counts() -> None:
    # 31 October 2027, 01:30 in Lisbon is 00:30 UTC (summer time) and again 01:30 UTC.
    assert to_utc(date(2027, 10, 31), time(1, 30), LISBON) == datetime(
        2027, 10, 31, 0, 30, tzinfo=UTC
    )


def test_the_next_digest_is_the_coming_one_and_seven_itself_counts() -> None:
    seven = datetime(2027, 3, 28, 6, tzinfo=UTC)
    assert next_digest(datetime(2027, 3, 28, 5, 59, tzinfo=UTC), LISBON) == seven
    assert next_digest(seven, LISBON) == seven
    assert next_digest(datetime(2027, 3, 28, 6, 1, tzinfo=UTC), LISBON) == datetime(
        2027, 3, 29, 6, tzinfo=UTC
    )


@pytest.mark.parametrize(
    ("utc_hour", "minute", "quiet"),
    [(10, 59, True), (11, 0, False), (0, 59, False), (1, 0, True), (5, 0, True)],
)
def test_it_is_quiet_from_nine_in_the_evening_to_seven(
    utc_hour: int, minute: int, quiet: bool
) -> None:
    # Halifax in winter is four hours behind UTC.
    assert is_quiet(datetime(2027, 1, 12, utc_hour, minute, tzinfo=UTC), HALIFAX) is quiet

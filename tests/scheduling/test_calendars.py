"""Opening hours: cases by hand, then every question against counting minute by minute."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refit.scheduling.calendars import (
    Hours,
    earliest_after,
    earliest_passage,
    intersect,
    latest_before,
    latest_passage,
    window_begin,
    window_end,
)
from refit.scheduling.problem import DAY, HOUR, BadProblem, BeyondHorizon, Calendar

END = 48
"""The small world of the property tests: minutes 0 to 48."""

Spans = tuple[tuple[int, int], ...]


def at(day: int, hour: float) -> int:
    """Day 0 is a Monday."""
    return day * DAY + round(hour * HOUR)


WEEKDAYS = Hours(Calendar("weekdays", tuple((at(d, 8), at(d, 17)) for d in range(28) if d % 7 < 5)))


# By hand. Monday is day 0, Friday day 4; the shop is open 8 to 17, nine hours a day.


def test_work_pauses_over_the_weekend() -> None:
    # Friday 15:00, 4 hours: 2 until closing, 2 on Monday until 10:00.
    assert WEEKDAYS.finish(at(4, 15), 4 * HOUR) == at(7, 10)
    assert WEEKDAYS.latest_start(at(7, 10), 4 * HOUR) == at(4, 15)


def test_a_finish_is_the_earlier_a_start_the_later_of_two_equal_moments() -> None:
    assert WEEKDAYS.finish(at(4, 8), 9 * HOUR) == at(4, 17)
    assert WEEKDAYS.latest_start(at(7, 17), 9 * HOUR) == at(7, 8)
    assert WEEKDAYS.open_from(at(4, 17)) == at(7, 8)


def test_work_that_must_not_end_before_a_closed_moment_runs_into_the_next_opening() -> None:
    # Not before Saturday noon: its last minute is the first of Monday, 8:00 to 8:01. So of two
    # hours one minute is worked on Monday and 119 on Friday, from 15:01.
    start = WEEKDAYS.earliest_start(at(5, 12), 2 * HOUR)
    assert start == at(4, 15) + 1
    assert WEEKDAYS.finish(start, 2 * HOUR) == at(7, 8) + 1


def test_a_working_lag_pauses_and_a_clock_lag_does_not() -> None:
    # Three hours after Friday 16:00: one on Friday, two on Monday. On the clock: 19:00.
    assert earliest_after(at(4, 16), 3 * HOUR, WEEKDAYS) == at(7, 10)
    assert earliest_after(at(4, 16), 3 * HOUR, None) == at(4, 19)
    assert latest_before(at(7, 10), 3 * HOUR, WEEKDAYS) == at(4, 16)


def test_an_overlap_in_working_time_reaches_back_over_the_weekend() -> None:
    # Two working hours before Monday 9:00: one on Monday, one on Friday from 16:00.
    assert earliest_after(at(7, 9), -2 * HOUR, WEEKDAYS) == at(4, 16)


def test_a_window_of_working_time_lasts_until_the_next_minute_that_counts() -> None:
    # One working hour after Friday 16:00 is used up at 17:00; the next counts from Monday 8:00.
    assert window_end(at(4, 16), HOUR, WEEKDAYS) == at(7, 8)
    assert window_end(at(4, 16), HOUR, None) == at(4, 17)


def test_a_piece_leaves_and_arrives_while_both_places_are_open() -> None:
    early = Hours(Calendar("early", tuple((at(d, 6), at(d, 14)) for d in range(5))))
    # Ready Monday 5:00, two hours on the road: leaving at 6:00 it would stand before a closed
    # gate until 8:00... which is exactly when it arrives.
    assert earliest_passage(early, WEEKDAYS, 2 * HOUR, at(0, 5)) == (at(0, 6), at(0, 8))
    # Five hours from 13:00 end at 18:00, after closing. Leaving on Tuesday at 6:00, it is there
    # at 11:00.
    assert earliest_passage(early, WEEKDAYS, 5 * HOUR, at(0, 13)) == (at(1, 6), at(1, 11))
    # To be there by Tuesday 9:30 after two hours, it leaves at 7:30; to be there by Tuesday 7:30,
    # when the place is closed, it comes on Monday: 14:00 is closing time, so it leaves at 13:59.
    assert latest_passage(early, WEEKDAYS, 2 * HOUR, at(1, 9.5)) == (at(1, 7.5), at(1, 9.5))
    assert latest_passage(early, WEEKDAYS, 2 * HOUR, at(1, 7.5)) == (
        at(0, 14) - 1,
        at(0, 16) - 1,
    )


def test_arriving_in_the_minute_of_opening_is_in_time() -> None:
    always = Hours(Calendar("always", ((0, at(7, 0)),)))
    assert latest_passage(always, WEEKDAYS, HOUR, at(1, 8)) == (at(1, 7), at(1, 8))


def test_a_calendar_that_ends_says_so() -> None:
    with pytest.raises(BeyondHorizon, match="weekdays ends before the work does"):
        WEEKDAYS.finish(at(25, 16), 2 * HOUR)
    with pytest.raises(BeyondHorizon, match="no open time after"):
        WEEKDAYS.open_from(at(26, 0))


@pytest.mark.parametrize("spans", [((5, 5),), ((5, 9), (8, 12)), ((9, 12), (1, 3))])
def test_spans_have_to_be_sorted_and_apart(spans: Spans) -> None:
    with pytest.raises(BadProblem, match="empty or out of order"):
        Hours(Calendar("odd", spans))


# Against counting.


@st.composite
def spans_of(draw: st.DrawFn) -> Spans:
    cuts = sorted(draw(st.sets(st.integers(0, END), min_size=2, max_size=10)))
    pairs = zip(cuts[::2], cuts[1::2], strict=False)
    spans = [pair for pair in pairs if pair[0] < pair[1]]
    if len(spans) > 1 and draw(st.booleans()):  # spans that touch, as midnight makes them
        spans[1] = (spans[0][1], spans[1][1])
    return tuple(spans)


moments = st.integers(0, END)
works = st.integers(0, 12)
lags = st.integers(-8, 12)
thorough = settings(max_examples=300, deadline=None)


def is_open(spans: Spans, moment: int) -> bool:
    return any(start <= moment < end for start, end in spans)


def count(spans: Spans, start: int, end: int) -> int:
    """Open minutes in [start, end), one by one; negative backwards."""
    if end < start:
        return -count(spans, end, start)
    return sum(is_open(spans, minute) for minute in range(start, end))


def answer(question: Callable[[], int]) -> int | None:
    try:
        return question()
    except BeyondHorizon:
        return None


def first(found: Callable[[int], bool], *, of: range) -> int | None:
    return next((moment for moment in of if found(moment)), None)


@thorough
@given(spans_of(), moments, works)
def test_finish_is_when_the_minutes_are_worked(spans: Spans, start: int, work: int) -> None:
    hours = Hours(Calendar("any", spans))
    expected = first(lambda m: count(spans, start, m) >= work, of=range(start, END + 1))
    assert answer(lambda: hours.finish(start, work)) == expected


@thorough
@given(spans_of(), moments, st.integers(1, 12))
def test_latest_start_is_the_last_that_is_in_time(spans: Spans, finish: int, work: int) -> None:
    hours = Hours(Calendar("any", spans))
    expected = first(
        lambda m: is_open(spans, m) and count(spans, m, finish) >= work,
        of=range(finish, -1, -1),
    )
    start = answer(lambda: hours.latest_start(finish, work))
    assert start == expected
    if start is not None:
        assert hours.finish(start, work) <= finish
        assert hours.latest_start(hours.finish(start, work), work) == start


@thorough
@given(spans_of(), moments, st.integers(1, 12))
def test_earliest_start_is_the_first_that_ends_late_enough(
    spans: Spans, finish: int, work: int
) -> None:
    hours = Hours(Calendar("any", spans))
    begins = first(
        lambda m: is_open(spans, m) and (answer(lambda: hours.finish(m, work)) or END) >= finish,
        of=range(END),
    )
    start = answer(lambda: hours.earliest_start(finish, work))
    if start is None:
        # Nothing that could still be worked ends that late.
        ends = [answer(lambda m=m: hours.finish(m, work)) for m in range(END) if is_open(spans, m)]  # type: ignore[misc]
        assert all(end is None or end < finish for end in ends)
    else:
        assert start == begins


@thorough
@given(spans_of(), moments)
def test_counting_and_opening(spans: Spans, moment: int) -> None:
    hours = Hours(Calendar("any", spans))
    assert hours.counted(moment) == count(spans, 0, moment)
    assert hours.is_open(moment) == is_open(spans, moment)
    assert answer(lambda: hours.open_from(moment)) == first(
        lambda m: is_open(spans, m), of=range(moment, END + 1)
    )
    assert answer(lambda: hours.closing_before(moment)) == first(
        lambda m: is_open(spans, m) or is_open(spans, m - 1), of=range(moment, -1, -1)
    )
    assert hours.worked(moment, END) == count(spans, moment, END)
    if moment >= spans[0][0]:
        assert hours.position(moment) == hours.counted(moment)
    else:
        assert hours.position(moment) == moment - spans[0][0]


@thorough
@given(spans_of(), moments, lags)
def test_the_earliest_moment_after_a_working_lag(spans: Spans, begin: int, lag: int) -> None:
    hours = Hours(Calendar("any", spans))
    got = answer(lambda: earliest_after(begin, lag, hours))
    if lag == 0:
        assert got == begin
        return
    expected = first(lambda m: count(spans, begin, m) >= lag, of=range(END + 1))
    # An overlap that reaches back to the very beginning binds nothing: any moment will do.
    assert max(got, 0) == expected if got is not None else expected is None


@thorough
@given(spans_of(), moments, moments, lags)
def test_lags_forwards_and_backwards_agree(spans: Spans, begin: int, end: int, lag: int) -> None:
    """A pair keeps a minimum lag seen from either side, and so for a window."""
    hours = Hours(Calendar("any", spans))
    after = answer(lambda: earliest_after(begin, lag, hours))
    before = latest_before(end, lag, hours)
    if 0 != lag > count(spans, 0, end):  # no beginning is early enough; `before` is a fiction
        assert after is None or after > end
    else:
        assert (after is not None and after <= end) == (begin <= before)
    until = window_end(begin, abs(lag), hours)
    since = answer(lambda: window_begin(end, abs(lag), hours))
    lag = abs(lag)
    assert (end <= until) == (count(spans, begin, end) <= lag)
    assert (end <= until) == (since is not None and since <= begin)


def may_pass(origin: Spans, destination: Spans, depart: int, arrive: int) -> bool:
    arrives = is_open(destination, arrive) or is_open(destination, arrive - 1)
    return is_open(origin, depart) and arrives


@thorough
@given(spans_of(), spans_of(), st.integers(0, 15), moments)
def test_the_earliest_passage(origin: Spans, destination: Spans, travel: int, ready: int) -> None:
    leaving, arriving = Hours(Calendar("here", origin)), Hours(Calendar("there", destination))
    expected = first(
        lambda m: may_pass(origin, destination, m, m + travel), of=range(ready, END + 1)
    )
    got = answer(lambda: earliest_passage(leaving, arriving, travel, ready)[0])
    assert got == expected
    if got is not None:
        assert earliest_passage(leaving, arriving, travel, ready)[1] == got + travel


@thorough
@given(spans_of(), spans_of(), st.integers(0, 15), moments)
def test_the_latest_passage(origin: Spans, destination: Spans, travel: int, needed: int) -> None:
    leaving, arriving = Hours(Calendar("here", origin)), Hours(Calendar("there", destination))
    expected = first(
        lambda m: may_pass(origin, destination, m - travel, m), of=range(needed, -1, -1)
    )
    got = answer(lambda: latest_passage(leaving, arriving, travel, needed)[1])
    assert got == expected


@thorough
@given(spans_of(), spans_of())
def test_both_are_open(left: Spans, right: Spans) -> None:
    both = intersect(left, right)
    for minute in range(END):
        assert is_open(both, minute) == (is_open(left, minute) and is_open(right, minute))
    if both:
        Hours(Calendar("both", both))  # sorted, not empty, apart

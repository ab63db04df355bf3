"""Opening hours for many runs against the same questions asked one at a time."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from refit.scheduling.calendars import Hours, earliest_passage
from refit.scheduling.calendars import earliest_after as one_after
from refit.scheduling.problem import BeyondHorizon, Calendar
from refit.scheduling.run_hours import RunHours, Runs, departures, earliest_after

gaps = st.lists(st.tuples(st.integers(0, 200), st.integers(1, 300)), min_size=1, max_size=12)
origins = st.integers(-500, 500)


def hours_of(first: int, spans: list[tuple[int, int]]) -> tuple[Hours, RunHours]:
    moment, made = first, []
    for gap, length in spans:
        made.append((moment + gap, moment + gap + length))
        moment += gap + length
    one = Hours(Calendar("hours", tuple(made)))
    return one, RunHours("hours", one.starts, one.ends)


def runs(values: list[int]) -> Runs:
    return np.array(values, dtype=np.int32)


@given(origins, gaps, st.lists(st.integers(-800, 4000), min_size=1, max_size=20))
def test_opening_and_counting_are_those_of_one_calendar(
    first: int, spans: list[tuple[int, int]], moments: list[int]
) -> None:
    one, many = hours_of(first, spans)
    assert many.counted(runs(moments)).tolist() == [one.counted(m) for m in moments]
    before_closing = [m for m in moments if m < one.ends[-1]]
    assume(before_closing)
    assert many.open_from(runs(before_closing)).tolist() == [
        one.open_from(m) for m in before_closing
    ]


@given(origins, gaps, st.data())
def test_work_ends_and_must_begin_as_in_one_calendar(
    first: int, spans: list[tuple[int, int]], data: st.DataObject
) -> None:
    one, many = hours_of(first, spans)
    total = one.counted(one.ends[-1])
    work = data.draw(st.integers(1, total))
    start = one.open_from(data.draw(st.integers(first - 300, one.latest_start(one.ends[-1], work))))
    assume(one.worked(start, one.ends[-1]) >= work)
    starts, span = many.begin(runs([start, start]))
    end = one.finish(start, work)
    assert many.finish(starts, work).tolist() == [end, end]
    assert many.finish(starts, runs([work, 1]), span).tolist() == [end, one.finish(start, 1)]
    finish = data.draw(st.integers(first - 300, one.ends[-1]))
    assert many.earliest_start(runs([finish]), runs([work])).tolist() == [
        one.earliest_start(finish, work)
    ]


@given(origins, gaps, st.integers(-200, 200), st.integers(-500, 3000))
def test_lags_are_those_of_one_calendar(
    first: int, spans: list[tuple[int, int]], lag: int, moment: int
) -> None:
    one, many = hours_of(first, spans)
    moment = max(moment, one.starts[0])
    assume(one.counted(moment) + lag <= one.counted(one.ends[-1]))
    got = int(earliest_after(runs([moment]), lag, many)[0])
    expected = one_after(moment, lag, one)
    assert got == expected or (got < one.starts[0] and expected < one.starts[0])


@given(origins, gaps, origins, gaps, st.integers(0, 400), st.integers(-600, 3000))
def test_a_piece_leaves_when_one_passage_says_so(
    first: int,
    spans: list[tuple[int, int]],
    other: int,
    others: list[tuple[int, int]],
    travel: int,
    ready: int,
) -> None:
    one_origin, origin = hours_of(first, spans)
    one_destination, destination = hours_of(other, others)
    try:
        depart, _ = earliest_passage(one_origin, one_destination, travel, ready)
    except BeyondHorizon:
        with pytest.raises(BeyondHorizon):
            departures(origin, destination, travel).open_from(runs([ready]))
        return
    leaves = departures(origin, destination, travel)
    assert leaves.open_from(runs([ready])).tolist() == [depart]


def test_work_past_the_last_span_is_refused_and_not_answered() -> None:
    _, many = hours_of(0, [(0, 60), (30, 60)])
    assert many.finish(runs([0]), 120).tolist() == [150]
    with pytest.raises(BeyondHorizon):
        many.finish(runs([0, 0]), runs([60, 121]))
    with pytest.raises(BeyondHorizon):
        many.open_from(runs([150]))
    with pytest.raises(BeyondHorizon):
        RunHours("never", [], [])

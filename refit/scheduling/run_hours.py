"""Opening hours asked by thousands of runs at once: arrays of moments in, arrays of moments out.

The answers are those of `calendars`, minute for minute (a test holds the two together). Instead of
a bisection for each run, a table says for every 64 minutes which span comes next; a few
comparisons settle the rest, since runs of one package lie close together.

All arrays are 32-bit, and dates lie within two thousand years.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .problem import BeyondHorizon, Minutes

Runs = NDArray[np.int32]
"""One moment or number of minutes a run."""
Spans = NDArray[np.intp]
"""One place in a list of spans a run."""

Moments = Sequence[Minutes] | NDArray[np.int64]

NEVER: Minutes = -(1 << 30)
FOREVER: Minutes = 1 << 30
"""Before and after any date, by so much less than 32 bits hold that two of them can be added."""
SHIFT = 6


class _Table:
    """Answers ``bisect_right(bounds, moment)`` for arrays of moments."""

    __slots__ = ("base", "bounds", "first", "rounds")

    def __init__(self, bounds: NDArray[np.int64]) -> None:
        self.base = (int(bounds[0]) >> SHIFT) - 1  # what comes before is answered here, with 0
        # of bucket i: how many bounds lie at or before its first minute
        first = np.cumsum(np.bincount(((bounds + (1 << SHIFT) - 1) >> SHIFT) - self.base))
        self.rounds = int(np.diff(first).max(initial=0))
        self.first = first.astype(np.intp)
        self.bounds = np.append(bounds, FOREVER).astype(np.int32)

    def passed(self, moments: Runs) -> Spans:
        """How many bounds are at or before each moment."""
        bucket = moments >> SHIFT
        bucket -= self.base
        index: Spans = self.first.take(bucket, mode="clip")
        for _ in range(self.rounds):
            index += self.bounds.take(index) <= moments
        return index


class RunHours:
    """`Hours` for arrays. Every method answers as the one of the same name does there."""

    __slots__ = ("_before", "_by_count", "_by_end", "_ends", "_last", "_starts", "id", "spans")

    def __init__(self, calendar: str, starts: Moments, ends: Moments) -> None:
        """From sorted, disjoint spans; those that touch are one from here on."""
        self.id = calendar
        opens, closes = np.array(starts, dtype=np.int64), np.array(ends, dtype=np.int64)
        if not len(opens):
            raise BeyondHorizon(f"calendar {calendar} has no open time at all")
        apart = opens[1:] > closes[:-1]
        opens, closes = opens[np.append(True, apart)], closes[np.append(apart, True)]
        self.spans = opens, closes
        before = np.cumsum(closes - opens)  # of the span behind each
        self._by_end = _Table(closes)
        # span i holds the counts before[i] < count <= before[i + 1]: those bounds, one less
        self._by_count = _Table(before + 1)
        self._starts = np.append(opens, FOREVER).astype(np.int32)
        self._ends = np.append(closes, FOREVER).astype(np.int32)
        self._before = np.append(0, before).astype(np.int32)
        self._last = int(closes[-1])

    def open_from(self, moments: Runs) -> Runs:
        return self.begin(moments)[0]

    def begin(self, moments: Runs) -> tuple[Runs, Spans]:
        """`open_from`, and in which span that is."""
        span = self._by_end.passed(moments)
        opens: Runs = np.maximum(moments, self._starts.take(span))
        if int(opens.max()) == FOREVER:
            raise BeyondHorizon(f"calendar {self.id} has no open time after some run's work")
        return opens, span

    @property
    def longest(self) -> Minutes:
        """The longest stretch without a break."""
        return int((self.spans[1] - self.spans[0]).max())

    def begin_unbroken(self, moments: Runs, work: Runs | Minutes) -> tuple[Runs, Spans]:
        """`begin` where the work ends before the stretch does; it must not exceed `longest`."""
        opens, span = self.begin(moments)
        while True:
            room: Runs = self._ends.take(span) - opens
            short = np.flatnonzero(room < work)
            if not len(short):
                return opens, span
            span[short] += 1
            opens[short] = self._starts.take(span[short])
            if int(opens.max()) == FOREVER:
                raise BeyondHorizon(f"calendar {self.id} has no open time after some run's work")

    def counted(self, moments: Runs) -> Runs:
        span = self._by_end.passed(moments)
        inside: Runs = moments - self._starts.take(span)
        np.maximum(inside, 0, out=inside)
        inside += self._before.take(span)
        return inside

    def finish(self, starts: Runs, work: Runs | Minutes, span: Spans | None = None) -> Runs:
        """For work of a minute or more. ``span``: of starts that came from `begin`."""
        if span is None:
            counts = self.counted(starts)
        else:
            counts = starts - self._starts.take(span)
            counts += self._before.take(span)
        counts += work
        return self.earliest_at(counts)

    def earliest_at(self, counts: Runs) -> Runs:
        span = self._by_count.passed(counts)
        moments: Runs = counts - self._before.take(span)
        moments += self._starts.take(span)
        # past the last span comes the sentinel, and a sum that has wrapped around or is too big
        if int(moments.max()) > self._last or int(span.max()) == len(self._before) - 1:
            raise BeyondHorizon(f"calendar {self.id} ends before some run's work does")
        return moments

    def earliest_start(self, finishes: Runs, work: Runs) -> Runs:
        """For work of a minute or more."""
        before_last: Runs = finishes - np.int32(1)
        counts = self.counted(before_last)
        counts += np.minimum(before_last - self._starts[0], 0)
        counts += np.int32(1)
        counts -= work
        span = self._by_count.passed(counts + np.int32(1))
        if int(span.max()) == len(self._before) - 1:
            raise BeyondHorizon(f"calendar {self.id} has no open time after some run's work")
        moments: Runs = counts - self._before.take(span)
        moments += self._starts.take(span)
        return self.open_from(moments)


def earliest_after(firsts: Runs, min_lag: Minutes, hours: RunHours | None) -> Runs:
    """As in `calendars`, a lag of working hours beginning to count when its calendar does."""
    if hours is None or min_lag == 0:
        return firsts + np.int32(min_lag)
    counts = hours.counted(firsts)
    counts += np.int32(min_lag)
    if min_lag > 0:
        return hours.earliest_at(counts)
    after: Runs = np.where(counts > 0, hours.earliest_at(counts), np.int32(NEVER))
    return after


def departures(origin: RunHours, destination: RunHours, travel: Minutes) -> RunHours:
    """The minutes in which a piece may leave, as a calendar: see `calendars.earliest_passage`.

    The origin is open then, and so is the destination when it arrives, closing time included.
    """
    opens, closes = origin.spans
    first, last = destination.spans
    moments = np.concatenate((opens, closes, first - travel, last - travel + 1))
    steps = np.repeat([1, -1, 1, -1], [len(opens), len(closes), len(first), len(last)])
    order = np.lexsort((-steps, moments))
    both = np.flatnonzero(np.cumsum(steps[order]) == 2)
    starts, ends = moments[order][both], moments[order][both + 1]
    real = ends > starts
    name = f"{origin.id} to {destination.id}"
    return RunHours(name, starts[real], ends[real])

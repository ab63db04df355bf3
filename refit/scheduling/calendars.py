"""Arithmetic of opening hours: exact, by bisection over prefix sums, O(log spans) a question.

Here: counting open minutes, turning counts back into moments, lags and windows between two
moments, passages of a piece from place to place. Not here: packages, precedence, resources.

A calendar ends: asking for open time after its last span raises `BeyondHorizon`. It also begins;
questions about *latest* dates may fall before that, and are answered by `position`, `latest_at`
and `earliest_at` as if the place had always been open before its first span.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from .problem import BadProblem, BeyondHorizon, Calendar, Minutes

NEVER: Minutes = -(1 << 60)
FOREVER: Minutes = 1 << 60
"""Earlier and later than any date: bounds that do not bind."""


class Hours:
    """A `Calendar` made ready for questions.

    Two moments can count the same open minutes: Friday's closing and Monday's opening. A *finish*
    is always the earlier of the two, a *start* the later.
    """

    __slots__ = ("before", "ends", "id", "starts")

    def __init__(self, calendar: Calendar) -> None:
        self.id = calendar.id
        self.starts: list[Minutes] = [start for start, _ in calendar.spans]
        self.ends: list[Minutes] = [end for _, end in calendar.spans]
        self.before: list[Minutes] = []
        """Open minutes before each span begins."""
        open_so_far, last_end = 0, None
        for start, end in calendar.spans:
            if end <= start or (last_end is not None and start < last_end):
                raise BadProblem(
                    f"calendar {calendar.id}: span {start}-{end} is empty or out of order"
                )
            self.before.append(open_so_far)
            open_so_far, last_end = open_so_far + end - start, end

    def open_from(self, moment: Minutes) -> Minutes:
        """The first open minute at or after ``moment``."""
        span = bisect_right(self.ends, moment)
        if span == len(self.ends):
            raise BeyondHorizon(f"calendar {self.id} has no open time after minute {moment}")
        return max(moment, self.starts[span])

    def is_open(self, moment: Minutes) -> bool:
        span = bisect_right(self.ends, moment)
        return span < len(self.ends) and self.starts[span] <= moment

    def counted(self, moment: Minutes) -> Minutes:
        """Open minutes before ``moment``, from the beginning of the calendar."""
        span = bisect_right(self.starts, moment) - 1
        if span < 0:
            return 0
        # Without min() and max(), here and below: these three answer most questions of a plan.
        closes = self.ends[span]
        return self.before[span] + (moment if moment < closes else closes) - self.starts[span]

    def position(self, moment: Minutes) -> Minutes:
        """`counted`, running on below zero before the first span, as if it were open there."""
        span = bisect_right(self.starts, moment) - 1
        if span < 0:
            return moment - self.starts[0] if self.starts else 0
        closes = self.ends[span]
        return self.before[span] + (moment if moment < closes else closes) - self.starts[span]

    def worked(self, start: Minutes, end: Minutes) -> Minutes:
        """Open minutes in ``[start, end)``; negative when end comes before start."""
        return self.counted(end) - self.counted(start)

    def finish(self, start: Minutes, work: Minutes) -> Minutes:
        """The earliest end of ``work`` open minutes begun at ``start``; ``start`` if work is 0."""
        if work == 0:
            return start
        return self.earliest_at(self.counted(start) + work)

    def earliest_at(self, count: Minutes) -> Minutes:
        """The earliest moment by which ``count`` open minutes have passed (a finish).

        A count of zero or less is answered on the extension described in `position`.
        """
        if not self.starts:
            raise BeyondHorizon(f"calendar {self.id} has no open time at all")
        if count <= 0:
            return self.starts[0] + count
        span = bisect_left(self.before, count) - 1
        moment = self.starts[span] + count - self.before[span]
        if span == len(self.ends) - 1 and moment > self.ends[span]:
            raise BeyondHorizon(f"calendar {self.id} ends before the work does")
        return moment

    def latest_at(self, count: Minutes) -> Minutes:
        """The latest moment at which only ``count`` open minutes have passed (a start).

        FOREVER when no more than that are left in the calendar; a negative count is answered on
        the extension described in `position`.
        """
        if not self.starts:
            raise BeyondHorizon(f"calendar {self.id} has no open time at all")
        span = bisect_right(self.before, count) - 1
        if span < 0:
            return self.starts[0] + count
        moment = self.starts[span] + count - self.before[span]
        return moment if moment < self.ends[span] else FOREVER

    def earliest_start(self, finish: Minutes, work: Minutes) -> Minutes:
        """The earliest start from which ``work`` open minutes end at ``finish`` or later."""
        if work == 0:
            return finish
        # Work ends before `finish` exactly when its minutes fit into those before the last one.
        count = self.position(finish - 1) + 1 - work
        return self.open_from(self.latest_at(count) if count >= 0 else self.starts[0] + count)

    def latest_start(self, finish: Minutes, work: Minutes) -> Minutes:
        """The latest start from which ``work`` open minutes end by ``finish``."""
        if work == 0:
            return finish
        count = self.counted(finish) - work
        if count < 0:
            raise BeyondHorizon(f"calendar {self.id} begins after the work would have to")
        span = bisect_right(self.before, count) - 1
        return self.starts[span] + count - self.before[span]

    def unbroken(self, work: Minutes) -> Hours:
        """The minutes in which ``work`` can begin and end before the place closes.

        A calendar like any other; it is never open if no stretch is long enough. Spans that touch
        are one stretch.
        """
        stretches: list[tuple[Minutes, Minutes]] = []
        for start, end in zip(self.starts, self.ends, strict=True):
            if stretches and stretches[-1][1] == start:
                start = stretches.pop()[0]
            stretches.append((start, end))
        name = f"{self.id} for {work} minutes in one go"
        long_enough = ((start, end - work + 1) for start, end in stretches if end - start >= work)
        return Hours(Calendar(name, tuple(long_enough)))

    def last_open(self, moment: Minutes) -> Minutes:
        """The last open minute at or before ``moment``, as if it were open before the first."""
        return self.latest_at(self.position(moment + 1) - 1)

    def closing_before(self, moment: Minutes) -> Minutes:
        """The last moment at or before ``moment`` at which the place is open or just closes."""
        span = bisect_right(self.starts, moment) - 1
        if span < 0:
            raise BeyondHorizon(f"calendar {self.id} has no open time before minute {moment}")
        return min(moment, self.ends[span])


def earliest_after(first: Minutes, min_lag: Minutes, hours: Hours | None) -> Minutes:
    """The earliest second moment that is at least ``min_lag`` after ``first``.

    On the clock without ``hours``. With them, at least that many open minutes lie between the two
    (at most, if it is negative); a lag of zero is zero on the clock, open or not. NEVER where an
    overlap reaches back before the calendar begins, which is no bound at all.
    """
    if hours is None or min_lag == 0:
        return first + min_lag
    count = hours.counted(first) + min_lag
    return hours.earliest_at(count) if count > 0 else NEVER


def latest_before(second: Minutes, min_lag: Minutes, hours: Hours | None) -> Minutes:
    """The latest first moment that ``second`` follows by at least ``min_lag``."""
    if hours is None or min_lag == 0:
        return second - min_lag
    count = hours.counted(second) - min_lag
    return hours.latest_at(count if count >= 0 else hours.position(second) - min_lag)


def window_end(first: Minutes, max_lag: Minutes, hours: Hours | None) -> Minutes:
    """The latest second moment that is at most ``max_lag`` after ``first``.

    A window of open minutes stays open until the next one begins: one working hour after Friday
    16:00 with closing at 17:00 lasts until Monday's opening (FOREVER if there is none).
    """
    if hours is None:
        return first + max_lag
    return hours.latest_at(hours.counted(first) + max_lag)


def window_begin(second: Minutes, max_lag: Minutes, hours: Hours | None) -> Minutes:
    """The earliest first moment whose window of ``max_lag`` still holds ``second``, or NEVER."""
    if hours is None:
        return second - max_lag
    count = hours.counted(second) - max_lag
    return hours.earliest_at(count) if count > 0 else NEVER


def earliest_passage(
    origin: Hours, destination: Hours, travel: Minutes, ready: Minutes
) -> tuple[Minutes, Minutes]:
    """The earliest ``(depart, arrive)`` of a move that is ready at ``ready``.

    It leaves while the origin is open (not at the minute of closing) and arrives while the
    destination is open (closing time included).
    """
    depart = origin.open_from(ready)
    while True:
        arrive = depart + travel
        opens = destination.open_from(arrive - 1)
        if opens <= arrive:
            return depart, arrive
        depart = origin.open_from(opens - travel)


def latest_passage(
    origin: Hours, destination: Hours, travel: Minutes, needed: Minutes
) -> tuple[Minutes, Minutes]:
    """The latest ``(depart, arrive)`` of a move that must have arrived by ``needed``."""
    arrive = destination.closing_before(needed)
    while True:
        depart = arrive - travel
        if origin.is_open(depart):
            return depart, arrive
        earlier = origin.closing_before(depart) - 1
        arrive = destination.closing_before(earlier + travel)


def intersect(
    first: Sequence[tuple[Minutes, Minutes]], second: Sequence[tuple[Minutes, Minutes]]
) -> tuple[tuple[Minutes, Minutes], ...]:
    """The spans in which both are open."""
    result: list[tuple[Minutes, Minutes]] = []
    i = j = 0
    while i < len(first) and j < len(second):
        start, end = max(first[i][0], second[j][0]), min(first[i][1], second[j][1])
        if start < end:
            result.append((start, end))
        if first[i][1] < second[j][1]:
            i += 1
        else:
            j += 1
    return tuple(result)

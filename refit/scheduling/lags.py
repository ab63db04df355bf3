"""What a dependency permits: lags turned into moments, in both directions.

Only the arithmetic of one dependency at a time. A lag is counted on the clock, or in the open
minutes of ``lag_calendar``; of the moments with the same count a *lower* bound is the earliest
and an *upper* bound the latest, so that no plan is refused for the hours in which nothing counts.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping

from .calendars import Hours
from .problem import Dependency, Minutes, Planned

NEVER: Minutes = -(10**12)
FOREVER: Minutes = 10**12


def first_with(hours: Hours, count: Minutes) -> Minutes:
    """The earliest moment by which ``count`` open minutes have passed; NEVER if count <= 0."""
    return hours.earliest_at(count) if count > 0 else NEVER


def last_with(hours: Hours, count: Minutes) -> Minutes:
    """The latest moment by which only ``count`` open minutes have passed."""
    if count < 0:
        return NEVER
    span = bisect_right(hours.before, count) - 1
    moment = hours.starts[span] + count - hours.before[span]
    return moment if moment < hours.ends[span] or span < len(hours.ends) - 1 else FOREVER


def earliest_point(
    dependency: Dependency, source: Minutes, hours: Mapping[str, Hours]
) -> Minutes:
    """From when the second end may happen, the first having happened at ``source``."""
    lag = dependency.min_lag
    if dependency.lag_calendar is None or lag == 0:
        return source + lag
    calendar = hours[dependency.lag_calendar]
    return first_with(calendar, calendar.counted(source) + lag)


def latest_source(dependency: Dependency, point: Minutes, hours: Mapping[str, Hours]) -> Minutes:
    """Until when the first end may happen, the second happening at ``point`` (minimum lag)."""
    lag = dependency.min_lag
    if dependency.lag_calendar is None or lag == 0:
        return point - lag
    calendar = hours[dependency.lag_calendar]
    return last_with(calendar, calendar.counted(point) - lag)


def latest_point(dependency: Dependency, source: Minutes, hours: Mapping[str, Hours]) -> Minutes:
    """Until when the second end must have happened; FOREVER without a maximum lag."""
    if dependency.max_lag is None:
        return FOREVER
    if dependency.lag_calendar is None:
        return source + dependency.max_lag
    calendar = hours[dependency.lag_calendar]
    return last_with(calendar, calendar.counted(source) + dependency.max_lag)


def earliest_source(dependency: Dependency, point: Minutes, hours: Mapping[str, Hours]) -> Minutes:
    """From when the first end may happen so that ``point`` is inside the maximum lag."""
    if dependency.max_lag is None:
        return NEVER
    if dependency.lag_calendar is None:
        return point - dependency.max_lag
    calendar = hours[dependency.lag_calendar]
    return first_with(calendar, calendar.counted(point) - dependency.max_lag)


def source_of(dependency: Dependency, before: Planned) -> Minutes:
    """The end of the first package from which the lag counts."""
    return before.finish if dependency.relation.from_finish else before.start


def point_of(dependency: Dependency, after: Planned) -> Minutes:
    """The end of the second package to which the lag counts."""
    return after.start if dependency.relation.to_start else after.finish


def start_for_end(hours: Hours, work: Minutes, end: Minutes) -> Minutes:
    """The earliest start from which ``work`` open minutes end at ``end`` or later."""
    if work == 0:
        return end
    count = hours.counted(end)
    if count == 0 or hours.earliest_at(count) < end:
        count += 1  # ``end`` is in closed hours: the work must run into the next span
    if count <= work:
        return NEVER
    before = bisect_left(hours.before, count - work + 1) - 1
    return hours.starts[before] + count - work - hours.before[before]

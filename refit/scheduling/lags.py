"""What a dependency permits: its lags turned into moments, in both directions.

The counting is done in `calendars`; here a dependency says which of two packages' ends are meant
and in which hours.
"""

from __future__ import annotations

from collections.abc import Mapping

from .calendars import (
    FOREVER,
    NEVER,
    Hours,
    earliest_after,
    latest_before,
    window_begin,
    window_end,
)
from .problem import Dependency, Minutes, Planned

HoursById = Mapping[str, Hours]


def _hours(dependency: Dependency, hours: HoursById) -> Hours | None:
    return None if dependency.lag_calendar is None else hours[dependency.lag_calendar]


def earliest_point(dependency: Dependency, source: Minutes, hours: HoursById) -> Minutes:
    """From when the second end may happen, the first having happened at ``source``."""
    return earliest_after(source, dependency.min_lag, _hours(dependency, hours))


def latest_source(dependency: Dependency, point: Minutes, hours: HoursById) -> Minutes:
    """Until when the first end may happen, the second happening at ``point`` (minimum lag)."""
    return latest_before(point, dependency.min_lag, _hours(dependency, hours))


def latest_point(dependency: Dependency, source: Minutes, hours: HoursById) -> Minutes:
    """Until when the second end must have happened; FOREVER without a maximum lag."""
    if dependency.max_lag is None:
        return FOREVER
    return window_end(source, dependency.max_lag, _hours(dependency, hours))


def earliest_source(dependency: Dependency, point: Minutes, hours: HoursById) -> Minutes:
    """From when the first end may happen so that ``point`` is inside the maximum lag."""
    if dependency.max_lag is None:
        return NEVER
    return window_begin(point, dependency.max_lag, _hours(dependency, hours))


def source_of(dependency: Dependency, before: Planned) -> Minutes:
    """The end of the first package from which the lag counts."""
    return before.finish if dependency.relation.from_finish else before.start


def point_of(dependency: Dependency, after: Planned) -> Minutes:
    """The end of the second package to which the lag counts."""
    return after.start if dependency.relation.to_start else after.finish

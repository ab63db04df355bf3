"""What a plan's dates do not keep: bookings, deadlines and maximum lags, told instead of hidden."""

from __future__ import annotations

from collections.abc import Mapping

from .lags import latest_point, point_of, source_of
from .problem import Dependency, Planned, Shortfall, ShortfallKind
from .stated import Stated


def find_shortfalls(stated: Stated, dates: Mapping[str, Planned]) -> tuple[Shortfall, ...]:
    """What the dates do not keep, for everything that is not over yet."""
    found: list[Shortfall] = []
    for name, package in stated.packages.items():
        planned = dates[name]
        open_still = package.progress is None or package.progress.finished is None
        booked = package.booked if package.progress is None else None
        if booked is not None and planned.start != booked:
            found.append(Shortfall(ShortfallKind.BOOKING, name, booked, planned.start))
        if package.deadline is not None and open_still and planned.finish > package.deadline:
            found.append(Shortfall(ShortfallKind.DEADLINE, name, package.deadline, planned.finish))
    for dependency in stated.problem.dependencies:
        missed = window_shortfall(stated, dependency, dates)
        if missed is not None:
            found.append(missed)
    return tuple(found)


def window_shortfall(
    stated: Stated, dependency: Dependency, dates: Mapping[str, Planned]
) -> Shortfall | None:
    """The maximum lag if it is overrun by an end of the second package that has not happened."""
    if dependency.max_lag is None:
        return None
    progress = stated.packages[dependency.after].progress
    if progress is not None and (dependency.relation.to_start or progress.finished is not None):
        return None
    wanted = latest_point(dependency, source_of(dependency, dates[dependency.before]), stated.hours)
    got = point_of(dependency, dates[dependency.after])
    if got <= wanted:
        return None
    return Shortfall(ShortfallKind.WINDOW, dependency.after, wanted, got, before=dependency.before)

"""A bound from what there is to do: no launch before the hours of work fit into the days there are.

Between the earliest start and the latest finish of some packages there must be room for all of
their work on a resource. If there is not when the launch is to be by some day, then no plan
launches by then: the bound is what is left (destructive improvement; Klein and Scholl 1999,
*Computing lower bounds by destructive improvement*). How much of a package falls at least into a
stretch of time, even if it starts as early or as late as it may, is energetic reasoning (Lopez,
Erschler and Esquirol 1992; Baptiste, Le Pape and Nuijten 1999). All three named from memory.

Work is counted in the open minutes of the hours that its users keep: there nights are nothing, and
a package is always as long as its work. Users with other hours are left out, which only makes the
bound weaker.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .calendars import FOREVER, NEVER, Hours
from .generation import Generation
from .problem import Minutes, Package
from .stated import Stated
from .steps import Ways
from .windows import earliest_starts, latest_starts_by

MOST = 120
"""Users of one resource up to which every stretch of time is looked at with what reaches into it;
above, only with what lies inside."""

Counts = NDArray[np.int64]


class Energy:
    """The bound for one problem; ``names``: what the launch waits for, in order."""

    def __init__(
        self, stated: Stated, generation: Generation, ways: Ways, names: Sequence[str]
    ) -> None:
        self.stated, self.ways = stated, ways
        self.names = [name for name in names if name not in stated.facts]
        self.lows = earliest_starts(stated, generation, ways, self.names, stated.facts)
        self._groups = list(self._find_groups())

    def bound(self, low: Minutes, high: Minutes) -> Minutes:
        """No launch is before this; it is ``low`` or later, which must be true, and at most
        ``high``."""
        while low < high:
            middle = (low + high) // 2
            if self.too_soon(middle):
                low = middle + 1
            else:
                high = middle
        return low

    def too_soon(self, launch: Minutes) -> bool:
        """Whether there is surely no plan that launches by then. False says nothing."""
        stated, target = self.stated, self.stated.problem.target

        def finish_by(package: Package) -> Minutes:
            return launch if target in (None, package.id) else FOREVER

        highs = latest_starts_by(
            stated, self.ways, self.names[::-1], {}, finish_by, lambda package: FOREVER
        )
        if any(highs[name] < self.lows[name] for name in self.names):
            return True
        return any(
            _overfull(*self._counted(hours, users, highs), capacity)
            for hours, users, capacity in self._groups
        )

    def _find_groups(self) -> list[tuple[Hours, list[tuple[Package, int]], int]]:
        """Who shares a resource and keeps the same hours; what is busy anyway is left out."""
        users: dict[tuple[str, str], list[tuple[Package, int]]] = {}
        for name in self.names:
            package = self.stated.packages[name]
            for demand in package.demands:
                if demand.units and package.work:
                    users.setdefault((demand.resource, package.calendar), []).append(
                        (package, demand.units)
                    )
        return [
            (self.stated.hours[calendar], found, self.stated.resources[resource].capacity)
            for (resource, calendar), found in users.items()
            if len(found) > 1
        ]

    def _counted(
        self, hours: Hours, users: list[tuple[Package, int]], highs: dict[str, Minutes]
    ) -> tuple[Counts, Counts, Counts, Counts]:
        """Earliest start, latest finish, work and units, in open minutes."""
        starts, finishes, works, units = [], [], [], []
        for package, wanted in users:
            starts.append(hours.counted(self.lows[package.id]))
            latest = highs[package.id]
            far = latest >= FOREVER or latest <= NEVER
            finishes.append(FOREVER if far else hours.counted(latest) + package.work)
            works.append(package.work)
            units.append(wanted)
        return np.array(starts), np.array(finishes), np.array(works), np.array(units)


def _overfull(
    starts: Counts, finishes: Counts, works: Counts, units: Counts, capacity: int
) -> bool:
    """Whether into some stretch of time more work falls than ``capacity`` does in it."""
    begins, ends = np.unique(starts), np.unique(finishes[finishes < FOREVER])
    if not len(ends):
        return False
    slack = finishes - works  # the latest start
    for begin in begins:
        after = ends[ends > begin]
        if not len(after):
            continue
        at_begin = np.maximum(starts + works - begin, 0)  # what is left if it starts early
        if len(starts) > MOST:
            inside = np.where(starts >= begin, works * units, 0)
            least = (inside[None, :] * (finishes[None, :] <= after[:, None])).sum(axis=1)
        else:
            at_end = np.maximum(after[:, None] - slack[None, :], 0)  # if it starts late
            within = np.minimum(np.minimum(at_begin, works)[None, :], at_end)
            least = (np.minimum(within, (after - begin)[:, None]) * units).sum(axis=1)
        if (least > capacity * (after - begin)).any():
            return True
    return False

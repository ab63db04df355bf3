"""The critical path of a refit: how early, how late, with how much float, and driven by what.

Packages and dependencies are exact here, on their own calendars; pieces, places and resources
are not looked at (`level` does that). The method, in numbered steps:

1. Ids become positions and dependencies edges (`network`).
2. Forward (`earliest`). A package is dated as soon as everything it waits for is; if some are
   left that wait for each other, their ring is named and that is the answer. A date is the
   greatest of its lower bounds: *now*, a booking, a day not before, and what each package in
   front demands. If there is work to do, the start moves on to the next open minute of the
   package's calendar; the work fills open minutes; the hold follows on the clock. A bound on the
   finish moves the start to the first minute from which the work ends late enough. The bound
   that won is remembered: it *drives* the date.
3. Maximum lags, if there are any. A window is kept by moving its first package later, which may
   push others, which may break other windows; a worklist goes on until all hold. Dates only ever
   grow, so what it ends with is the earliest. Drivers that push each other round a ring by a
   positive amount would go on for ever: that is a contradiction, and the ring is its proof.
4. Backward (`latest`). The same with all signs turned: the target stays at its earliest finish,
   each package takes the least of its upper bounds, deadlines and bookings among them.
5. Total float is the open minutes between earliest and latest start in the package's own
   calendar; free float those by which it may slip before any other earliest date has to move.
6. The chain: from the target's finish back along the drivers to what nobody else causes.

Two things that differ from the textbook, because calendars differ from each other:

- *The critical path is the driving chain, not "float = 0".* Paint done on Friday noon that holds
  until Saturday noon may slip until Friday evening without the Monday behind it noticing: five
  hours of float, and yet nothing else explains the Monday.
- *A finish is the earlier, a start the later of two moments with the same count* (Friday 17:00
  and Monday 08:00), so that dates read as people say them.

**Actuals win.** A package that has started waits for nobody any more, even if what should have
come first is unfinished; it goes on from *now* with what remains. It is not moved by bookings,
bounds or windows, holds no one else to a date, and its float is that of its finish. A finished
package has no float at all.

**Impossible wishes are reported beside the dates.** A booking that cannot be met gets the earliest
possible date and a `Conflict`; so does a missed deadline, and a window between dates that are
fixed (booked or begun). Only what no dates can satisfy raises.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

from .calendars import window_end
from .earliest import (
    BOOKING,
    NOT_BEFORE,
    NOW,
    OWN_WORK,
    PROGRESS,
    PROMISE,
    Earliest,
)
from .latest import Latest
from .network import Network
from .problem import Dependency, Minutes, Problem, ShortfallKind


class Driver(StrEnum):
    """What sets a date."""

    DEPENDENCY = "dependency"
    WINDOW = "window"
    """The package must not be too long before another one (a maximum lag)."""
    BOOKING = "booking"
    NOT_BEFORE = "not before"
    NOW = "now"
    HOURS = "hours"
    """Nothing but the opening of its own calendar keeps it from starting now."""
    PROGRESS = "progress"
    PROMISE = "promise"


class PackageDates(NamedTuple):
    """Earliest and latest dates of one package, its floats, and what drives it.

    A named tuple, because thousands are made at once and one costs less than a dataclass.

    Floats are open minutes of the package's calendar; a negative total float says by how much a
    deadline or booking is missed. Where a promise keeps back the finish, floats count from that
    if it leaves less. ``driver`` and (if that is one) ``dependency`` set the earliest
    start, which was possible from ``ready`` on: a later start has waited for opening hours since.
    ``finish_driver`` is None where the finish follows from the start, else PROGRESS or PROMISE.
    """

    id: str
    start: Minutes
    work_finish: Minutes
    finish: Minutes
    latest_start: Minutes
    latest_work_finish: Minutes
    latest_finish: Minutes
    total_float: Minutes
    free_float: Minutes
    driver: Driver
    ready: Minutes
    dependency: Dependency | None = None
    finish_driver: Driver | None = None

    @property
    def driven_by(self) -> str | None:
        """The other package that sets the earliest start, if one does."""
        if self.dependency is None:
            return None
        if self.driver is Driver.WINDOW:
            return self.dependency.after
        return self.dependency.before


@dataclass(frozen=True, slots=True)
class Conflict:
    """A wish that these dates cannot keep, and who is in its way.

    ``wanted`` is the booked start, the deadline, or the end of the window; ``possible`` the
    earliest possible moment instead. ``because``: the chain that forces it, from its first cause
    to ``package`` itself. ``before``: for a window, the package it is counted from.
    """

    kind: ShortfallKind
    package: str
    wanted: Minutes
    possible: Minutes
    because: tuple[str, ...]
    before: str | None = None

    @property
    def by(self) -> Minutes:
        """Elapsed minutes between the wish and what is possible."""
        return self.possible - self.wanted


@dataclass(frozen=True)
class CriticalPath:
    """Dates of every package in the order of the problem, and the chain that drives the end.

    ``finish`` is the earliest finish of the target, or of everything. ``chain``: ids from the
    first cause to the target (or to the package that finishes last).
    """

    packages: tuple[PackageDates, ...]
    chain: tuple[str, ...]
    finish: Minutes
    conflicts: tuple[Conflict, ...] = ()

    @cached_property
    def by_id(self) -> dict[str, PackageDates]:
        return {package.id: package for package in self.packages}


def critical_path(problem: Problem) -> CriticalPath:
    """Earliest and latest dates, floats, drivers and conflicts, resources and pieces aside.

    BadProblem if it is not well formed, CycleFound if packages wait for each other in a ring
    (of whatever relations), Contradiction if maximum lags cannot be kept on any dates,
    BeyondHorizon if a calendar ends before the work does.
    """
    with _collector_at_rest():
        return _critical_path(problem)


@contextmanager
def _collector_at_rest() -> Iterator[None]:
    """No search for reference cycles meanwhile: tens of thousands of objects and not one cycle.

    Looking through them again and again took a tenth of the whole.
    """
    running = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if running:
            gc.enable()


def _critical_path(problem: Problem) -> CriticalPath:
    network = Network(problem)
    earliest = Earliest(network)
    latest = Latest(network, earliest)
    last = latest.target
    if last < 0 and network.ids:
        last = earliest.finish.index(latest.end)
    trace = _Trace(network, earliest)
    return CriticalPath(
        packages=_rows(network, earliest, latest),
        chain=trace.ids(last, at_finish=True) if network.ids else (),
        finish=earliest.finish[last] if network.ids else problem.now,
        conflicts=tuple(_conflicts(network, earliest, trace)),
    )


_OWN = {
    NOW: Driver.NOW,
    NOT_BEFORE: Driver.NOT_BEFORE,
    BOOKING: Driver.BOOKING,
    PROGRESS: Driver.PROGRESS,
    PROMISE: Driver.PROMISE,
}


def _rows(network: Network, earliest: Earliest, latest: Latest) -> tuple[PackageDates, ...]:
    dependencies, edges, now = network.problem.dependencies, len(network.tail), network.problem.now
    drivers: list[Driver] = [Driver.DEPENDENCY] * len(network.ids)
    ready = earliest.bound.copy()
    through: list[Dependency | None] = [None] * len(network.ids)
    for i, code in enumerate(earliest.driver):
        if 0 <= code < edges:
            through[i] = dependencies[code]
        elif code >= edges:
            drivers[i], through[i] = Driver.WINDOW, dependencies[code - edges]
        else:
            drivers[i] = _OWN[code]
            if code == NOW and earliest.start[i] > now:
                drivers[i] = Driver.HOURS
            if code != PROGRESS:
                ready[i] += 1  # a bound of its own is kept one minute low, see Earliest
    finish_drivers: list[Driver | None] = [None] * len(network.ids)
    for i, code in earliest.finish_driver.items():
        finish_drivers[i] = _OWN[code]
    columns = zip(
        network.ids,
        earliest.start,
        earliest.work_finish,
        earliest.finish,
        latest.start,
        latest.work_finish,
        latest.finish,
        latest.total,
        latest.free,
        drivers,
        ready,
        through,
        finish_drivers,
        strict=True,
    )
    return tuple(map(PackageDates._make, columns))


class _Trace:
    """Follows drivers back from a date to its first cause."""

    def __init__(self, network: Network, earliest: Earliest) -> None:
        self.network, self.earliest = network, earliest

    def ids(self, i: int, *, at_finish: bool) -> tuple[str, ...]:
        """The chain that ends with package i, first cause first.

        Windows may close it into a ring (each of two packages where it is because of the other);
        it then stops where it would repeat itself.
        """
        chain, seen = [i], {i}
        while True:
            if at_finish and self.earliest.finish_driver.get(i, OWN_WORK) != OWN_WORK:
                break
            pushed = self.earliest.pushed_by(i)
            if pushed is None or pushed[0] in seen:
                break
            i, at_finish, _ = pushed
            chain.append(i)
            seen.add(i)
        return tuple(self.network.ids[i] for i in reversed(chain))


def _conflicts(network: Network, earliest: Earliest, trace: _Trace) -> Iterator[Conflict]:
    for i, package in sorted(network.special.items()):
        if package.progress is not None and package.progress.finished is not None:
            continue
        start, finish = earliest.start[i], earliest.finish[i]
        if package.booked is not None and package.progress is None and start > package.booked:
            because = trace.ids(i, at_finish=False)
            yield Conflict(ShortfallKind.BOOKING, package.id, package.booked, start, because)
        if package.deadline is not None and finish > package.deadline:
            because = trace.ids(i, at_finish=True)
            yield Conflict(ShortfallKind.DEADLINE, package.id, package.deadline, finish, because)
    for edge, j, from_finish, to_start, lag, hours in network.windows:
        after = network.special.get(j)
        if after is not None and after.progress is not None:
            continue
        i = network.tail[edge]
        until = window_end(earliest.finish[i] if from_finish else earliest.start[i], lag, hours)
        got = earliest.start[j] if to_start else earliest.finish[j]
        if got > until:
            yield Conflict(
                ShortfallKind.WINDOW,
                network.ids[j],
                until,
                got,
                trace.ids(j, at_finish=not to_start),
                before=network.ids[i],
            )

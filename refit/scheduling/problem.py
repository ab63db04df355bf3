"""The words in which a refit is put to the planning core, and nothing that computes.

**Time** is an integer count of minutes from an origin of the caller's choice (the web side uses
the refit's first midnight, in UTC, so that daylight saving is already unfolded into the
calendars). Spans are half-open: ``[start, end)``.

**Working time** is counted in the open minutes of a calendar; it pauses over nights, weekends and
closures. **Elapsed time** is counted on the clock. A hold (cure, dry) is elapsed, which is why
a coat that cures until Saturday evening lets work start on Monday morning and not on Tuesday.

A package is *finished* when its hold is over; every dependency that speaks of a finish means
that moment. Work itself ends at ``work_finish``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

Minutes = int
HOUR: Minutes = 60
DAY: Minutes = 24 * HOUR
WEEK: Minutes = 7 * DAY


class Relation(StrEnum):
    """Which end of one package waits for which end of another."""

    FINISH_TO_START = "finish-to-start"
    START_TO_START = "start-to-start"
    FINISH_TO_FINISH = "finish-to-finish"
    START_TO_FINISH = "start-to-finish"

    @property
    def from_finish(self) -> bool:
        return self in (Relation.FINISH_TO_START, Relation.FINISH_TO_FINISH)

    @property
    def to_start(self) -> bool:
        return self in (Relation.FINISH_TO_START, Relation.START_TO_START)


class ResourceKind(StrEnum):
    """What a resource is in the shop; the core treats all alike, the explanations do not."""

    CREW = "crew"
    VENDOR = "vendor"
    BAY = "bay"
    ZONE = "zone"


@dataclass(frozen=True, slots=True)
class Calendar:
    """Opening hours: sorted, disjoint spans ``(start, end)`` in minutes, already unfolded."""

    id: str
    spans: tuple[tuple[Minutes, Minutes], ...]


@dataclass(frozen=True, slots=True)
class Outage:
    """``units`` of a resource are missing during ``[start, end)``."""

    start: Minutes
    end: Minutes
    units: int


@dataclass(frozen=True, slots=True)
class Resource:
    """Something that only ``capacity`` packages' worth of demand can use at the same time."""

    id: str
    capacity: int
    kind: ResourceKind
    outages: tuple[Outage, ...] = ()


@dataclass(frozen=True, slots=True)
class Demand:
    """``units`` of a resource, while the work lasts or (``through_hold``) until the hold ends."""

    resource: str
    units: int = 1
    through_hold: bool = False


@dataclass(frozen=True, slots=True)
class Place:
    """Somewhere a piece can be; a piece leaves and arrives while ``calendar`` is open."""

    id: str
    calendar: str


@dataclass(frozen=True, slots=True)
class Travel:
    """Door-to-door minutes on the clock, loading included, from one place to another.

    ``towed``: those of a piece that is towed; None if it is as quick as the others.
    """

    origin: str
    destination: str
    minutes: Minutes
    towed: Minutes | None = None


@dataclass(frozen=True, slots=True)
class Piece:
    """A thing that is in one place at a time.

    ``place`` and ``free_from``: where it is, and from when it may leave. ``shared``: several
    packages may use it at once if they are at the same place (the boat); otherwise one at a time.
    ``returns_to``: where it goes after its last package, or None to stay. ``towed``: it goes on
    a trailer, so it takes the towed minutes of a way.
    """

    id: str
    place: str
    free_from: Minutes = 0
    shared: bool = False
    returns_to: str | None = None
    towed: bool = False


@dataclass(frozen=True, slots=True)
class Progress:
    """What has happened to a package.

    ``started``: actual start. ``remaining``: working minutes still to do from *now*, or None for
    the planned time less the open minutes since the start. ``finished``: actual end of the work
    (the hold runs from there).
    """

    started: Minutes
    remaining: Minutes | None = None
    finished: Minutes | None = None


@dataclass(frozen=True, slots=True)
class Package:
    """A work package as the planner sees it.

    ``work`` is working time in ``calendar``; ``low`` and ``high`` are its three-point bounds for
    the question *how sure*. ``hold`` is elapsed. ``place`` and ``pieces``: these pieces must be
    at this place from start to the end of the hold. ``booked`` starts exactly then; ``not_before``
    starts no earlier; ``deadline`` is the latest finish; ``promised`` is a finish of the *work*
    that somebody has promised: the work ends no earlier than that. ``unbroken``: the work is done
    in one go within opening hours (a launch, a coat of paint: it does not pause over a night);
    asked of what has not started only.
    """

    id: str
    work: Minutes
    calendar: str
    hold: Minutes = 0
    place: str | None = None
    pieces: tuple[str, ...] = ()
    demands: tuple[Demand, ...] = ()
    booked: Minutes | None = None
    not_before: Minutes | None = None
    deadline: Minutes | None = None
    promised: Minutes | None = None
    progress: Progress | None = None
    low: Minutes | None = None
    high: Minutes | None = None
    unbroken: bool = False


@dataclass(frozen=True, slots=True)
class Dependency:
    """``after`` waits for ``before``: at least ``min_lag`` and, if given, at most ``max_lag``.

    Lags are elapsed minutes, or open minutes of ``lag_calendar`` if that is named. A negative
    ``min_lag`` lets the second overlap the first.
    """

    before: str
    after: str
    relation: Relation = Relation.FINISH_TO_START
    min_lag: Minutes = 0
    max_lag: Minutes | None = None
    lag_calendar: str | None = None


@dataclass(frozen=True, slots=True)
class Problem:
    """Everything the planner knows. ``now``: nothing that has not started may start before it.

    ``target``: the package whose finish is the launch; None means the finish of everything.
    """

    packages: tuple[Package, ...]
    dependencies: tuple[Dependency, ...]
    calendars: tuple[Calendar, ...]
    now: Minutes = 0
    resources: tuple[Resource, ...] = ()
    places: tuple[Place, ...] = ()
    travels: tuple[Travel, ...] = ()
    pieces: tuple[Piece, ...] = ()
    target: str | None = None


@dataclass(frozen=True, slots=True)
class Planned:
    """Dates of one package: work in ``[start, work_finish)``, hold until ``finish``."""

    id: str
    start: Minutes
    work_finish: Minutes
    finish: Minutes


@dataclass(frozen=True, slots=True)
class PlannedMove:
    """A piece gets from ``origin`` to ``destination``.

    ``free_at``: from when it may leave. ``depart``/``arrive``: as early as opening hours allow.
    ``needed_at``: start of the package that waits for it (``for_package``), None if it only goes
    home. ``leave_by``: the latest departure that still arrives in time (in opening hours).
    ``after_package``: the package that had it last, None if it is still where it was at *now*.
    """

    piece: str
    origin: str
    destination: str
    free_at: Minutes
    depart: Minutes
    arrive: Minutes
    leave_by: Minutes | None
    needed_at: Minutes | None
    after_package: str | None
    for_package: str | None


class ShortfallKind(StrEnum):
    """A requirement that this plan cannot keep, told instead of hidden."""

    BOOKING = "booking missed"
    DEADLINE = "deadline missed"
    WINDOW = "window missed"


@dataclass(frozen=True, slots=True)
class Shortfall:
    """``package`` misses something by ``by`` elapsed minutes.

    ``wanted`` is the moment asked for, ``got`` the moment planned. For a missed window (a maximum
    lag) ``before`` names the package from whose end the window counts.
    """

    kind: ShortfallKind
    package: str
    wanted: Minutes
    got: Minutes
    before: str | None = None

    @property
    def by(self) -> Minutes:
        return self.got - self.wanted


@dataclass(frozen=True, slots=True)
class Plan:
    """Dates for every package, the moves that follow, and what could not be kept.

    The rest tells of the search and is no part of what makes two plans equal. ``bound``: no plan
    that misses nothing launches before. ``proved``: this one misses nothing and launches then.
    ``contradiction``: a small set of packages of which no plan keeps all maximum lags.
    """

    packages: tuple[Planned, ...]
    moves: tuple[PlannedMove, ...] = ()
    shortfalls: tuple[Shortfall, ...] = ()
    bound: Minutes | None = field(default=None, compare=False)
    proved: bool = field(default=False, compare=False)
    contradiction: tuple[str, ...] = field(default=(), compare=False)

    def finish_of(self, package: str | None) -> Minutes:
        """Finish of one package, or of everything for None. KeyError if the id is unknown."""
        if package is None:
            return max((p.finish for p in self.packages), default=0)
        for planned in self.packages:
            if planned.id == package:
                return planned.finish
        raise KeyError(package)


class SchedulingError(ValueError):
    """The problem as stated has no plan, or is not well formed."""


class BadProblem(SchedulingError):
    """An id is unknown or used twice, a number is out of range; the message names it."""


class CycleFound(SchedulingError):
    """Packages wait for each other in a ring; ``ids`` lists it in order, the first not repeated."""

    def __init__(self, ids: tuple[str, ...]) -> None:
        self.ids = ids
        super().__init__("packages wait for each other in a ring: " + " -> ".join((*ids, ids[0])))


class Contradiction(SchedulingError):
    """Requirements that cannot hold together whatever the dates; ``ids`` names the packages."""

    def __init__(self, ids: tuple[str, ...], message: str) -> None:
        self.ids = ids
        super().__init__(message)


class BeyondHorizon(SchedulingError):
    """A calendar has no more open time: its spans end before the work does."""

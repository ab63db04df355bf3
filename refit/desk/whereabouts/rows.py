"""What the picture is drawn from, as plain frozen rows.

No database, no drawing: `model` fills these from a refit, tests fill them by hand. Moments are
aware; ids are only compared with each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo


class Effect(StrEnum):
    """What a package does with a piece; the values are those of `refit.work.PieceEffect`."""

    NEEDS = "needs"
    TAKES_OFF = "takes off"
    FITS = "fits"


@dataclass(frozen=True, slots=True)
class ClosedRow:
    """Days on which a place is shut, both included: its own closure, or a public holiday."""

    first_day: date
    last_day: date
    reason: str


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """``open_weekdays``: 0 is Monday; empty means that no hours were given (always open)."""

    id: int
    name: str
    whose: str = ""
    is_home: bool = False
    open_weekdays: frozenset[int] = frozenset()
    closed: tuple[ClosedRow, ...] = ()


@dataclass(frozen=True, slots=True)
class PieceRow:
    """``place`` and ``fitted`` are as of now; ``place`` None: under way or unknown."""

    id: int
    tag: str
    name: str
    is_boat: bool = False
    place: int | None = None
    fitted: bool = False
    since: datetime | None = None
    href: str = ""


@dataclass(frozen=True, slots=True)
class UseRow:
    piece: int
    effect: Effect = Effect.NEEDS


@dataclass(frozen=True, slots=True)
class PackageRow:
    """Dates as they happened or, where nothing happened yet, as planned.

    ``cause`` goes on after “It”, as the planner words it. ``late``: sentences that say what was
    missed or will be, none if all is well.
    """

    code: str
    title: str
    place: int
    start: datetime
    work_finish: datetime
    finish: datetime
    uses: tuple[UseRow, ...] = ()
    started: bool = False
    finished: bool = False
    drives: bool = False
    is_launch: bool = False
    cause: str = ""
    hold_reason: str = ""
    late: tuple[str, ...] = ()
    by: str = ""
    href: str = ""

    @property
    def pieces(self) -> tuple[int, ...]:
        return tuple(use.piece for use in self.uses)


@dataclass(frozen=True, slots=True)
class LegRow:
    """One piece goes from place to place: ``sent`` and ``arrived`` say what has happened."""

    piece: int
    origin: int
    destination: int
    depart: datetime
    arrive: datetime
    sent: bool = False
    arrived: bool = False
    drives: bool = False
    late: str = ""
    recorded: bool = True
    """False: only inferred, because the piece was seen at both ends."""


@dataclass(frozen=True, slots=True)
class Rows:
    """One refit at one moment."""

    now: datetime
    zone: ZoneInfo
    start: date
    places: tuple[PlaceRow, ...] = ()
    pieces: tuple[PieceRow, ...] = ()
    packages: tuple[PackageRow, ...] = ()
    legs: tuple[LegRow, ...] = ()
    wanted: date | None = None
    launch_at: datetime | None = None
    undated: tuple[tuple[str, str], ...] = ()
    """Code and title of packages that neither happened nor are in the plan."""

    @property
    def today(self) -> date:
        return self.now.astimezone(self.zone).date()

    @property
    def boat(self) -> PieceRow | None:
        return next((piece for piece in self.pieces if piece.is_boat), None)

    @property
    def is_empty(self) -> bool:
        return not self.packages and not self.legs

    def day(self, moment: datetime) -> date:
        return moment.astimezone(self.zone).date()

    def bounds(self) -> tuple[date, date]:
        """First and last day of the picture: whole weeks, with a week of air after the end."""
        moments = [self.day(package.start) for package in self.packages]
        moments += [self.day(package.finish) for package in self.packages]
        moments += [self.day(leg.depart) for leg in self.legs]
        moments += [self.day(leg.arrive) for leg in self.legs]
        if self.launch_at is not None:
            moments.append(self.day(self.launch_at))
        if self.wanted is not None:
            moments.append(self.wanted)
        moments.append(self.today)
        first = min([*moments, self.start])
        last = max([*moments, self.start]) + timedelta(days=9)
        return first - timedelta(days=first.weekday()), last + timedelta(days=6 - last.weekday())

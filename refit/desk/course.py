"""The course to the launch: a small drawing of the packages that drive it, from today on.

The same marks as on the picture of whereabouts: thick is work, hatched is a hold, thin is
waiting. Pure: positions only, in the units of the drawing; a template makes the SVG of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from refit.planning.models import PlannedPackage
from refit.work.models import Refit
from refit.work.wording import say_day

WIDTH = 1200
MARGIN = 14
RIGHT = 30
"""Room for the pennant."""
LINE = 40
"""Height at which the line runs."""
GAP = 2
"""Left free at the end of a piece of work, so that two in a row are two."""
LETTER = 8.2
"""Width of a letter of the labels, on the wide side."""

TODAY = 50
"""Where the label “today” ends."""
HALF_DAY = LETTER * len("28 Dec") / 2


@dataclass(frozen=True)
class Leg:
    """One package on the line: work from ``x1`` to ``x2``, hold to ``x3``."""

    x1: float
    x2: float
    x3: float
    code: str
    title: str

    @property
    def middle(self) -> float:
        return (self.x1 + self.x3) / 2


@dataclass(frozen=True)
class Tick:
    x: float
    label: str


@dataclass(frozen=True)
class Course:
    width: int
    line: int
    start: float
    end: float
    legs: list[Leg]
    ticks: list[Tick]
    launch: float
    wanted: float | None
    wanted_label: str
    wanted_middle: float
    """Of its label, which stands below it as near as the ends of the drawing leave room."""


def draw_course(
    *, refit: Refit, now: datetime, launch_at: datetime, chain: list[PlannedPackage]
) -> Course | None:
    """The drawing; None if the launch lies in the past."""
    last = launch_at
    wanted_at: datetime | None = None
    if refit.wanted_launch is not None:
        wanted_at = datetime.combine(refit.wanted_launch, time(12), refit.zone)
        last = max(last, wanted_at)
    if launch_at <= now:
        return None
    seconds = (last - now).total_seconds() or 1
    scale = (WIDTH - MARGIN - RIGHT) / seconds

    def x(moment: datetime) -> float:
        return round(MARGIN + max((moment - now).total_seconds(), 0) * scale, 1)

    legs = []
    for row in chain:
        x1, x3 = x(row.start), x(min(row.finish, launch_at))
        code = row.package.code if (x3 - x1) >= LETTER * len(row.package.code) else ""
        legs.append(Leg(x1, max(x(row.work_finish) - GAP, x1), x3, code, row.package.title))
    wanted = None if wanted_at is None else x(wanted_at)
    label = "" if refit.wanted_launch is None else f"wanted {say_day(refit.wanted_launch)}"
    half = LETTER * len(label) / 2
    middle = round(min(max(wanted or 0, TODAY + half), WIDTH - half), 1)
    taken = (middle - half, middle + half) if label else (WIDTH, WIDTH)
    return Course(
        width=WIDTH,
        line=LINE,
        start=MARGIN,
        end=x(last),
        legs=legs,
        ticks=_ticks(refit, now, last, taken, scale),
        launch=x(launch_at),
        wanted=wanted,
        wanted_label=label,
        wanted_middle=middle,
    )


def _ticks(
    refit: Refit, now: datetime, last: datetime, taken: tuple[float, float], scale: float
) -> list[Tick]:
    """Mondays; labelled as often as there is room, and not where another label has ``taken`` it."""
    monday: date = refit.today(now) + timedelta(days=(7 - refit.today(now).weekday()) % 7 or 7)
    week = 7 * 86400 * scale
    every = max(1, -(-int(LETTER * 9) // max(int(week), 1)))
    ticks, number = [], 0
    while (at := datetime.combine(monday, time(0), refit.zone)) < last:
        position = round(MARGIN + (at - now).total_seconds() * scale, 1)
        free = position + HALF_DAY < taken[0] or position - HALF_DAY > taken[1]
        fits = TODAY + HALF_DAY < position < WIDTH - HALF_DAY
        has_room = number % every == 0 and free and fits
        label = say_day(monday).partition(" ")[2] if has_room else ""
        ticks.append(Tick(position, label))
        monday += timedelta(days=7)
        number += 1
    return ticks

"""The launch as a range of days: a small drawing, swelling where most runs are.

Pure: positions only, in the units of the drawing; a template makes the SVG of it. The same words
stand beside it, so nothing is told by the drawing alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from refit.planning.risk_words import Sure
from refit.work.wording import say_day

WIDTH = 520
HEIGHT = 84
MARGIN = 52
LINE = 40
SWELL = 14
"""Half the height of the swell at its middle."""
LETTER = 7.4
ROOM = LETTER * len("Wed 20 Jan") + 10
"""Width that a label of a day takes."""


@dataclass(frozen=True)
class Mark:
    """A day on the line and its label."""

    x: float
    label: str


@dataclass(frozen=True)
class Band:
    width: int
    height: int
    line: int
    swell: str
    """The outline, as the ``d`` of an SVG path."""
    first: Mark
    most: Mark
    last: Mark
    planned: float
    wanted: Mark | None
    room_before: bool
    room_behind: bool
    """Whether the outer labels stand clear of that in the middle; if not, they give way."""


def draw_band(sure: Sure, *, planned: date, wanted: date | None) -> Band | None:
    """The drawing; None if nearly all runs end on one day, which needs none."""
    if sure.is_one_day:
        return None
    shown = [sure.first, sure.last, planned]
    span = (sure.last - sure.first).days
    if wanted is not None and -span <= (wanted - sure.first).days <= 2 * span:
        shown.append(wanted)
    else:
        wanted = None
    start, end = min(shown), max(shown)
    scale = (WIDTH - 2 * MARGIN) / max((end - start).days, 1)

    def x(day: date) -> float:
        return round(MARGIN + (day - start).days * scale, 1)

    left, middle, right = x(sure.first), x(sure.half), x(sure.last)
    top, bottom = LINE - SWELL, LINE + SWELL
    bend_left, bend_right = round((left + middle) / 2, 1), round((middle + right) / 2, 1)
    swell = (
        f"M {left} {LINE} C {bend_left} {LINE} {bend_left} {top} {middle} {top}"
        f" C {bend_right} {top} {bend_right} {LINE} {right} {LINE}"
        f" C {bend_right} {LINE} {bend_right} {bottom} {middle} {bottom}"
        f" C {bend_left} {bottom} {bend_left} {LINE} {left} {LINE} Z"
    )
    most = x(sure.most)
    return Band(
        width=WIDTH,
        height=HEIGHT,
        line=LINE,
        swell=swell,
        first=Mark(left, say_day(sure.first)),
        most=Mark(most, say_day(sure.most)),
        last=Mark(right, say_day(sure.last)),
        planned=x(planned),
        wanted=None if wanted is None else Mark(x(wanted), say_day(wanted)),
        room_before=most - left >= ROOM,
        room_behind=right - most >= ROOM,
    )

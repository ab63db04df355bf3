"""Readings as a picture: one row a station, an open ring before, a dot after each round, the limits
as a line. Plain SVG shapes in numbers; the template writes them, the words stand beside.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from refit.quality.judging import Verdict
from refit.quality.models import Criterion

WIDTH, LEFT, RIGHT, ROW, TOP = 640, 150, 80, 30, 26


@dataclass(frozen=True)
class Mark:
    x: float
    kind: str
    """before, earlier, ok, out."""


@dataclass(frozen=True)
class Line:
    label: str
    y: float
    marks: tuple[Mark, ...]
    said: str


@dataclass(frozen=True)
class Chart:
    height: float
    lines: tuple[Line, ...]
    limits: tuple[tuple[float, str], ...]
    """Where limits stand, and what they are."""
    title: str
    bottom: float
    width: int = WIDTH
    left: int = LEFT
    right: int = WIDTH - RIGHT


def _short(value: Decimal) -> str:
    text = f"{value:.1f}"
    return text.removesuffix(".0")


def draw(verdict: Verdict, criterion: Criterion) -> Chart:
    """The chart of a verdict that has stations."""
    limits = [one for one in (criterion.low, criterion.high) if one is not None]
    if criterion.rule == "spots" and criterion.low is not None:
        limits = [criterion.low * Decimal("0.8"), criterion.low * Decimal("1.2")]
    values = [v for one in verdict.stations for v in (one.before, *one.rounds) if v is not None]
    low, high = min([*values, *limits]), max([*values, *limits])
    pad = (high - low) / 12 or Decimal(1)
    low, high = low - pad, high + pad

    def x(value: Decimal) -> float:
        return round(LEFT + float((value - low) / (high - low)) * (WIDTH - LEFT - RIGHT), 1)

    lines = []
    for number, one in enumerate(verdict.stations):
        marks = [Mark(x(one.before), "before")] if one.before is not None else []
        marks += [Mark(x(value), "earlier") for value in one.rounds[:-1]]
        if one.after is not None:
            marks.append(Mark(x(one.after), "out" if one.ok is False else "ok"))
        course = [*([one.before] if one.before is not None else []), *one.rounds]
        said = " → ".join(_short(value) for value in course)
        lines.append(Line(one.station, TOP + ROW * (number + 0.5), tuple(marks), said))
    bottom = TOP + ROW * len(lines)
    return Chart(
        height=bottom + 8,
        lines=tuple(lines),
        limits=tuple((x(one), _short(one)) for one in limits),
        title=f"{criterion.name}: {verdict.sentence}",
        bottom=bottom,
    )

"""A picture ready for a template: layout and drawing joined, with what stands around them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.utils.safestring import SafeString

from .courses import Choice, Chosen, Courses, choose, follow
from .drawing import draw_names, draw_picture, draw_sheet, patterns
from .layout import NAMES, lay_out
from .rows import Rows
from .scale import Scale
from .shapes import Picture
from .words import describe

ON_SCREEN = 1076.0
"""Width that the picture shall fill at first, in pixels: a 1280 screen less names and margins."""


@dataclass(frozen=True, slots=True)
class Pictured:
    picture: Picture
    courses: Courses
    chosen: Chosen
    patterns: SafeString
    names: SafeString
    drawn: SafeString
    sheet: SafeString
    said: str
    today_x: int

    @property
    def names_width(self) -> int:
        return int(NAMES)

    @property
    def width(self) -> str:
        return f"{self.picture.width:.1f}"

    @property
    def height(self) -> str:
        return f"{self.picture.height:.1f}"


def draw(
    rows: Rows,
    choice: Choice,
    *,
    days_in_sight: int | None = None,
    width: float = ON_SCREEN,
) -> Pictured:
    """The chosen part of the rows. ``days_in_sight`` days fill ``width`` pixels (None: the whole
    refit); the print sheet shows these days around today."""
    courses = follow(rows)
    chosen = choose(rows, courses, choice)
    scale = Scale.of(rows, width=width, days_in_sight=days_in_sight)
    picture = lay_out(rows, courses, chosen, scale)
    first, last = 0.0, picture.width
    if days_in_sight is not None:
        begin = rows.today - timedelta(days=days_in_sight // 4)
        begin -= timedelta(days=begin.weekday())
        first = min(scale.x_of_day(begin), max(0.0, picture.width - width))
        last = min(first + days_in_sight * scale.per_day, picture.width)
    return Pictured(
        picture=picture,
        courses=courses,
        chosen=chosen,
        patterns=patterns(),
        names=draw_names(picture),
        drawn=draw_picture(picture, rows),
        sheet=draw_sheet(picture, first, last),
        said=describe(picture, rows),
        today_x=int(scale.x(rows.now)),
    )

"""The key to the picture, drawn with the picture's own shapes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from django.utils.safestring import SafeString, mark_safe

from . import drawing
from .labels import PLATE_SIZE, plate_width
from .markup import rect
from .rows import LegRow, PackageRow
from .shapes import Block, Box, Branch, Flag, Label, Line, Slant, Sleeve

WIDTH, HEIGHT = 64.0, 30.0
MIDDLE = HEIGHT / 2
_WHEN = datetime(2026, 1, 5, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Entry:
    drawn: SafeString
    words: str


def explain() -> list[Entry]:
    """Every kind of shape once, with what it means."""
    return [
        Entry(
            mark_safe(
                f'<svg width="{WIDTH:.0f}" height="{HEIGHT:.0f}" aria-hidden="true" '
                f'focusable="false"><g class="{css}">{drawn}</g></svg>'
            ),
            words,
        )
        for css, drawn, words in _entries()
    ]


def _entries() -> Iterator[tuple[str, str, str]]:
    yield "h0", _line(is_boat=True), "the boat; dashed: still to come"
    yield "h2", _line(), "a piece that waits"
    yield "h3 twin", _line(hue=10), "double: a piece with the colour of another"
    yield "h2", _plate(), "its tag"
    yield "h0", drawing.draw_block(_block(ink=60)), "work done"
    yield "h0", drawing.draw_block(_block(ink=26)), "under way: solid as far as done"
    yield "h0", drawing.draw_block(_block()), "work planned"
    yield "h0", drawing.draw_block(_block(hold=30, ink=60)), "hatched: it holds (cure, dry)"
    yield "h0", drawing.draw_block(_block(drives=True)), "heavy edge: on the driving chain"
    yield "h2", _move(), "a move: leaves (open), arrives (filled)"
    yield "h2", _branch(off=True), "comes off the boat"
    yield "h2", _branch(off=False), "is fitted again"
    yield "h2", _joint(), "needed there too"
    yield "h8", drawing.draw_block(_block(height=10)), "needs no piece"
    yield "h0", drawing.draw_sign(MIDDLE + 15, MIDDLE), "late, or will be"
    yield (
        "",
        rect("wa-lane", Box(8, 3, 48, 24)) + rect("wa-off", Box(8, 3, 48, 24)),
        "closed that day of the week",
    )
    yield (
        "",
        rect("wa-lane", Box(8, 3, 48, 24))
        + rect("wa-shut", Box(8, 3, 48, 24), fill="url(#wa-dots)"),
        "closed, or a holiday",
    )
    yield "", drawing.draw_flag(Flag("planned", 26, 4), HEIGHT - 2), "launch planned"
    yield "", drawing.draw_flag(Flag("wanted", 26, 4), HEIGHT - 2), "launch wanted"


def _package(*, drives: bool = False) -> PackageRow:
    return PackageRow("", "", 0, _WHEN, _WHEN, _WHEN, drives=drives)


def _block(
    *, hold: float | None = None, ink: float = 0, drives: bool = False, height: float = 15
) -> Block:
    box = Box(6, MIDDLE - height / 2, 52, height)
    return Block(_package(drives=drives), box, hold if hold is not None else 58, ink, 0, None)


def _line(*, is_boat: bool = False, hue: int = 0) -> str:
    return drawing.draw_line(Line(0, 0, hue, is_boat, 4, 60, MIDDLE, 32))


def _plate() -> str:
    return drawing.draw_label(
        Label(Box(6, MIDDLE - 7, plate_width("ST-01"), 14), "ST-01", PLATE_SIZE, "plate")
    )


def _move() -> str:
    way = LegRow(0, 0, 0, _WHEN, _WHEN, sent=True)
    slant = Slant(way, 0, 0, False, 26, 5, 34, HEIGHT - 5)
    before = Line(0, 0, 0, False, 6, 26, 5, 26)
    after = Line(0, 0, 0, False, 34, 58, HEIGHT - 5, 58)
    parts = (drawing.draw_line(before), drawing.draw_line(after), drawing.draw_slant(slant))
    return "".join(parts) + drawing.draw_rings(slant)


def _branch(*, off: bool) -> str:
    boat = Box(6, 3, 30, 11) if off else Box(28, 3, 30, 11)
    block = Block(_package(), boat, boat.right, 60, 0, None)
    x = boat.right if off else boat.x
    branch = Branch(0, 0, 0, x, boat.middle, HEIGHT - 5, off, True)
    ends = (x, 60.0) if off else (4.0, x)
    piece = Line(0, 0, 0, False, *ends, HEIGHT - 5, 60)
    boat_drawn = f'<g class="h0">{drawing.draw_block(block)}</g>'
    return drawing.draw_branch(branch) + drawing.draw_line(piece) + boat_drawn


def _joint() -> str:
    block = Block(_package(), Box(16, 2, 32, 10), 48, 60, 0, None)
    sleeve = Sleeve(_package(), Box(16, HEIGHT - 11, 32, 10), (20, 12, HEIGHT - 11), 0, 0, 0)
    piece = Line(0, 0, 0, False, 4, 60, HEIGHT - 6, 60)
    drawn = drawing.draw_line(piece) + drawing.draw_sleeve(sleeve)
    return drawn + f'<g class="h0">{drawing.draw_block(block)}</g>'

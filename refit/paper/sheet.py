"""One printed sheet in the look of the pages: ink, one sea blue, a ruled margin for the signs.

A `Sheet` is filled from top to bottom and asked once for its bytes (PDF). It knows nothing of the
database nor of Django: what stands on it is said by whoever fills it, dates and money already as
words. The margin on the left is that of the ruled lists on the pages; the signs of a state and the
boxes to tick stand in it. Lengths are in millimetres.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import Literal

from fpdf import FPDF
from fpdf.enums import XPos, YPos
from fpdf.fonts import FontFace

FONTS = Path(__file__).parent / "fonts"
Colour = tuple[int, int, int]
INK: Colour = (29, 35, 38)
QUIET: Colour = (86, 96, 103)
SEA: Colour = (18, 71, 95)
RULE: Colour = (185, 205, 214)
BAND: Colour = (244, 240, 231)
RUST: Colour = (148, 44, 20)

EDGE = 15.0
MARGIN = 26.0
"""Where the text begins, right of the ruled margin."""
LINE = 5.0

Size = Literal["A4", "Letter"]


@dataclass(frozen=True)
class Column:
    """``share`` of the width; figures are set to the right."""

    title: str
    share: float = 1.0
    figures: bool = False


class _Pages(FPDF):
    """The frame round every page: the boat and the title above, the page below, the margin."""

    def __init__(self, *, size: Size, title: str, boat: str, made: str) -> None:
        super().__init__(format=size)
        self.frame_title, self.boat, self.made = title, boat, made
        self.add_font("sans", "", FONTS / "DejaVuSans.ttf")
        self.add_font("sans", "B", FONTS / "DejaVuSans-Bold.ttf")
        self.add_font("serif", "B", FONTS / "DejaVuSerif-Bold.ttf")
        self.set_text_shaping(True)
        self.set_margins(MARGIN, EDGE, EDGE)
        self.set_auto_page_break(True, margin=EDGE + 8)
        self.alias_nb_pages("||")

    def header(self) -> None:
        self.set_font("serif", "B", 10)
        self.set_text_color(*INK)
        self.set_xy(EDGE, EDGE - 4)
        self.cell(90, 6, self.boat)
        self.set_font("sans", "", 8.5)
        self.set_text_color(*QUIET)
        self.set_xy(self.w / 2, EDGE - 4)
        self.cell(self.w / 2 - EDGE, 6, self.frame_title, align="R")
        self.set_draw_color(*RULE)
        self.set_line_width(0.25)
        self.line(EDGE, EDGE + 3, self.w - EDGE, EDGE + 3)
        for x in (MARGIN - 3.6, MARGIN - 2.8):
            self.line(x, EDGE + 3, x, self.h - EDGE - 3)
        self.set_xy(MARGIN, EDGE + 7)

    def footer(self) -> None:
        self.set_font("sans", "", 7.5)
        self.set_text_color(*QUIET)
        self.set_xy(EDGE, -EDGE - 1)
        self.cell(120, 5, self.made)
        self.set_xy(self.w - EDGE - 60, -EDGE - 1)
        self.cell(60, 5, f"page {self.page_no()} of ||", align="R")


class Sheet:
    """Fill it, then `finish`.

    ``title`` says what it is ("Custody receipt"), ``boat`` whose, ``made`` when and from what
    ("made Wed 25 Nov 14:00 from the plan of 13:58"). ``moment`` goes into the file's own dates, so
    that the same contents make the same bytes. Any script the font has can be written; text that
    runs from right to left does so.
    """

    def __init__(
        self, *, title: str, boat: str, made: str, moment: datetime, size: Size = "A4"
    ) -> None:
        self._pages = pages = _Pages(size=size, title=title, boat=boat, made=made)
        pages.set_title(f"{title}, {boat}")
        pages.set_creator("refit")
        pages.set_lang("en")
        pages.set_creation_date(moment.astimezone(UTC))
        pages.add_page()
        self._write(title, font="serif", size=18, line=9)
        pages.ln(1)

    @property
    def width(self) -> float:
        """From the margin to the right edge."""
        return float(self._pages.epw)

    def heading(self, text: str) -> None:
        """Never alone at the foot of a page."""
        self._keep_together(24)
        self._pages.ln(4)
        self._write(text, weight="B", size=11.5, line=6)
        self._pages.ln(1)

    def sentence(self, text: str, *, quiet: bool = False, strong: bool = False) -> None:
        if text:
            self._write(text, weight="B" if strong else "", colour=QUIET if quiet else INK)
            self._pages.ln(0.8)

    def caution(self, text: str) -> None:
        """A warning, with its sign in the margin."""
        self._keep_together(14)
        self._in_margin("!", RUST)
        self._write(text, colour=RUST)
        self._pages.ln(1.2)

    def facts(self, facts: Iterable[tuple[str, str]]) -> None:
        """A name and what it is, line by line; a fact without content is left out."""
        pages, name = self._pages, min(48.0, self.width / 3)
        for label, value in facts:
            if not value:
                continue
            self._keep_together(LINE)
            y = pages.get_y()
            pages.set_x(MARGIN)
            pages.set_font("sans", "", 9)
            pages.set_text_color(*QUIET)
            pages.multi_cell(name - 2, LINE, label, align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
            below, sheet = pages.get_y(), pages.page
            pages.set_xy(MARGIN + name, y)
            pages.set_font("sans", "", 9.5)
            pages.set_text_color(*INK)
            pages.multi_cell(
                self.width - name, LINE, value, align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT
            )
            if pages.page == sheet and pages.get_y() < below:
                pages.set_y(below)
        pages.ln(1)

    def table(self, columns: Sequence[Column], rows: Iterable[Sequence[str]]) -> None:
        """The head is repeated on every page; the last column may be as long as it likes."""
        pages = self._pages
        pages.set_x(MARGIN)
        pages.set_font("sans", "", 8.5)
        pages.set_text_color(*INK)
        pages.set_draw_color(*RULE)
        head = FontFace(emphasis="BOLD", color=QUIET, fill_color=BAND)
        with pages.table(
            width=self.width,
            col_widths=tuple(column.share for column in columns),
            text_align=tuple("RIGHT" if column.figures else "LEFT" for column in columns),
            borders_layout="HORIZONTAL_LINES",
            headings_style=head,
            line_height=4.4,
            padding=(0.8, 1.2),
            align="LEFT",
            v_align="TOP",
        ) as table:
            table.row([column.title for column in columns])
            for row in rows:
                table.row(list(row))
        pages.ln(2)

    def ticks(self, items: Iterable[tuple[str, bool]]) -> None:
        """Things to tick with a pencil, a box in the margin; what is done wears its tick."""
        for text, done in items:
            self._keep_together(LINE + 2)
            self._in_margin("☑" if done else "☐", INK, size=11)
            self._write(text)
            self._pages.ln(1)

    def pictures(self, pictures: Iterable[tuple[bytes, str]], *, across: int = 3) -> None:
        """Pictures with what is said under them, ``across`` in a row. JPEG or PNG."""
        pages, gap = self._pages, 4.0
        wide = (self.width - gap * (across - 1)) / across
        high = wide * 0.75
        row: list[tuple[bytes, str]] = []
        for picture in [*pictures, None]:
            if picture is not None:
                row.append(picture)
            if row and (picture is None or len(row) == across):
                self._keep_together(high + 12)
                top = pages.get_y()
                lowest = top
                for number, (content, caption) in enumerate(row):
                    x = MARGIN + number * (wide + gap)
                    pages.image(
                        BytesIO(content), x=x, y=top, w=wide, h=high, keep_aspect_ratio=True,
                        alt_text=caption or "picture",
                    )  # fmt: skip
                    pages.set_xy(x, top + high + 1)
                    pages.set_font("sans", "", 7.5)
                    pages.set_text_color(*QUIET)
                    pages.multi_cell(wide, 3.6, caption, align="L")
                    lowest = max(lowest, pages.get_y())
                pages.set_xy(MARGIN, lowest + 3)
                row = []

    def signatures(self, names: Sequence[str]) -> None:
        """A line to sign for each, side by side."""
        pages, gap = self._pages, 10.0
        self._keep_together(26)
        wide = (self.width - gap * (len(names) - 1)) / max(1, len(names))
        y = pages.get_y() + 16
        pages.set_draw_color(*INK)
        pages.set_font("sans", "", 8)
        pages.set_text_color(*QUIET)
        for number, name in enumerate(names):
            x = MARGIN + number * (wide + gap)
            pages.line(x, y, x + wide, y)
            pages.set_xy(x, y + 1)
            pages.cell(wide, 4, name)
        pages.set_xy(MARGIN, y + 8)

    def page(self) -> None:
        self._pages.add_page()

    def finish(self) -> bytes:
        return bytes(self._pages.output())

    def _write(
        self,
        text: str,
        *,
        font: str = "sans",
        weight: Literal["", "B"] = "",
        size: float = 9.5,
        line: float = LINE,
        colour: Colour = INK,
    ) -> None:
        pages = self._pages
        pages.set_x(MARGIN)
        pages.set_font(font, "B" if font == "serif" else weight, size)
        pages.set_text_color(*colour)
        pages.multi_cell(self.width, line, text, align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def _in_margin(self, sign: str, colour: Colour, size: float = 9.5) -> None:
        pages = self._pages
        pages.set_font("sans", "B" if sign == "!" else "", size)
        pages.set_text_color(*colour)
        y = pages.get_y()
        pages.set_xy(EDGE, y)
        pages.cell(MARGIN - EDGE - 4, LINE, sign, align="R")
        pages.set_xy(MARGIN, y)

    def _keep_together(self, height: float) -> None:
        """Turn the page unless so much room is left."""
        if self._pages.will_page_break(height):
            self._pages.add_page()

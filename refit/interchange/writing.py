"""Sheets out: a refit as a workbook or as CSV files, the empty template, the table of columns.

What is written here is read back by `refit.interchange.reading` to the same refit.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable
from typing import cast

from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from .cells import Habits, Row
from .columns import SHEETS
from .document import RefitDocument
from .flat import flatten
from .merging import MOST_TEXT, habits_of, written
from .reading import NOTES, guarded
from .sheet import Sheet

RULES = (
    "One row is one place, vendor, package and so on. Columns may be left out or moved.",
    "A row whose name, tag or code is in the refit already changes that row; others are new. "
    "Nothing is ever removed.",
    "A column that is not there changes nothing. An empty cell empties what it stands for.",
    "Dates are written 2026-12-04, times of day 14:00, in the time zone of the refit. "
    "Durations carry their unit: 2 d, 6 h, 90 min.",
    "If any row is wrong, nothing is stored, and every wrong row is named.",
)


def _rows(sheet: Sheet, document: RefitDocument | None, habits: Habits) -> Iterable[list[str]]:
    """The heading row, then a row of text for each row of the document."""
    yield [column.headings(habits)[0][0] for column in sheet.columns]
    if document is None:
        return
    bookings = {row["package"]: cast(Row, row) for row in document["bookings"]}
    for row in cast(list[Row], document[sheet.kind]):  # type: ignore[literal-required]
        flat = flatten(sheet, row, bookings.get(row.get("code", "")))
        yield [
            written(column.headings(habits)[0][1], flat[column.fact], habits, flat)
            for column in sheet.columns
        ]


# --- CSV -------------------------------------------------------------------------------------


def csv_text(sheet: Sheet, document: RefitDocument | None, habits: Habits) -> str:
    """One sheet as CSV (RFC 4180). Cells that would be taken for formulas carry an apostrophe."""
    file = io.StringIO(newline="")
    writer = csv.writer(file)
    for row in _rows(sheet, document, habits):
        writer.writerow([guarded(cell) for cell in row])
    return file.getvalue()


def csv_files(document: RefitDocument) -> bytes:
    """A zip with one CSV file a sheet."""
    return _zipped(document, habits_of(document), notes=False)


def csv_template(habits: Habits) -> bytes:
    """A zip with one empty CSV file a sheet, and what the columns mean in ``notes.txt``."""
    return _zipped(None, habits, notes=True)


def _zipped(document: RefitDocument | None, habits: Habits, *, notes: bool) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for sheet in SHEETS:
            # The byte order mark tells spreadsheet programs that this is UTF-8.
            text = "\ufeff" + csv_text(sheet, document, habits)
            archive.writestr(_entry(f"{sheet.kind}.csv"), text)
        if notes:
            archive.writestr(_entry(f"{NOTES}.txt"), "\n\n".join([*RULES, columns_as_markdown()]))
    return file.getvalue()


def _entry(name: str) -> zipfile.ZipInfo:
    """A fixed date: the same refit gives the same bytes."""
    entry = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
    entry.compress_type = zipfile.ZIP_DEFLATED
    return entry


# --- Excel -----------------------------------------------------------------------------------


def workbook(document: RefitDocument) -> bytes:
    """The refit as an Excel workbook, one sheet a kind, with the notes as the last."""
    return _workbook(document, habits_of(document))


def workbook_template(habits: Habits) -> bytes:
    """The workbook without rows; each heading explains itself, examples stand in the notes."""
    return _workbook(None, habits)


def _workbook(document: RefitDocument | None, habits: Habits) -> bytes:
    book = Workbook()
    book.remove(book.worksheets[0])
    for sheet in SHEETS:
        _fill(book.create_sheet(sheet.kind), sheet, document, habits)
    _fill_notes(book.create_sheet(NOTES), habits)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def _fill(page: Worksheet, sheet: Sheet, document: RefitDocument | None, habits: Habits) -> None:
    for number, row in enumerate(_rows(sheet, document, habits), 1):
        for place, text in enumerate(row, 1):
            if text:
                _put(page, number, place, text)
    for place, column in enumerate(sheet.columns, 1):
        heading = page.cell(1, place)
        heading.font = Font(bold=True)
        _, cell = column.headings(habits)[0]
        must = " Must not be empty." if column.required else ""
        comment = Comment(f"{column.meaning}{must}\n{cell.how}", "refit", height=90, width=260)
        heading.comment = comment
        letter = get_column_letter(place)
        page.column_dimensions[letter].width = max(12, len(column.name) + 3)
        # Text, so that no spreadsheet program turns codes and durations into numbers or dates.
        page.column_dimensions[letter].number_format = "@"
    page.freeze_panes = "B2"


def _put(page: Worksheet, row: int, column: int, text: str) -> None:
    """Text, whatever it looks like: a leading = is no formula."""
    cell = page.cell(row, column)
    cell.value = text[:MOST_TEXT]
    cell.data_type = "s"
    cell.number_format = "@"


def _fill_notes(page: Worksheet, habits: Habits) -> None:
    for number, rule in enumerate(RULES, 1):
        _put(page, number, 1, rule)
    first = len(RULES) + 2
    heads = ("sheet", "column", "must be given", "meaning", "how to write it", "example")
    for place, head in enumerate(heads, 1):
        _put(page, first, place, head)
        page.cell(first, place).font = Font(bold=True)
    number = first
    for sheet in SHEETS:
        for column in sheet.columns:
            number += 1
            name, cell = column.headings(habits)[0]
            must = "yes" if column.required else ""
            row = (sheet.kind, name, must, column.meaning, cell.how, column.example)
            for place, text in enumerate(row, 1):
                _put(page, number, place, text)
                page.cell(number, place).alignment = Alignment(vertical="top", wrap_text=place > 3)
    for letter, width in zip("ABCDEF", (14, 18, 14, 48, 48, 34), strict=True):
        page.column_dimensions[letter].width = width


# --- documentation ---------------------------------------------------------------------------


def columns_as_markdown() -> str:
    """The columns of all sheets as Markdown tables, for the manual."""
    parts = []
    for sheet in SHEETS:
        keys = " and ".join(
            f"**{column.name}**" for column in sheet.columns if column.fact in sheet.keys
        )
        lines = [
            f"### {sheet.kind}",
            "",
            f"A row is found again by {keys}. {sheet.about}".strip(),
            "",
        ]
        lines += ["| column | meaning | how to write it | example |", "|---|---|---|---|"]
        for column in sheet.columns:
            name = f"**{column.name}** (needed)" if column.required else column.name
            example = f"`{column.example}`" if column.example else ""
            lines.append(f"| {name} | {column.meaning} | {column.cell.how} | {example} |")
        parts.append("\n".join(lines))
    return "\n\n".join(parts) + "\n"

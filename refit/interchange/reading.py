"""Files of sheets to tables of text: CSV, several CSV in a zip, Excel workbooks.

Here: encodings, separators, caps against files that unpack into more than they seem, which sheet
is which. Not here: what the cells mean (`refit.interchange.merging`).
"""

from __future__ import annotations

import csv
import io
import re
import warnings
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from openpyxl import load_workbook

from .columns import BY_KIND, SHEETS
from .schema import did_you_mean
from .sheet import Sheet

MOST_BYTES = 5 * 1024 * 1024
MOST_UNPACKED = 50 * 1024 * 1024
MOST_ENTRIES = 200
MOST_RATIO = 100
"""Unpacked to packed, asked above a megabyte. An export of 2,000 packages that differ only in
their code measured 14 as a workbook and 18 as CSV."""
MOST_CELLS = 300_000
"""Cells and shared texts of a workbook: reading 1.5 million of them took 27 s and 290 MB."""
MOST_ROWS = 5000
MOST_COLUMNS = 80
NOTES = "notes"
"""The sheet of a template that explains the others; never read."""


class SheetError(Exception):
    """The files cannot be taken in. ``problems`` are all the reasons."""

    def __init__(self, problems: list[SheetProblem]) -> None:
        self.problems = problems
        super().__init__("\n".join(problem.sentence for problem in problems))


@dataclass(frozen=True)
class SheetProblem:
    """What is wrong, and where: a sheet, a row as a spreadsheet counts them, a column."""

    sheet: str
    text: str
    row: int | None = None
    column: str = ""

    @property
    def at(self) -> str:
        """“packages, row 7, column “likely””."""
        parts = [self.sheet]
        if self.row is not None:
            parts.append(f"row {self.row}")
        if self.column:
            parts.append(f"column “{self.column}”")
        return ", ".join(parts)

    @property
    def sentence(self) -> str:
        return f"{self.at}: {self.text}"


@dataclass
class Table:
    """One sheet as text. ``rows``: the number of each row that is not empty, and its cells."""

    kind: str
    headings: list[str]
    rows: list[tuple[int, list[str]]]


@dataclass
class Tables:
    """All that was uploaded together. ``unread``: sheets of a workbook that are none of ours."""

    tables: list[Table] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)

    def as_json(self) -> dict[str, Any]:
        return {
            "tables": [[table.kind, table.headings, table.rows] for table in self.tables],
            "unread": self.unread,
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Tables:
        return cls(
            [
                Table(kind, headings, [(number, cells) for number, cells in rows])
                for kind, headings, rows in data["tables"]
            ],
            data["unread"],
        )


def read_files(files: Iterable[tuple[str, bytes]]) -> Tables:
    """The tables in ``files``, given by name and content. Raises `SheetError` with everything
    that keeps them from being read as tables."""
    found = Tables()
    problems: list[SheetProblem] = []
    for name, content in files:
        try:
            _read_file(name, content, found)
        except SheetError as error:
            problems += error.problems
    seen: set[str] = set()
    for table in found.tables:
        if table.kind in seen:
            problems.append(SheetProblem(table.kind, "There are two sheets or files of this kind."))
        seen.add(table.kind)
    if not found.tables and not problems:
        problems.append(SheetProblem("files", f"There is no sheet in them. {_WANTED}"))
    if problems:
        raise SheetError(problems)
    return found


_WANTED = f"Sheets and files are called {', '.join(sheet.kind for sheet in SHEETS)}."


def _refuse(name: str, text: str) -> SheetError:
    return SheetError([SheetProblem(name[:80] or "file", text)])


def _read_file(name: str, content: bytes, found: Tables) -> None:
    if len(content) > MOST_BYTES:
        raise _refuse(name, "The file is larger than 5 MB.")
    if not content.startswith(b"PK"):
        if content.startswith(b"\xd0\xcf\x11\xe0"):
            raise _refuse(name, "This is an old Excel workbook; save it as .xlsx.")
        found.tables.append(_read_csv(name, content))
        return
    archive = _opened(name, content)
    if "[Content_Types].xml" in archive.namelist():
        _read_workbook(name, content, archive, found)
        return
    for entry in archive.infolist():
        if entry.filename.lower().endswith(".csv"):
            if entry.file_size > MOST_BYTES:
                raise _refuse(entry.filename, "The file is larger than 5 MB.")
            found.tables.append(_read_csv(entry.filename, _unpacked(name, archive, entry)))


def _opened(name: str, content: bytes) -> zipfile.ZipFile:
    """The archive, if it unpacks into no more than it should."""
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError):
        raise _refuse(name, "The file is damaged: it cannot be unpacked.") from None
    entries = archive.infolist()
    unpacked = sum(entry.file_size for entry in entries)
    if len(entries) > MOST_ENTRIES:
        raise _refuse(name, f"The file has more than {MOST_ENTRIES} parts inside.")
    if unpacked > MOST_UNPACKED or (
        unpacked > 1024 * 1024 and unpacked > MOST_RATIO * len(content)
    ):
        raise _refuse(name, "The file unpacks into far more than it should.")
    return archive


def _unpacked(name: str, archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    try:
        return archive.read(entry)
    except Exception:
        raise _refuse(name, f"The file is damaged: {entry.filename} cannot be unpacked.") from None


# --- CSV -------------------------------------------------------------------------------------


def _read_csv(name: str, content: bytes) -> Table:
    text = _decoded(name, content)
    first, offset = 1, 0
    if match := re.match(r"sep=(.)\r?\n", text):
        separator, offset, first = match[1], match.end(), 2
    else:
        separator = _separator(text)
    reader = csv.reader(io.StringIO(text[offset:], newline=""), delimiter=separator)
    try:
        numbered = [
            (number, [unguarded(cell) for cell in row]) for number, row in enumerate(reader, first)
        ]
    except csv.Error as error:
        raise _refuse(name, f"The file is no CSV: {error}.") from None
    return _table(name, re.sub(r"(?i)\.(csv|txt|tsv)$", "", name.rpartition("/")[2]), numbered)


def _decoded(name: str, content: bytes) -> str:
    encoding = "utf-16" if content[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        return content.decode(encoding)
    except UnicodeDecodeError:
        raise _refuse(
            name, "The file is neither an Excel workbook nor text in UTF-8; save it as one of them."
        ) from None


def _separator(text: str) -> str:
    """Comma, semicolon or tab: the one that gives the heading row most headings of ours."""

    def known(separator: str) -> int:
        try:
            row = next(csv.reader(io.StringIO(text[:10_000], newline=""), delimiter=separator), [])
        except csv.Error:
            return 0
        return sum(_plain_heading(cell) in _ALL_HEADINGS for cell in row)

    return max(",;\t", key=known)


_ALL_HEADINGS = {
    name.casefold() for sheet in SHEETS for column in sheet.columns for name in column.names
}

_FORMULA = "=+-@\t\r\x00"


def guarded(cell: str) -> str:
    """A cell that a spreadsheet would take for a formula, with an apostrophe before it."""
    return f"'{cell}" if cell.lstrip("'")[:1] in tuple(_FORMULA) else cell


def unguarded(cell: str) -> str:
    """`guarded`, taken back."""
    guards = cell.startswith("'") and cell.lstrip("'")[:1] in tuple(_FORMULA)
    return cell[1:] if guards else cell


# --- Excel -----------------------------------------------------------------------------------


def _read_workbook(name: str, content: bytes, archive: zipfile.ZipFile, found: Tables) -> None:
    has_formulas, cells = False, 0
    for entry in archive.infolist():
        part = _unpacked(name, archive, entry)
        if b"<!DOCTYPE" in part or b"<!ENTITY" in part:
            raise _refuse(name, "The file is no workbook that a spreadsheet program wrote.")
        has_formulas = has_formulas or b"<f>" in part or b"<f " in part
        cells += sum(part.count(mark) for mark in (b"<c ", b":c ", b"<si", b":si"))
        if cells > MOST_CELLS:
            raise _refuse(name, f"The workbook has more than {MOST_CELLS:,} cells.")
    try:
        sheets = list(_cells(content, values=True))
        formulas = dict(_cells(content, values=False)) if has_formulas else {}
    except SheetError:
        raise
    except Exception:
        # openpyxl lets whatever it stumbles over escape: KeyError, TypeError, ParseError …
        raise _refuse(name, "The file cannot be read as an Excel workbook.") from None
    known = [title for title, _ in sheets if _kind(title) is not None]
    for title, rows in sheets:
        if title.strip().casefold() == NOTES:
            continue
        hint = did_you_mean(title, BY_KIND)
        if _kind(title) is None and hint:
            raise _refuse(title, f"No sheet has this name.{hint}")
        if _kind(title) is None and (known or len(sheets) > 1):
            found.unread.append(title)
            continue
        numbered = []
        for number, row in enumerate(rows, 1):
            asked = formulas.get(title, [])
            _refuse_errors(title, number, row, asked[number - 1] if number <= len(asked) else [])
            numbered.append((number, [_as_text(cell) for cell in row]))
        found.tables.append(_table(title, title, numbered))


def _cells(content: bytes, *, values: bool) -> Iterator[tuple[str, list[list[Any]]]]:
    """Title and rows of each worksheet; with ``values`` results of formulas, else their text."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=values)
    try:
        for sheet in book.worksheets:
            sheet.reset_dimensions()
            rows = sheet.iter_rows(max_row=MOST_ROWS + 2, max_col=MOST_COLUMNS + 1)
            yield sheet.title, [[_value(cell) for cell in row] for row in rows]
    finally:
        book.close()


def _value(cell: Any) -> Any:
    """The value of a cell; a day that is shown without a time of day is a day alone."""
    value = cell.value
    if isinstance(value, datetime) and value.time() == time(0):
        return value if "h" in str(cell.number_format).casefold() else value.date()
    return value


_ERRORS = ("#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A")


def _refuse_errors(title: str, number: int, row: list[Any], formulas: list[Any]) -> None:
    for index, cell in enumerate(row):
        formula = formulas[index] if index < len(formulas) else None
        is_formula = isinstance(formula, str) and formula.startswith("=")
        if cell in _ERRORS:
            raise SheetError([SheetProblem(title, f"A cell holds the error {cell}.", number)])
        if cell is None and is_formula:
            raise SheetError(
                [
                    SheetProblem(
                        title,
                        "A cell holds a formula without a result; put in the result itself.",
                        number,
                    )
                ]
            )


def _as_text(cell: Any) -> str:
    """What somebody would have typed for the value of an Excel cell."""
    match cell:
        case None:
            return ""
        case bool():
            return "yes" if cell else "no"
        case float() | Decimal():
            # Excel keeps 15 digits; more of them are noise of the binary fraction.
            return format(Decimal(format(cell, ".15g")), "f")
        case datetime():
            rounded = (cell + timedelta(microseconds=500_000)).replace(microsecond=0)
            return rounded.isoformat(" ", "seconds" if rounded.second else "minutes")
        case date():
            return cell.isoformat()
        case time():
            return cell.isoformat("seconds" if cell.second else "minutes")
        case timedelta():
            minutes = round(cell.total_seconds() / 60)
            return f"{minutes // 60}:{minutes % 60:02}"
    return str(cell)


# --- tables ----------------------------------------------------------------------------------


def _plain_heading(text: str) -> str:
    return re.sub(r"\s+", " ", text.strip().rstrip("*").strip()).casefold()


def _kind(title: str) -> str | None:
    """“packages”, “Packages (2)”, “packages-old 3” are all packages; None if it says nothing."""
    word = re.match(r"[a-z]*", title.strip().casefold())
    return word[0] if word and word[0] in BY_KIND else None


def _kind_by_headings(headings: list[str]) -> str | None:
    """The sheet that has all these headings and whose required ones are all here."""
    given = set(filter(None, headings))

    def fits(sheet: Sheet) -> bool:
        names = {name.casefold() for column in sheet.columns for name in column.names}
        needed = {column.name for column in sheet.columns if column.required}
        return given <= names and needed <= given

    fitting = [sheet.kind for sheet in SHEETS if fits(sheet)]
    return fitting[0] if len(fitting) == 1 else None


def _table(name: str, title: str, numbered: list[tuple[int, list[str]]]) -> Table:
    filled = [(number, texts) for number, cells in numbered if (texts := _plain_texts(cells))]
    if not filled:
        raise _refuse(name, "There is nothing in it, not even headings.")
    headings = [_plain_heading(cell) for cell in filled[0][1]]
    kind = _kind(title) or _kind_by_headings(headings)
    if kind is None:
        raise _refuse(name, f"Neither its name nor its headings say what it holds. {_WANTED}")
    if len(filled) - 1 > MOST_ROWS or filled[-1][0] > MOST_ROWS + 1:
        raise _refuse(kind, f"There are more than {MOST_ROWS} rows.")
    if any(len(cells) > MOST_COLUMNS for _, cells in filled):
        raise _refuse(kind, f"There are more than {MOST_COLUMNS} columns.")
    return Table(kind, headings, filled[1:])


def _plain_texts(cells: list[str]) -> list[str]:
    """Without blanks around them, Windows line ends, empty cells at the end."""
    texts = [cell.replace("\r\n", "\n").replace("\r", "\n").strip() for cell in cells]
    while texts and not texts[-1]:
        texts.pop()
    return texts

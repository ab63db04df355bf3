"""Sheets for tests: files as people upload them, and a refit to take them in."""

from __future__ import annotations

import csv
import io
from typing import Any

from openpyxl import Workbook

from refit.interchange.changes import import_sheets
from refit.interchange.document import check_document
from refit.interchange.reading import SheetError, Tables, read_files
from refit.interchange.store import import_document
from refit.work.models import JournalEntry, Refit
from tests.builders import A_MANAGER, NOW

from .documents import a_document

Rows = list[list[Any]]


def the_refit(**changes: Any) -> Refit:
    """The refit of `a_document`: two places, one vendor, two pieces, two packages."""
    return import_document(check_document(a_document(**changes)), actor=A_MANAGER, now=NOW)


def as_csv(*rows: list[str], separator: str = ",") -> bytes:
    file = io.StringIO(newline="")
    csv.writer(file, delimiter=separator).writerows(rows)
    return file.getvalue().encode()


def as_xlsx(**sheets: Rows) -> bytes:
    book = Workbook()
    book.remove(book.worksheets[0])
    for title, rows in sheets.items():
        page = book.create_sheet(title)
        for row in rows:
            page.append(row)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def take_in(refit: Refit, *files: tuple[str, bytes]) -> JournalEntry | None:
    return import_sheets(refit=refit, tables=read_files(files), actor=A_MANAGER, now=NOW)


def said_about(refit: Refit, *files: tuple[str, bytes]) -> list[str]:
    """The sentences with which the files are refused."""
    try:
        take_in(refit, *files)
    except SheetError as error:
        return [problem.sentence for problem in error.problems]
    return []


def tables_of(*files: tuple[str, bytes]) -> Tables:
    return read_files(files)

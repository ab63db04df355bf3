"""Tables of text laid over a refit document: the document as it would be, what changes, what is
wrong.

A row whose key is in the refit already changes that row; any other is new; nothing is removed.
A column that a table does not have leaves its facts alone; an empty cell empties the fact. A cell
that says what an export would have written leaves the fact exactly as it is.
"""

from __future__ import annotations

import copy
import re
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any, cast
from zoneinfo import ZoneInfo

from refit.work.wording import say_typed

from .cells import Cell, CellError, Habits, Row
from .columns import BY_KIND, SHEETS
from .columns_work import PACKAGES, PIECES
from .document import RefitDocument, document_problems
from .flat import flatten, unflatten
from .reading import SheetProblem, Table, Tables
from .rules import is_elsewhere, move_objections, package_objections
from .schema import Problem, did_you_mean, the_schema, utc
from .sheet import Column, Sheet

MOST_TEXT = 32_767
"""Characters that a cell of an Excel workbook holds."""


@dataclass(frozen=True)
class Difference:
    column: str
    before: str
    after: str


@dataclass
class Changes:
    """What one table does: rows that are new, rows that change and how, rows that stay."""

    sheet: Sheet
    new: list[tuple[str, list[Difference]]] = field(default_factory=list)
    changed: list[tuple[str, list[Difference]]] = field(default_factory=list)
    same: int = 0

    @property
    def new_names(self) -> list[str]:
        return [name for name, _ in self.new]


@dataclass
class Merged:
    document: RefitDocument
    changes: list[Changes]
    problems: list[SheetProblem]
    hints: list[str]

    @property
    def anything(self) -> bool:
        return any(one.new or one.changed for one in self.changes)


def habits_of(document: RefitDocument) -> Habits:
    refit = document["refit"]
    return Habits(ZoneInfo(refit["time_zone"]), Decimal(refit["hours_a_day"]), refit["units"])


def written(cell: Cell, value: Any, habits: Habits, row: Row) -> str:
    """What an export writes into a cell, without characters that no spreadsheet takes."""
    text = cell.write(value, habits, row)
    kept = (c for c in text.replace("\r\n", "\n").replace("\r", "\n") if c >= " " or c in "\n\t")
    return "".join(kept)


def merge(document: RefitDocument, tables: Tables, *, now: datetime) -> Merged:
    """``document`` with the tables laid over it; it is not changed itself.

    ``now`` is when a piece that a table moves got where it is, if the table does not say.
    """
    merging = _Merging(document, now)
    order = [sheet.kind for sheet in SHEETS]
    for table in sorted(tables.tables, key=lambda table: order.index(table.kind)):
        merging.lay(table)
    merging.fold()
    merging.check()
    return Merged(
        cast(RefitDocument, merging.after), merging.changes, merging.problems, merging.hints()
    )


class _Merging:
    """One merge at work: the rows being built, and which row of which table each came from."""

    def __init__(self, document: RefitDocument, now: datetime) -> None:
        self.now = utc(now.replace(second=0, microsecond=0))
        self.before = document
        self.after: Row = copy.deepcopy(cast(Row, document))
        self.habits = habits_of(document)
        self.bookings = {row["package"]: cast(Row, row) for row in document["bookings"]}
        self.flat: dict[str, list[Row]] = {
            sheet.kind: [
                flatten(sheet, row, self.bookings.get(row.get("code", "")))
                for row in self.after[sheet.kind]
            ]
            for sheet in SHEETS
        }
        self.blank = {sheet.kind: _blank(sheet) for sheet in SHEETS}
        self.problems: list[SheetProblem] = []
        self.changes: list[Changes] = []
        self.came_from: dict[tuple[str, int], int] = {}
        """Row of the document, by list and index: number of its row in the table."""
        self.same: set[tuple[str, int]] = set()
        self.spoiled: set[tuple[str, int]] = set()
        """Rows with a cell that cannot be read: nothing more is said about them."""

    # --- one table ---------------------------------------------------------------------------

    def lay(self, table: Table) -> None:
        sheet = BY_KIND[table.kind]
        columns = self._columns(sheet, table)
        if columns is None:
            return
        changes = Changes(sheet)
        self.changes.append(changes)
        rows = self.flat[sheet.kind]
        index_of = {self._key(sheet, row): index for index, row in enumerate(rows)}
        for number, cells in table.rows:
            typed = {
                column.fact: (column, cell, cells[at].strip() if at < len(cells) else "")
                for at, column, cell in columns
            }
            self._extra_cells(sheet, number, cells, table.headings)
            key = self._typed_key(sheet, typed)
            index = index_of.get(key) if key else None
            if index is not None and (sheet.kind, index) in self.came_from:
                first = self.came_from[sheet.kind, index]
                text = f"Row {first} is the same {sheet.one} already."
                self.problems.append(SheetProblem(sheet.kind, text, number, sheet.columns[0].name))
                continue
            old = None if index is None else rows[index]
            row = copy.deepcopy(self.blank[sheet.kind] if old is None else old)
            sound, differences = self._fill(sheet, number, row, old, typed)
            if index is None:
                index = len(rows)
                rows.append(row)
                if key:
                    index_of[key] = index
                changes.new.append((sheet.called(row), differences))
            else:
                rows[index] = row
                if differences:
                    changes.changed.append((sheet.called(row), differences))
                elif sound:
                    changes.same += 1
                    self.same.add((sheet.kind, index))
            self.came_from[sheet.kind, index] = number
            if not sound:
                self.spoiled.add((sheet.kind, index))

    def _columns(self, sheet: Sheet, table: Table) -> list[tuple[int, Column, Cell]] | None:
        """The columns that the table has, by position; None if its headings are wrong."""
        headings = {
            name.casefold(): (column, cell)
            for column in sheet.columns
            for name, cell in column.headings(self.habits)
        }
        found: list[tuple[int, Column, Cell]] = []
        wrong: list[str] = []
        for at, heading in enumerate(table.headings):
            if not heading:
                continue
            if heading not in headings:
                hint = did_you_mean(heading, headings)
                wrong.append(f"There is no column “{heading[:60]}”.{hint}")
                continue
            column, cell = headings[heading]
            if any(column is other for _, other, _ in found):
                wrong.append(f"Two columns are “{column.name}”.")
            found.append((at, column, cell))
        here = {column.fact for _, column, _ in found}
        missing = [
            f"“{column.name}”"
            for column in sheet.columns
            if column.fact in sheet.keys and column.required and column.fact not in here
        ]
        if missing:
            wrong.append(f"The column {' and the column '.join(missing)} is missing.")
        self.problems += [SheetProblem(sheet.kind, text) for text in wrong]
        if wrong:
            return None
        # In the order of the declaration: a cell may look at what stands to its left there.
        order = {column.fact: place for place, column in enumerate(sheet.columns)}
        return sorted(found, key=lambda one: order[one[1].fact])

    def _extra_cells(
        self, sheet: Sheet, number: int, cells: list[str], headings: list[str]
    ) -> None:
        for at, cell in enumerate(cells):
            if cell and (at >= len(headings) or not headings[at]):
                text = f"{say_typed(cell)} stands under no heading."
                self.problems.append(SheetProblem(sheet.kind, text, number))
                return

    def _typed_key(self, sheet: Sheet, typed: dict[str, tuple[Column, Cell, str]]) -> Any:
        key = []
        for fact in sheet.keys:
            column, cell, text = typed.get(fact, (None, None, ""))
            if column is None or cell is None or not text:
                if any(one.fact == fact and one.required for one in sheet.columns):
                    return None
                key.append(self.blank[sheet.kind][fact])
                continue
            try:
                key.append(cell.read(text, self.habits, {}))
            except CellError:
                return None
        return tuple(key)

    def _key(self, sheet: Sheet, row: Row) -> tuple[Any, ...]:
        return tuple(row[fact] for fact in sheet.keys)

    def _fill(
        self,
        sheet: Sheet,
        number: int,
        row: Row,
        old: Row | None,
        typed: dict[str, tuple[Column, Cell, str]],
    ) -> tuple[bool, list[Difference]]:
        """Read the cells into ``row``. Whether all could be read, and what differs from before
        (of a new row: from an empty one)."""
        sound, differences = True, []
        for column in sheet.columns:
            given = typed.get(column.fact)
            if given is None:
                if old is None and (column.required or column.like):
                    sound = self._missing(sheet, number, row, column) and sound
                elif old is not None and column.like and old[column.fact] == old[column.like]:
                    # A package with one working time for all keeps one when that changes.
                    differences += self._follow(column, row, old)
                continue
            _, cell, text = given
            before = "" if old is None else written(cell, old[column.fact], self.habits, old)
            if old is not None and text in (before.strip(), before[:MOST_TEXT].strip()):
                continue
            try:
                value = (
                    cell.read(text, self.habits, row) if text else self._empty(column, row, sheet)
                )
            except CellError as error:
                self.problems.append(SheetProblem(sheet.kind, str(error), number, column.name))
                sound = False
                continue
            row[column.fact] = value
            if value != (self.blank[sheet.kind] if old is None else old)[column.fact]:
                after = written(cell, value, self.habits, row)
                differences.append(Difference(column.name, before, after))
        if differences or old is None:
            sound = self._rules(sheet, number, row, old) and sound
        return sound, differences

    def _missing(self, sheet: Sheet, number: int, row: Row, column: Column) -> bool:
        try:
            row[column.fact] = self._empty(column, row, sheet)
        except CellError as error:
            self.problems.append(SheetProblem(sheet.kind, str(error), number, column.name))
            return False
        return True

    def _follow(self, column: Column, row: Row, old: Row) -> list[Difference]:
        if row[column.like] == old[column.fact]:
            return []
        row[column.fact] = row[column.like]
        before, after = (
            column.cell.write(one[column.fact], self.habits, one) for one in (old, row)
        )
        return [Difference(column.name, before, after)]

    def _empty(self, column: Column, row: Row, sheet: Sheet) -> Any:
        """What an empty cell of the column means."""
        if column.required:
            raise CellError("It must not be empty.")
        if column.like:
            return row[column.like]
        return copy.deepcopy(self.blank[sheet.kind][column.fact])

    def _rules(self, sheet: Sheet, number: int, row: Row, old: Row | None) -> bool:
        """Whether the row keeps the rules that the document itself does not have."""
        told = []
        if sheet is PACKAGES:
            owners = {place["name"]: place["vendor"] for place in self.flat["places"]}
            told = list(package_objections(row, owners, self.habits))
        elif sheet is PIECES and old is not None and is_elsewhere(row, old):
            told = list(move_objections(row, self.before["handoffs"]))
            if not told and row["since"] == old["since"]:
                row["since"] = self.now
        self.problems += [SheetProblem(sheet.kind, text, number, column) for column, text in told]
        return not told

    # --- the whole document ------------------------------------------------------------------

    def fold(self) -> None:
        """Put the rows that the tables touched back into the document."""
        for kind, index in self.came_from:
            sheet, flat = BY_KIND[kind], self.flat[kind][index]
            row, booking = unflatten(sheet, flat)
            rows = self.after[kind]
            if index < len(rows):
                rows[index] = row
            else:
                rows.append(row)
            if (kind, index) in self.spoiled:
                continue
            if sheet is PACKAGES and booking:
                self.bookings[row["code"]] = booking
            elif sheet is PACKAGES:
                self.bookings.pop(row["code"], None)
        self.after["bookings"] = list(self.bookings.values())

    def check(self) -> None:
        """Ask the document for what is wrong with it, and say so where it was typed."""
        beside: list[str] = []
        for problem in document_problems(self.after):
            kind, index, prop, *_ = (*problem.path, None, None, None)
            row = str(kind), index if isinstance(index, int) else -1
            number = self.came_from.get(row)
            if row in self.spoiled:
                continue
            if number is not None and row not in self.same:
                sheet = BY_KIND[str(kind)]
                self.problems.append(_in_the_sheet(sheet, number, str(prop or ""), problem))
            else:
                beside.append(problem.sentence)
        if beside:
            # What was wrong in the refit before is no reason to refuse a sheet.
            before = {one.sentence for one in document_problems(self.before)}
            self.problems += [SheetProblem("refit", text) for text in beside if text not in before]
        order = [sheet.kind for sheet in SHEETS]
        self.problems.sort(
            key=lambda one: (order.index(one.sheet) if one.sheet in order else -1, one.row or 0)
        )

    def hints(self) -> list[str]:
        """What is allowed but probably not meant."""
        closed = [
            row["name"]
            for index, row in enumerate(self.after["places"])
            if not row["hours"] and ("places", index) in self.came_from
        ]
        return [
            f"{name} has no opening hours: nothing can be planned there until it has."
            for name in closed
        ]


def _blank(sheet: Sheet) -> Row:
    """A flat row with every default; what a table must give is None or empty."""
    row: Row = {
        name: copy.deepcopy(inner.get("default", "" if inner.get("type") == "string" else None))
        for name, inner in the_schema()["$defs"][sheet.row]["properties"].items()
    }
    return flatten(sheet, row)


def _in_the_sheet(sheet: Sheet, number: int, prop: str, problem: Problem) -> SheetProblem:
    """The problem in the words of the sheet: its columns instead of properties."""
    text = problem.text
    for column in sheet.columns:
        if "_" in column.belongs_to:
            text = re.sub(rf"\b{column.belongs_to}\b", f"“{column.name}”", text)
    name = next((one.name for one in sheet.columns if one.belongs_to == prop), "")
    return SheetProblem(sheet.kind, text[:1].upper() + text[1:], number, name)

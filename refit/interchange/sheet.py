"""What a sheet and a column are.

Here: the two types and what can be asked of them. Not here: which sheets and columns there are
(`refit.interchange.columns`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from .cells import Cell, Habits, Row


@dataclass(frozen=True)
class Column:
    """``fact``: its name in a flat row. ``of``: the property of the document that it belongs to.
    ``like``: an empty cell means the value of this other fact. ``us``: how it reads in a refit
    that shows feet and pounds."""

    name: str
    fact: str
    cell: Cell
    meaning: str
    example: str = ""
    required: bool = False
    of: str = ""
    like: str = ""
    us: tuple[str, Cell] | None = None

    @property
    def belongs_to(self) -> str:
        return self.of or self.fact

    def headings(self, habits: Habits) -> list[tuple[str, Cell]]:
        """What may stand above it, the usual one of this refit first."""
        both = [(self.name, self.cell), *([self.us] if self.us else [])]
        return both[::-1] if habits.units == "us" else both

    @cached_property
    def names(self) -> list[str]:
        return [self.name, *([self.us[0]] if self.us else [])]


@dataclass(frozen=True)
class Sheet:
    """``kind``: the list of the document; ``keys``: the facts by which a row is found again."""

    kind: str
    one: str
    row: str
    keys: tuple[str, ...]
    columns: tuple[Column, ...]
    about: str = ""

    def called(self, row: Row) -> str:
        return " to ".join(str(row[key]) for key in self.keys[:2])

"""What `check` says and the plain counting it uses: opening hours walked span by span.

Kept apart from `calendars` and everything that makes plans on purpose: a mistake there must not
be able to hide here.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import islice

from .problem import Minutes, Package, Planned, Problem

Spans = tuple[tuple[Minutes, Minutes], ...]


class Rule(StrEnum):
    """What a breach is a breach of."""

    DATED_ONCE = "every package is dated once"
    WORK = "work fits the opening hours"
    HOLD = "the hold follows the work"
    PROGRESS = "what has happened is kept"
    NOT_BEFORE = "nothing starts too early"
    DEPENDENCY = "packages wait for each other"
    RESOURCE = "a resource is not used twice"
    PIECE = "a piece is in one place"
    SHORTFALL = "what is missed is declared, and only that"
    MOVE = "the moves follow from the dates"


@dataclass(frozen=True, slots=True)
class Breach:
    """Something in a plan that is not so; ``ids`` are packages, ``message`` one sentence."""

    rule: Rule
    ids: tuple[str, ...]
    message: str


@dataclass(frozen=True, slots=True)
class Case:
    """A problem and the dates to be checked, every package being dated once."""

    problem: Problem
    dates: dict[str, Planned]

    @property
    def packages(self) -> Iterator[tuple[Package, Planned]]:
        for package in self.problem.packages:
            yield package, self.dates[package.id]

    def spans(self, calendar: str) -> Spans:
        return next(c.spans for c in self.problem.calendars if c.id == calendar)

    def place_spans(self, place: str) -> Spans:
        return self.spans(next(p.calendar for p in self.problem.places if p.id == place))


def open_minutes(spans: Spans, start: Minutes, end: Minutes) -> Minutes:
    """Open minutes in ``[start, end)``."""
    first = max(0, bisect_left(spans, (start, start)) - 1)  # earlier ones are over by then
    minutes = 0
    for opens, closes in islice(spans, first, None):
        if opens >= end:
            break
        minutes += max(0, min(end, closes) - max(start, opens))
    return minutes


def is_open(spans: Spans, moment: Minutes) -> bool:
    return open_minutes(spans, moment, moment + 1) == 1


def first_way(
    origin: Spans, destination: Spans, travel: Minutes, ready: Minutes
) -> tuple[Minutes, Minutes] | None:
    """Earliest ``(depart, arrive)``: leaves before closing, arrives by closing."""
    for leave_opens, leave_closes in origin:
        if leave_closes <= ready:
            continue
        for opens, closes in destination:
            depart = max(ready, leave_opens, opens - travel)
            last = min(leave_closes - 1, closes - travel)
            if depart <= last:
                return depart, depart + travel
    return None


def last_way(
    origin: Spans, destination: Spans, travel: Minutes, needed: Minutes
) -> tuple[Minutes, Minutes] | None:
    """Latest ``(depart, arrive)`` that has arrived by ``needed``."""
    for leave_opens, leave_closes in reversed(origin):
        if leave_opens > needed:
            continue
        for opens, closes in reversed(destination):
            depart = min(leave_closes - 1, closes - travel, needed - travel)
            if depart >= max(leave_opens, opens - travel):
                return depart, depart + travel
    return None

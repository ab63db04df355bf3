"""When work can be done: the hours of each place, less the days on which people are away.

Here: which calendars a refit needs and how they are called. Not here: how weekly hours become
spans (`calendars`), and what packages do in them (`build`).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from refit.interchange.document import PackageRow, PlaceRow, RefitDocument
from refit.scheduling.problem import DAY, Minutes

from .calendars import (
    Clock,
    Horizon,
    Spans,
    UnknownHolidays,
    WeeklySpan,
    day_spans,
    days_between,
    public_holidays,
    unfold,
    without,
)
from .pieces import moment_of


class Opening:
    """The calendars of one refit, up to ``years`` from ``today``.

    ``obstacles``: what cannot be planned from, sentences with the codes of the packages concerned.
    ``always_open``: places without opening hours, where no work is done.
    """

    def __init__(self, document: RefitDocument, clock: Clock, today: date, years: int) -> None:
        self.document, self.clock = document, clock
        self.obstacles: list[tuple[str, list[str]]] = []
        self.always_open: set[str] = set()
        self.absences = {
            row["name"]: tuple(
                (date.fromisoformat(a["first_day"]), date.fromisoformat(a["last_day"]))
                for a in row["absences"]
            )
            for row in document["crew"]
        }
        self.horizon = self._horizon(today, years)
        self.calendars: dict[str, Spans] = {
            at_place(place["name"]): self._hours(place) for place in document["places"]
        }

    def of_package(self, row: PackageRow) -> str:
        """The place's hours, less the days on which somebody named is away; made on first use."""
        name = at_place(row["place"])
        away = sorted(person for person in row["people"] if self.absences.get(person))
        if not away or row["finished_at"] is not None:
            return name
        shared = f"{name} without {', '.join(away)}"
        if shared not in self.calendars:
            days = [days for person in away for days in self.absences[person]]
            self.calendars[shared] = without(self.calendars[name], day_spans(days, self.clock))
        return shared

    def gates(self, each_end: Minutes) -> dict[str, Spans]:
        """For each place, when pieces leave and reach it: a piece that arrives has been unloaded
        while it was open, one that leaves is loaded before it closes. Trips keep to the same.
        Without loading these are the hours of the places, and none is here."""
        found: dict[str, Spans] = {}
        if not each_end:
            return found
        for place in self.document["places"]:
            name = place["name"]
            spans = self.calendars[at_place(name)]
            if name not in self.always_open:
                spans = (
                    tuple(
                        (start + each_end, end - each_end)
                        for start, end in spans
                        if end - start > 2 * each_end
                    )
                    or spans
                )
            found[at_gate(name)] = spans
        return found

    def longest(self, calendar: str) -> Minutes:
        """The longest time for which it is open at a stretch."""
        return max((end - start for start, end in self.calendars[calendar]), default=0)

    def _horizon(self, today: date, years: int) -> Horizon:
        """From the first thing that happened to some years from today, in whole months so that
        unfolded hours can be used again."""
        start = date.fromisoformat(self.document["refit"]["start"])
        began = [start, today]
        for row in self.document["packages"]:
            started = moment_of(row["started_at"])
            if started is not None:
                began.append(started.astimezone(self.clock.zone).date())
        first, last = min(began), max(start, today)
        return Horizon(
            self.clock,
            date(first.year, first.month, 1),
            date(last.year + years, last.month, 1),
        )

    def _hours(self, place: PlaceRow) -> Spans:
        name = place["name"]
        week = tuple(_weekly_spans(place))
        if not week:
            waiting = [
                row["code"]
                for row in self.document["packages"]
                if row["place"] == name and row["finished_at"] is None
            ]
            if waiting:
                said = f"{name} has no opening hours; add them so that work there can be planned."
                self.obstacles.append((said, waiting))
            self.always_open.add(name)
            week = tuple((weekday, 0, DAY) for weekday in range(7))
        shut: set[date] = set()
        for row in place["closures"]:
            first, last = date.fromisoformat(row["first_day"]), date.fromisoformat(row["last_day"])
            shut.update(days_between(max(first, self.horizon.first), min(last, self.horizon.last)))
        try:
            shut |= public_holidays(
                place["holiday_country"],
                place["holiday_region"],
                self.horizon.first.year,
                self.horizon.last.year,
            )
        except UnknownHolidays as unknown:
            self.obstacles.append((f"{name}: {unknown}.", []))
        return unfold(week, frozenset(shut), self.horizon)


def at_gate(place: str) -> str:
    """The calendar in which pieces leave a place and reach it."""
    return f"gate of {place}"


def at_place(place: str) -> str:
    """The id of a place's calendar."""
    return f"hours of {place}"


def _weekly_spans(place: PlaceRow) -> Iterator[WeeklySpan]:
    for row in place["hours"]:
        closes = _minute_of_day(row["closes"]) or DAY
        yield row["weekday"], _minute_of_day(row["opens"]), closes


def _minute_of_day(text: str) -> Minutes:
    hours, minutes = text.split(":")[:2]
    return int(hours) * 60 + int(minutes)

"""The time axis: days to pixels, and what is written along it.

Time runs evenly by the refit's local clock; an hour lost or won by daylight saving is not drawn.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from refit.work.wording import say_day

from .rows import PlaceRow, Rows

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Tick:
    """A line in the ruler at ``x``; ``text`` "" is a line only."""

    x: float
    text: str


@dataclass(frozen=True, slots=True)
class Shade:
    """Closed from ``x`` for ``width``; ``reason`` "" is an ordinary day off of the week."""

    x: float
    width: float
    reason: str
    first_day: date
    last_day: date


@dataclass(frozen=True, slots=True)
class Scale:
    """``days`` days from the midnight that begins ``first``, each ``per_day`` pixels wide."""

    first: date
    days: int
    per_day: float
    zone: ZoneInfo

    @classmethod
    def of(cls, rows: Rows, *, width: float, days_in_sight: int | None) -> Scale:
        """So that ``days_in_sight`` days fill ``width``; None: the whole refit, if that leaves at
        least 8 pixels a day (below, a day's work cannot be seen)."""
        first, last = rows.bounds()
        days = (last - first).days + 1
        per_day = width / days_in_sight if days_in_sight else max(8.0, width / days)
        return cls(first, days, round(min(per_day, 64.0), 3), rows.zone)

    @property
    def width(self) -> float:
        return round(self.days * self.per_day, 1)

    def x(self, moment: datetime) -> float:
        """Pixels from the left edge, kept inside the picture."""
        local = moment.astimezone(self.zone).replace(tzinfo=None)
        since = local - datetime.combine(self.first, time(0))
        return min(max(since / timedelta(days=1) * self.per_day, 0.0), self.width)

    def x_of_day(self, day: date) -> float:
        return min(max((day - self.first).days * self.per_day, 0.0), self.width)

    def _dates(self) -> Iterator[date]:
        for number in range(self.days):
            yield self.first + timedelta(days=number)

    def months(self) -> tuple[Tick, ...]:
        return tuple(
            Tick(self.x_of_day(day), f"{MONTHS[day.month - 1]} {day.year}")
            for day in self._dates()
            if day.day == 1 or day == self.first
        )

    def month_names(self) -> tuple[Tick, ...]:
        """The months, and again every Monday where a week fills a good part of the screen."""
        again = self.per_day >= 44
        named = []
        for day in self._dates():
            if day.day == 1 or day == self.first or (again and day.weekday() == 0 and day.day > 3):
                named.append(Tick(self.x_of_day(day), f"{MONTHS[day.month - 1]} {day.year}"))
        return tuple(named)

    def weeks(self) -> tuple[Tick, ...]:
        """A line every Monday (the picture begins on one), its date where there is room; every
        day by name where a day is wide enough."""
        if self.per_day >= 44:
            return tuple(
                Tick(self.x_of_day(day), f"{say_day(day)[:3]} {day.day}") for day in self._dates()
            )
        mondays = [day for day in self._dates() if day.weekday() == 0]
        with_name = 7 * self.per_day >= 62
        return tuple(
            Tick(self.x_of_day(day), say_day(day) if with_name else say_day(day)[4:])
            for day in mondays
        )

    def shades(self, place: PlaceRow) -> tuple[Shade, ...]:
        """When the place is closed, in runs of days; a closure with a reason goes before a
        weekday on which it is never open."""
        runs: list[Shade] = []
        for day in self._dates():
            reason = next(
                (row.reason or "closed" for row in place.closed
                 if row.first_day <= day <= row.last_day),
                None,
            )  # fmt: skip
            if reason is None:
                if not place.open_weekdays or day.weekday() in place.open_weekdays:
                    continue
                reason = ""
            before = runs[-1] if runs else None
            if before and before.reason == reason and before.last_day == day - timedelta(days=1):
                runs.pop()
                runs.append(
                    Shade(before.x, before.width + self.per_day, reason, before.first_day, day)
                )
            else:
                runs.append(Shade(self.x_of_day(day), self.per_day, reason, day, day))
        return tuple(runs)

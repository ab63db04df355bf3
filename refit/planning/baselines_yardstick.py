"""How far the launch moved, in days that people count.

Working days and working time are those of the home place: ours, of kind home, or else the first
place of our own, by its hours and closures as they are entered now. All measures are differences
of one count, so parts add up to the whole exactly: the working days from Monday to Thursday are
those from Monday to Tuesday and from there on.
"""

from __future__ import annotations

from bisect import bisect_right
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from refit.scheduling.calendars import Hours
from refit.scheduling.problem import Calendar
from refit.work.models import Place, PlaceKind, Refit
from refit.work.wording import say_count

from .calendars import Clock, Horizon, UnknownHolidays, days_between, public_holidays, unfold

ALWAYS = tuple((weekday, 0, 1440) for weekday in range(7))


@dataclass(frozen=True)
class Distance:
    """From one moment to another; all negative or zero if the second comes first.

    ``elapsed`` and ``working`` in minutes, the others in days.
    """

    elapsed: int
    working: int
    working_days: int
    calendar_days: int

    def __add__(self, other: Distance) -> Distance:
        return Distance(
            self.elapsed + other.elapsed,
            self.working + other.working,
            self.working_days + other.working_days,
            self.calendar_days + other.calendar_days,
        )

    @property
    def is_later(self) -> bool:
        return self.elapsed > 0

    @property
    def said(self) -> str:
        """“3 working days later”; by calendar days or time where that is all it is."""
        if not self.elapsed:
            return "no change"
        direction = "later" if self.is_later else "earlier"
        if self.working_days:
            return f"{say_count(abs(self.working_days), 'working day')} {direction}"
        if self.calendar_days:
            days = say_count(abs(self.calendar_days), "day")
            return f"{days} {direction}, none of them a working day"
        hours, minutes = divmod(abs(self.elapsed), 60)
        parts = [f"{hours} h"] if hours else []
        parts += [f"{minutes} min"] if minutes else []
        return f"{' '.join(parts)} {direction}, the same day"


NOTHING = Distance(0, 0, 0, 0)


class Yardstick:
    """Measures between moments from ``first`` to ``last``. Three queries."""

    def __init__(self, refit: Refit, first: datetime, last: datetime) -> None:
        self.zone = refit.zone
        self.clock = Clock.of(refit.start, refit.zone)
        begins = self._day(min(first, last)) - timedelta(days=1)
        ends = self._day(max(first, last)) + timedelta(days=2)
        self.place = _home(refit)
        week, shut = _hours(self.place, begins, ends)
        spans = unfold(week, shut, Horizon(self.clock, begins, ends))
        self._open = Hours(Calendar("home", spans))
        weekdays = {weekday for weekday, _, _ in week}
        self._days = [
            day
            for day in days_between(begins, ends)
            if day.weekday() in weekdays and day not in shut
        ]

    def between(self, first: datetime, last: datetime) -> Distance:
        one, other = self._day(first), self._day(last)
        return Distance(
            elapsed=self.clock.minutes(last) - self.clock.minutes(first),
            working=self._counted(last) - self._counted(first),
            working_days=bisect_right(self._days, other) - bisect_right(self._days, one),
            calendar_days=(other - one).days,
        )

    def _day(self, moment: datetime) -> date:
        return moment.astimezone(self.zone).date()

    def _counted(self, moment: datetime) -> int:
        return self._open.counted(self.clock.minutes(moment))


def _home(refit: Refit) -> Place | None:
    ours = list(Place.objects.filter(refit=refit, vendor=None).order_by("name"))
    return next((one for one in ours if one.kind == PlaceKind.HOME), ours[0] if ours else None)


def _hours(
    place: Place | None, begins: date, ends: date
) -> tuple[tuple[tuple[int, int, int], ...], frozenset[date]]:
    """The week of the place and the days on which it is shut; always open without hours."""
    if place is None:
        return ALWAYS, frozenset()
    week = tuple(
        (row.weekday, _minute(row.opens), _minute(row.closes) or 1440) for row in place.hours.all()
    )
    shut: set[date] = set()
    for row in place.closures.all():
        shut.update(days_between(max(row.first_day, begins), min(row.last_day, ends)))
    with suppress(UnknownHolidays):  # planning says so already
        shut |= public_holidays(place.holiday_country, place.holiday_region, begins.year, ends.year)
    return week or ALWAYS, frozenset(shut)


def _minute(at: time) -> int:
    return at.hour * 60 + at.minute

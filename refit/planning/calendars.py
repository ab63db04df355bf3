"""Opening hours as people state them, unfolded into the spans that the planning core counts in.

Here: the clock of a refit (moments to minutes and back), weekly hours, closures, public holidays
and absences turned into spans, exact over changes of daylight saving. Not here: which package
uses which calendar (`build`), and any arithmetic of working time (``refit.scheduling``).

Minute 0 is the first midnight of the refit's first day in its zone. Minutes are minutes of UTC,
so a span over the night in which the clocks change is an hour longer or shorter than it looks.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import holidays

from refit.scheduling.problem import DAY, Minutes

Span = tuple[Minutes, Minutes]
Spans = tuple[Span, ...]
WeeklySpan = tuple[int, Minutes, Minutes]
"""Weekday (0 is Monday), opening and closing as local minutes of the day; 1440 is its end."""


class UnknownHolidays(ValueError):
    """A country or region of whose public holidays nothing is known; the message is a sentence."""


@dataclass(frozen=True, slots=True)
class Clock:
    """Translates between moments and the minutes of one refit's problem."""

    zone: ZoneInfo
    origin: datetime
    """Minute 0, in UTC."""

    @classmethod
    def of(cls, first_day: date, zone: ZoneInfo) -> Clock:
        return cls(zone, datetime.combine(first_day, time(), zone).astimezone(UTC))

    def minutes(self, moment: datetime) -> Minutes:
        """The last whole minute at or before ``moment``; may be negative."""
        return (moment - self.origin) // timedelta(minutes=1)

    def minutes_up(self, moment: datetime) -> Minutes:
        """The first whole minute at or after ``moment``: for what must not be undercut."""
        return -((self.origin - moment) // timedelta(minutes=1))

    def moment(self, minutes: Minutes) -> datetime:
        """Aware, in UTC."""
        return self.origin + timedelta(minutes=minutes)

    def local(self, minutes: Minutes) -> datetime:
        return self.moment(minutes).astimezone(self.zone)

    def midnight(self, day: date) -> Minutes:
        """The beginning of a local day."""
        return self.minutes(datetime.combine(day, time(), self.zone))


@lru_cache(maxsize=64)
def public_holidays(country: str, region: str, first: int, last: int) -> frozenset[date]:
    """The public holidays of the years ``first`` to ``last``; none for an empty country.

    ``country`` is an ISO 3166 code, ``region`` one of its subdivisions as the `holidays` library
    spells it, or empty. Raises UnknownHolidays.
    """
    if not country:
        return frozenset()
    try:
        found = holidays.country_holidays(
            country.upper(), subdiv=region or None, years=range(first, last + 1)
        )
    except NotImplementedError:
        raise UnknownHolidays(_unknown(country.upper(), region)) from None
    return frozenset(found)


def _unknown(country: str, region: str) -> str:
    regions = holidays.list_supported_countries().get(country)
    if regions is None:
        return (
            f"the public holidays of “{country}” are not known; write the country as two letters"
            " (PT, CA) or leave it empty"
        )
    if not regions:
        return f"{country} has no regions with public holidays of their own; leave the region empty"
    return (
        f"“{region}” is not a region of {country} whose public holidays are known; use one of"
        f" {', '.join(regions)}, or leave it empty"
    )


@dataclass(frozen=True, slots=True)
class Horizon:
    """The local days that are unfolded, ``first`` included, ``last`` not."""

    clock: Clock
    first: date
    last: date


@lru_cache(maxsize=256)
def unfold(week: tuple[WeeklySpan, ...], shut: frozenset[date], horizon: Horizon) -> Spans:
    """The open spans of a weekly pattern on all days of the horizon that are not ``shut``.

    A time that the clocks jump over is moved forward by as much as they jump; of one that comes
    twice the first counts. Spans that touch or overlap are joined.
    """
    by_day: list[list[Span]] = [[] for _ in range(7)]
    for weekday, opens, closes in sorted(week):
        by_day[weekday].append((opens, closes))
    spans: list[Span] = []
    for day, (midnight, plain) in _days(horizon).items():
        for opens, closes in by_day[day.weekday()] if day not in shut else ():
            if plain:
                start, end = midnight + opens, midnight + closes
            else:
                start, end = (_exactly(day, at, horizon.clock) for at in (opens, closes))
            if spans and start <= spans[-1][1]:
                spans[-1] = (spans[-1][0], max(spans[-1][1], end))
            elif start < end:
                spans.append((start, end))
    return tuple(spans)


@lru_cache(maxsize=16)
def _days(horizon: Horizon) -> dict[date, tuple[Minutes, bool]]:
    """Each day's midnight, and whether the clocks stand still in it (all but two days a year)."""
    midnights: list[Minutes] = []
    days = [
        horizon.first + timedelta(days=n) for n in range((horizon.last - horizon.first).days + 1)
    ]
    midnights = [horizon.clock.midnight(day) for day in days]
    return {
        day: (begin, end - begin == DAY)
        for day, begin, end in zip(days[:-1], midnights[:-1], midnights[1:], strict=True)
    }


def _exactly(day: date, minute: Minutes, clock: Clock) -> Minutes:
    """A local time of a day on which the clocks change."""
    days, rest = divmod(minute, DAY)
    hour, minute_of_hour = divmod(rest, 60)
    local = datetime.combine(
        day + timedelta(days=days), time(hour, minute_of_hour), tzinfo=clock.zone
    )
    return clock.minutes(local)


def day_spans(days: Iterable[tuple[date, date]], clock: Clock) -> Spans:
    """Whole local days, first and last included, as sorted disjoint spans."""
    spans: list[Span] = []
    for first, last in sorted(days):
        start, end = clock.midnight(first), clock.midnight(last + timedelta(days=1))
        if spans and start <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(spans[-1][1], end))
        else:
            spans.append((start, end))
    return tuple(spans)


def without(spans: Spans, gaps: Spans) -> Spans:
    """The parts of ``spans`` outside ``gaps``; both sorted and disjoint."""
    if not gaps:
        return spans
    result: list[Span] = []
    at = 0
    for start, end in spans:
        while at < len(gaps) and gaps[at][1] <= start:
            at += 1
        index = at
        while index < len(gaps) and gaps[index][0] < end:
            if gaps[index][0] > start:
                result.append((start, gaps[index][0]))
            start = max(start, gaps[index][1])
            index += 1
        if start < end:
            result.append((start, end))
    return tuple(result)


def days_between(first: date, last: date) -> Iterable[date]:
    """Every day, both ends included."""
    return (first + timedelta(days=n) for n in range((last - first).days + 1))

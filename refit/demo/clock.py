"""The demo's calendar: working days counted so that today is Wednesday of week 6."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

TIME_ZONE = "America/Halifax"
MON, TUE, WED, THU, FRI, SAT, SUN = range(7)
_TOLD_WEEK, _TOLD_DAY, _TOLD_HOUR = 6, WED, 9


@dataclass(frozen=True)
class DemoClock:
    """Dates of the story, always the same number of working days from today.

    The story is written in weeks of five days and told up to Wednesday 09:00 of week 6. Whatever
    day it is read on, that Wednesday is today (or the last working day), and the day before it is
    the working day before: so the late coater is two days late on any day of the week.
    """

    told: date

    @classmethod
    def for_now(cls, now: datetime) -> DemoClock:
        day = (now.astimezone(ZoneInfo(TIME_ZONE)) - timedelta(hours=_TOLD_HOUR)).date()
        return cls(told=day - timedelta(days=max(0, day.weekday() - FRI)))

    def date(self, week: int, weekday: int) -> date:
        """Saturday and Sunday of the story fall on its Friday."""
        ahead = (week - _TOLD_WEEK) * 5 + min(weekday, FRI) - _TOLD_DAY
        weeks, rest = divmod(self.told.weekday() + ahead, 5)
        return self.told + timedelta(days=7 * weeks + rest - self.told.weekday())

    def day(self, week: int, weekday: int) -> str:
        return self.date(week, weekday).isoformat()

    def at(self, week: int, weekday: int, clock: str) -> str:
        """The moment in UTC, ISO 8601."""
        local = datetime.combine(
            self.date(week, weekday), time.fromisoformat(clock), ZoneInfo(TIME_ZONE)
        )
        return local.astimezone(ZoneInfo("UTC")).isoformat()

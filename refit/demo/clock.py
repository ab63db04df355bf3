"""The demo's calendar: weeks counted from a first Monday six weeks back, in local time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

TIME_ZONE = "America/Halifax"
WEEKS_SO_FAR = 6
MON, TUE, WED, THU, FRI, SAT, SUN = range(7)


@dataclass(frozen=True)
class DemoClock:
    """``at(6, MON, "09:00")`` is Monday of the current week. Nothing in the story is later than
    Wednesday 09:00 of week 6, and that is never in the future."""

    first_monday: date

    @classmethod
    def for_now(cls, now: datetime) -> DemoClock:
        told = now.astimezone(ZoneInfo(TIME_ZONE)) - timedelta(days=WED, hours=9)
        this_monday = told.date() - timedelta(days=told.weekday())
        return cls(first_monday=this_monday - timedelta(weeks=WEEKS_SO_FAR))

    def day(self, week: int, weekday: int) -> str:
        return (self.first_monday + timedelta(weeks=week, days=weekday)).isoformat()

    def at(self, week: int, weekday: int, clock: str) -> str:
        """The moment in UTC, ISO 8601."""
        day = self.first_monday + timedelta(weeks=week, days=weekday)
        local = datetime.combine(day, time.fromisoformat(clock), ZoneInfo(TIME_ZONE))
        return local.astimezone(ZoneInfo("UTC")).isoformat()

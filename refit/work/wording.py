"""How dates, times, durations and money are said, on pages, in mails and in calendars alike.

Dates carry their weekday; a year is said only when it is not the reader's current one. Moments
are shown in the zone that the caller passes.
"""

from __future__ import annotations

from datetime import date, datetime, tzinfo
from decimal import Decimal

from .dates import day_as_chosen, hour_as_chosen

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def say_day(day: date, today: date | None = None) -> str:
    """“Wed 25 Nov”, with the year when it is not today's."""
    with_year = today is not None and today.year != day.year
    if chosen := day_as_chosen(day, with_year):
        return chosen
    said = f"{_DAYS[day.weekday()]} {day.day} {_MONTHS[day.month - 1]}"
    return f"{said} {day.year}" if with_year else said


def say_moment(moment: datetime, zone: tzinfo, today: date | None = None) -> str:
    """“Thu 26 Nov 14:00” in ``zone``."""
    local = moment.astimezone(zone)
    return f"{say_day(local.date(), today)} {hour_as_chosen(local) or f'{local:%H:%M}'}"


def say_near(day: date, today: date) -> str:
    """“today”, “tomorrow”, “in 3 days”, “2 days ago”."""
    distance = (day - today).days
    if distance == 0:
        return "today"
    if abs(distance) == 1:
        return "tomorrow" if distance > 0 else "yesterday"
    return f"in {distance} days" if distance > 0 else f"{-distance} days ago"


def say_working_time(minutes: int, hours_a_day: Decimal | int = 8) -> str:
    """Working time as people say it: “45 min”, “6 h”, “2 days”, “3½ days”, “3 days 2 h”."""
    day = int(hours_a_day * 60)
    if minutes < day:
        return _hours(minutes)
    days, rest = divmod(minutes, day)
    if rest * 2 == day:
        return f"{days}½ days"
    said = "1 day" if days == 1 else f"{days} days"
    return f"{said} {_hours(rest)}" if rest else said


def say_elapsed(minutes: int) -> str:
    """Time on the clock: “40 min”, “36 h”, “3 days”, “3 days 4 h”."""
    if minutes < 48 * 60:
        return _hours(minutes)
    days, rest = divmod(minutes, 1440)
    hours = round(rest / 60)
    return f"{days} days {hours} h" if hours else f"{days} days"


def _hours(minutes: int) -> str:
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def say_money(amount: Decimal, currency: str) -> str:
    """“1,250 EUR”; cents only where there are any."""
    whole = amount == amount.to_integral_value()
    return f"{amount:,.0f} {currency}" if whole else f"{amount:,.2f} {currency}"


def say_count(number: int, one: str, many: str | None = None) -> str:
    """“1 piece”, “3 pieces”."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def say_list(words: list[str]) -> str:
    """“a”, “a and b”, “a, b and c”."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def say_typed(text: str) -> str:
    """What somebody typed, in quotation marks, cut where it is long: “6”."""
    return f"“{text[:60]}…”" if len(text) > 60 else f"“{text}”"

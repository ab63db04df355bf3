"""Durations as people type them, to whole minutes and back.

“2 d”, “6 h”, “90 min”, “1.5 d”, “2 d 4 h”, “1:30”; a bare number is not a duration, because
nobody can tell days from hours. How durations are *said* on pages is `refit.work.wording`.
"""

from __future__ import annotations

import re
from decimal import Decimal

_UNITS = {
    "w": "w", "wk": "w", "week": "w", "weeks": "w",
    "d": "d", "day": "d", "days": "d",
    "h": "h", "hr": "h", "hrs": "h", "hour": "h", "hours": "h",
    "m": "min", "min": "min", "mins": "min", "minute": "min", "minutes": "min",
}  # fmt: skip
_PART = re.compile(r"\s*(\d+(?:[.,]\d+)?|\d*½)\s*([a-z]+)\s*(?:,|and)?", re.IGNORECASE)
_CLOCK = re.compile(r"(\d{1,3}):([0-5]\d)$")
LONGEST = 3 * 366 * 24 * 60
"""Three years in minutes: anything above is a slip of the keyboard."""


class UnreadableDuration(ValueError):
    """The text is not a duration; the message says how to write one."""


def _read(text: str, *, day: int, week: int) -> int:
    words = text.strip()
    sign = 1
    if words[:1] in ("-", "−"):
        sign, words = -1, words[1:].strip()
    if clock := _CLOCK.fullmatch(words):
        return sign * (int(clock[1]) * 60 + int(clock[2]))
    sizes = {"w": week, "d": day, "h": 60, "min": 1}
    total = Decimal(0)
    position = 0
    while position < len(words):
        part = _PART.match(words, position)
        unit = _UNITS.get(part[2].lower()) if part else None
        if part is None or unit is None:
            raise UnreadableDuration(
                f"“{text.strip()}” is not a duration. Write it with a unit: 2 d, 6 h or 90 min."
            )
        number = part[1].replace(",", ".")
        amount = Decimal(number[:-1] or 0) + Decimal("0.5") if "½" in number else Decimal(number)
        total += amount * sizes[unit]
        position = part.end()
    if not words:
        raise UnreadableDuration("Write a duration with its unit: 2 d, 6 h or 90 min.")
    minutes = round(total)
    if minutes > LONGEST:
        raise UnreadableDuration(f"“{text.strip()}” is more than three years.")
    return sign * minutes


def read_working_time(text: str, hours_a_day: Decimal | int = 8) -> int:
    """Minutes of working time; a day is ``hours_a_day``, a week five of them.

    Raises `UnreadableDuration`, also for a negative one.
    """
    day = int(Decimal(hours_a_day) * 60)
    minutes = _read(text, day=day, week=5 * day)
    if minutes < 0:
        raise UnreadableDuration("Working time cannot be less than nothing.")
    return minutes


def read_elapsed(text: str, *, negative: bool = False) -> int:
    """Minutes on the clock: a day is 24 h, a week seven days. ``negative`` allows “-2 h”."""
    minutes = _read(text, day=1440, week=7 * 1440)
    if minutes < 0 and not negative:
        raise UnreadableDuration("This time cannot be less than nothing.")
    return minutes


def read_working_lag(text: str, hours_a_day: Decimal | int = 8) -> int:
    """A lag in working time; “-2 h” lets the second package overlap the first."""
    day = int(Decimal(hours_a_day) * 60)
    return _read(text, day=day, week=5 * day)


def write_working_time(minutes: int, hours_a_day: Decimal | int = 8) -> str:
    """What `read_working_time` reads back to the same minutes: “2 d 3 h”."""
    return _write(minutes, int(Decimal(hours_a_day) * 60))


def write_elapsed(minutes: int) -> str:
    """What `read_elapsed` reads back to the same minutes: “36 h”, “3 d”."""
    if minutes % 1440 and abs(minutes) < 3 * 1440:
        return _write(minutes, LONGEST + 1)
    return _write(minutes, 1440)


def _write(minutes: int, day: int) -> str:
    sign, rest = ("-", -minutes) if minutes < 0 else ("", minutes)
    days, rest = divmod(rest, day)
    hours, rest = divmod(rest, 60)
    parts = [f"{n} {unit}" for n, unit in ((days, "d"), (hours, "h"), (rest, "min")) if n]
    return sign + (" ".join(parts) or "0 min")

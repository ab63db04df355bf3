"""Hours of a day and spans of days as people type them, to plain text values and back.

“8–12, 13:00–17:30” are spans of one day; “2026-12-24 to 2027-01-02 winter closing” are days on
which a place is shut or somebody is away. Times of day come as ``HH:MM``, days as ``YYYY-MM-DD``.
Calendars made of them are not here (`refit.planning.calendars`).
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable
from datetime import date

from .wording import say_typed

DAY = 1440
"""Minutes."""


class UnreadableHours(ValueError):
    """The text means no hours or days; the message is a sentence for whoever typed it."""


_SPAN = re.compile(
    r"(\d{1,2})(?:[:.]([0-5]\d))?\s*(?:-|–|to)\s*(\d{1,2})(?:[:.]([0-5]\d))?", re.ASCII
)


def read_hours(text: str) -> list[list[str]]:
    """The spans of one day, each when it opens and closes, in order; none if it is closed.

    A closing time of ``00:00`` is midnight at the end of the day. Raises `UnreadableHours`.
    """
    if text.strip().casefold() in ("closed", "-", "–"):
        return []
    spans = []
    for word in filter(None, (part.strip() for part in re.split(r"[,;\n]|\band\b", text))):
        match = _SPAN.fullmatch(word)
        if match is None:
            raise UnreadableHours(f"{say_typed(word)} are no hours; write them like 08:00–17:00.")
        opens, closes = (
            int(hour) * 60 + int(minute or 0)
            for hour, minute in (match.groups()[:2], match.groups()[2:])
        )
        closes = closes or DAY
        if opens >= DAY or closes > DAY:
            raise UnreadableHours(f"{say_typed(word)}: a day ends at 24:00.")
        if closes <= opens:
            raise UnreadableHours(f"{say_typed(word)} closes before it opens.")
        spans.append((opens, closes))
    spans.sort()
    for (_, closes), (opens, _) in itertools.pairwise(spans):
        if opens < closes:
            raise UnreadableHours(f"{say_typed(text)}: two of these spans overlap.")
    return [[_clock(opens), _clock(closes % DAY)] for opens, closes in spans]


def _clock(minutes: int) -> str:
    return f"{minutes // 60:02}:{minutes % 60:02}"


def write_hours(spans: Iterable[Iterable[str]], *, dash: str = "–", between: str = ", ") -> str:
    """What `read_hours` reads back: “08:00–12:00, 13:00–24:00”."""
    return between.join(
        f"{opens}{dash}{'24:00' if closes == '00:00' else closes}" for opens, closes in spans
    )


_DAYS = re.compile(
    r"(\d{4}-\d{2}-\d{2})(?:\s*(?:to|–|until)\s*(\d{4}-\d{2}-\d{2}))?(?:[,:]?\s+(.*))?", re.ASCII
)


def read_days(text: str) -> tuple[str, str, str]:
    """First day, last day and reason of one span; one day alone is both. `UnreadableHours`."""
    match = _DAYS.fullmatch(text.strip())
    try:
        if match is None:
            raise ValueError
        first = date.fromisoformat(match[1])
        last = date.fromisoformat(match[2] or match[1])
    except ValueError:
        raise UnreadableHours(
            f"{say_typed(text.strip())} are no days; write them like 2026-12-24 to 2027-01-02"
            " reason."
        ) from None
    if last < first:
        raise UnreadableHours(f"{say_typed(text.strip())} ends before it begins.")
    return first.isoformat(), last.isoformat(), (match[3] or "").strip()


def write_days(first: str, last: str, reason: str = "") -> str:
    """What `read_days` reads back: “2026-12-24 to 2027-01-02 winter closing”."""
    return " ".join(filter(None, [first if first == last else f"{first} to {last}", reason]))

"""What may stand in one cell of a sheet, read and written.

Here: text to the plain values of a refit document and back, one kind of cell after the other.
Not here: which columns there are (`refit.interchange.columns`), what rows say about each other.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, TypeAlias, TypeVar
from zoneinfo import ZoneInfo

from refit.work import durations
from refit.work.durations import UnreadableDuration
from refit.work.hours import UnreadableHours, read_days, read_hours, write_days, write_hours
from refit.work.measures import Measure
from refit.work.numbers import UnreadableNumber, read_number
from refit.work.wording import say_typed

from .schema import did_you_mean, plain, utc

Row: TypeAlias = dict[str, Any]
Read = TypeVar("Read")


class CellError(ValueError):
    """The text means nothing here; the message is a sentence for whoever typed it."""


@dataclass(frozen=True)
class Habits:
    """What the refit says about how its people write: its zone, the length of its working day,
    its units (“metric” or “us”)."""

    zone: ZoneInfo
    hours_a_day: Decimal
    units: str


@dataclass(frozen=True)
class Cell:
    """``read`` turns text that is not empty into a value, or raises `CellError`; ``write`` turns
    the value back into text. Both may look at what stands in the row to the left of the cell.
    ``how`` tells people how to write it."""

    how: str
    read: Callable[[str, Habits, Row], Any]
    write: Callable[[Any, Habits, Row], str]


def _nothing(value: Any) -> bool:
    return value is None or value == "" or value == []


def _cell(
    how: str,
    read: Callable[[str, Habits, Row], Any],
    write: Callable[[Any, Habits, Row], str] = lambda value, habits, row: str(value),
) -> Cell:
    return Cell(
        how, read, lambda value, habits, row: "" if _nothing(value) else write(value, habits, row)
    )


def _asked(read: Callable[..., Read], *given: Any, **options: Any) -> Read:
    """What ``read`` makes of the text; its objection as a `CellError`."""
    try:
        return read(*given, **options)
    except (UnreadableDuration, UnreadableHours, UnreadableNumber) as error:
        raise CellError(str(error)) from None


# --- words -----------------------------------------------------------------------------------

TEXT = _cell("text", lambda text, habits, row: text)


def a_name(of: str) -> Cell:
    return _cell(f"name of a {of}", lambda text, habits, row: text)


def _read_names(text: str, habits: Habits, row: Row) -> list[str]:
    parts = re.split(r"[;\n]" if ";" in text or "\n" in text else ",", text)
    return sorted(part.strip() for part in parts if part.strip())


def _write_names(names: list[str], habits: Habits, row: Row) -> str:
    text = "; ".join(names)
    return f"{text};" if len(names) == 1 and "," in text else text


def some_names(of: str) -> Cell:
    return _cell(f"{of}, separated by semicolons (or commas)", _read_names, _write_names)


def _read_yes(text: str, habits: Habits, row: Row) -> bool:
    word = text.casefold()
    if word in ("yes", "y", "true", "1", "x"):
        return True
    if word in ("no", "n", "false", "0", "-"):
        return False
    raise CellError(f"{say_typed(text)} is neither yes nor no.")


YES = Cell("yes or no", _read_yes, lambda value, habits, row: "yes" if value else "no")


def choice(*words: str) -> Cell:
    def read(text: str, habits: Habits, row: Row) -> str:
        asked = re.sub(r"[\s_–-]+", " ", text.casefold().replace("’", "'"))
        for word in words:
            if re.sub(r"[\s-]+", " ", word) == asked:
                return word
        raise CellError(
            f"{say_typed(text)} is none of {', '.join(words)}.{did_you_mean(text, words)}"
        )

    return _cell("one of: " + ", ".join(words), read)


# --- numbers ---------------------------------------------------------------------------------


def _read_whole(text: str, habits: Habits, row: Row) -> int:
    number = _asked(read_number, text)
    if number != number.to_integral_value():
        raise CellError(f"{say_typed(text)} is not a whole number.")
    return int(number)


WHOLE = _cell("a whole number", _read_whole)


def decimal(how: str, places: int, low: int | None = None, high: int | None = None) -> Cell:
    def read(text: str, habits: Habits, row: Row) -> str:
        number = _asked(read_number, text)
        if (low is not None and number < low) or (high is not None and number > high):
            wanted = f"not be less than {low}" if high is None else f"be from {low} to {high}"
            raise CellError(f"{say_typed(text)}: it must {wanted}.")
        if number != round(number, places):
            raise CellError(f"{say_typed(text)} has more than {places} decimals.")
        return plain(number)

    return _cell(how, read)


_AMOUNT = decimal("an amount in the currency of the refit: 1250 or 1250.50", 2, 0)
MONEY = _cell(
    _AMOUNT.how,
    _AMOUNT.read,
    lambda value, habits, row: f"{Decimal(value):.2f}".removesuffix(".00"),
)


def measure(unit: Measure) -> Cell:
    return _cell(
        f"a number of {unit.sign}",
        lambda text, habits, row: plain(_asked(unit.read, text)),
        lambda value, habits, row: unit.show(Decimal(value)),
    )


# --- time ------------------------------------------------------------------------------------


def _read_working(text: str, habits: Habits, row: Row) -> int:
    return _asked(durations.read_working_time, text[:80], habits.hours_a_day)


WORKING = Cell(
    "working time with its unit: 2 d, 6 h, 90 min; a day has the refit's hours",
    _read_working,
    lambda value, habits, row: (
        "" if value is None else durations.write_working_time(value, habits.hours_a_day)
    ),
)
ELAPSED = Cell(
    "elapsed time with its unit: 36 h, 3 d; a day has 24 hours",
    lambda text, habits, row: _asked(durations.read_elapsed, text[:80]),
    lambda value, habits, row: "" if value is None else durations.write_elapsed(value),
)


def _read_lag(text: str, habits: Habits, row: Row) -> int:
    if row.get("lag_in") == "working":
        return _asked(durations.read_working_lag, text[:80], habits.hours_a_day)
    return _asked(durations.read_elapsed, text[:80], negative=True)


def _write_lag(value: int | None, habits: Habits, row: Row) -> str:
    if value is None:
        return ""
    if row.get("lag_in") == "working":
        return durations.write_working_time(value, habits.hours_a_day)
    return durations.write_elapsed(value)


LAG = Cell(
    "a time with its unit, as “lag in” counts it: 24 h, 2 d; -2 h overlaps", _read_lag, _write_lag
)

_MOMENT = re.compile(r"(\d{4}-\d{2}-\d{2})[T ]+(\d{1,2}:\d{2}(?::\d{2})?)(?:\.0+)?", re.ASCII)


def _read_moment(text: str, habits: Habits, row: Row) -> str:
    match = _MOMENT.fullmatch(text)
    if match is None:
        try:
            date.fromisoformat(text)
        except ValueError:
            raise CellError(
                f"{say_typed(text)} is not a date and time; write it like 2026-12-04 14:00."
            ) from None
        raise CellError(f"{say_typed(text)} needs a time of day as well, like {text[:10]} 14:00.")
    day, clock = match.groups()
    try:
        naive = datetime.fromisoformat(f"{day}T{clock if clock[2] == ':' else '0' + clock}")
    except ValueError:
        raise CellError(f"{say_typed(text)} is not a date and time that exists.") from None
    local = naive.replace(tzinfo=habits.zone)
    if not 1900 <= naive.year <= 2199:
        raise CellError(f"{say_typed(text)}: the year must lie between 1900 and 2199.")
    if local.astimezone(UTC).astimezone(habits.zone).replace(tzinfo=None) != naive:
        raise CellError(f"{say_typed(text)} does not exist: the clocks go forward over it.")
    return utc(local)


def _write_moment(value: str, habits: Habits, row: Row) -> str:
    local = datetime.fromisoformat(value).astimezone(habits.zone)
    return f"{local:%Y-%m-%d %H:%M:%S}" if local.second else f"{local:%Y-%m-%d %H:%M}"


MOMENT = _cell(
    "date and time in the zone of the refit: 2026-12-04 14:00", _read_moment, _write_moment
)


def _read_day(text: str, habits: Habits, row: Row) -> str:
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise CellError(f"{say_typed(text)} is no day; write it like 2026-12-04.") from None


DAY = _cell("a day: 2026-12-04", _read_day)

HOURS = _cell(
    "hours, several separated by semicolons: 08:00-12:00; 13:00-17:00; empty: closed",
    lambda text, habits, row: _asked(read_hours, text),
    lambda value, habits, row: write_hours(value, dash="-", between="; "),
)


def _read_days(text: str, habits: Habits, row: Row) -> list[Row]:
    words = filter(None, (part.strip() for part in re.split(r"[;\n]", text)))
    return [
        dict(zip(("first_day", "last_day", "reason"), _asked(read_days, word), strict=True))
        for word in words
    ]


def _write_days(value: Iterable[Row], habits: Habits, row: Row) -> str:
    return "; ".join(
        write_days(days["first_day"], days["last_day"], re.sub(r"[;\n]", ",", days["reason"]))
        for days in value
    )


DAYS = _cell(
    "days, several separated by semicolons: 2026-12-24 to 2027-01-02 winter closing",
    _read_days,
    _write_days,
)

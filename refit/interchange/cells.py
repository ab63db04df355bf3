"""What may stand in one cell of a sheet, read and written.

Here: text to the plain values of a refit document and back, one kind of cell after the other.
Not here: which columns there are (`refit.interchange.columns`), what rows say about each other.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Any, TypeAlias
from zoneinfo import ZoneInfo

from refit.work import durations

from .schema import did_you_mean, plain, utc

Row: TypeAlias = dict[str, Any]


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


def shown(text: str) -> str:
    return f"“{text[:60]}…”" if len(text) > 60 else f"“{text}”"


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
    raise CellError(f"{shown(text)} is neither yes nor no.")


YES = Cell("yes or no", _read_yes, lambda value, habits, row: "yes" if value else "no")


def choice(*words: str) -> Cell:
    def read(text: str, habits: Habits, row: Row) -> str:
        asked = re.sub(r"[\s_–-]+", " ", text.casefold())
        for word in words:
            if re.sub(r"[\s-]+", " ", word) == asked:
                return word
        raise CellError(f"{shown(text)} is none of {', '.join(words)}.{did_you_mean(text, words)}")

    return _cell("one of: " + ", ".join(words), read)


# --- numbers ---------------------------------------------------------------------------------

_GROUPED = re.compile(r"-?\d{1,3}(?:[ \u00a0\u202f'’]\d{3})+(?=$|[.,])")


def read_number(text: str) -> Decimal:
    """A decimal, with point or comma; `CellError` where a comma can be read in two ways."""
    number = text.strip().replace("−", "-")
    if _GROUPED.match(number):
        number = re.sub(r"[ \u00a0\u202f'’]", "", number)
    if re.fullmatch(r"-?[1-9]\d{0,2}(,\d{3})+\.\d+", number, re.ASCII):
        number = number.replace(",", "")
    elif re.fullmatch(r"-?[1-9]\d{0,2}(\.\d{3})+,\d+", number, re.ASCII):
        number = number.replace(".", "").replace(",", ".")
    elif re.fullmatch(r"-?[1-9]\d{0,2}(,\d{3})+", number, re.ASCII):
        raise CellError(
            f"{shown(text)} can be read in two ways; write it without a comma, "
            f"as {number.replace(',', '')} or {number.replace(',', '.', 1)}."
        )
    elif number.count(",") == 1 and "." not in number:
        number = number.replace(",", ".")
    if not re.fullmatch(r"-?(\d{1,20}(\.\d*)?|\.\d+)", number, re.ASCII) or len(number) > 40:
        raise CellError(f"{shown(text)} is not a number.")
    return Decimal(number)


def _read_whole(text: str, habits: Habits, row: Row) -> int:
    number = read_number(text)
    if number != number.to_integral_value():
        raise CellError(f"{shown(text)} is not a whole number.")
    return int(number)


WHOLE = _cell("a whole number", _read_whole)


def decimal(how: str, places: int, low: int | None = None, high: int | None = None) -> Cell:
    def read(text: str, habits: Habits, row: Row) -> str:
        number = read_number(text)
        if (low is not None and number < low) or (high is not None and number > high):
            wanted = f"not be less than {low}" if high is None else f"be from {low} to {high}"
            raise CellError(f"{shown(text)}: it must {wanted}.")
        if number != round(number, places):
            raise CellError(f"{shown(text)} has more than {places} decimals.")
        return plain(number)

    return _cell(how, read)


_AMOUNT = decimal("an amount in the currency of the refit: 1250 or 1250.50", 2, 0)
MONEY = _cell(
    _AMOUNT.how,
    _AMOUNT.read,
    lambda value, habits, row: f"{Decimal(value):.2f}".removesuffix(".00"),
)

MEASURES = {
    "m": (Decimal(1), 3, 3),
    "ft": (Decimal("0.3048"), 3, 2),
    "kg": (Decimal(1), 2, 2),
    "lb": (Decimal("0.45359237"), 2, 1),
}
"""Sign: its size in metres or kilograms, decimals stored, decimals written. The foot and the
pound are exact: international yard and pound agreement of 1959 (from memory)."""


def measure(sign: str) -> Cell:
    size, stored, written = MEASURES[sign]

    def read(text: str, habits: Habits, row: Row) -> str:
        number = read_number(text.removesuffix(sign).rstrip())
        if number < 0:
            raise CellError(f"{shown(text)}: it must not be less than 0.")
        return plain((number * size).quantize(Decimal(1).scaleb(-stored), ROUND_HALF_UP))

    def write(value: str, habits: Habits, row: Row) -> str:
        return plain((Decimal(value) / size).quantize(Decimal(1).scaleb(-written), ROUND_HALF_UP))

    return _cell(f"a number of {sign}", read, write)


# --- time ------------------------------------------------------------------------------------


def _read_working(text: str, habits: Habits, row: Row) -> int:
    return _minutes(durations.read_working_time, text[:80], habits.hours_a_day)


def _minutes(read: Callable[..., int], *given: Any, **options: Any) -> int:
    try:
        return read(*given, **options)
    except durations.UnreadableDuration as error:
        raise CellError(str(error)) from None


WORKING = Cell(
    "working time with its unit: 2 d, 6 h, 90 min; a day has the refit's hours",
    _read_working,
    lambda value, habits, row: (
        "" if value is None else durations.write_working_time(value, habits.hours_a_day)
    ),
)
ELAPSED = Cell(
    "elapsed time with its unit: 36 h, 3 d; a day has 24 hours",
    lambda text, habits, row: _minutes(durations.read_elapsed, text[:80]),
    lambda value, habits, row: "" if value is None else durations.write_elapsed(value),
)


def _read_lag(text: str, habits: Habits, row: Row) -> int:
    if row.get("lag_in") == "working":
        return _minutes(durations.read_working_lag, text[:80], habits.hours_a_day)
    return _minutes(durations.read_elapsed, text[:80], negative=True)


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
                f"{shown(text)} is not a date and time; write it like 2026-12-04 14:00."
            ) from None
        raise CellError(f"{shown(text)} needs a time of day as well, like {text[:10]} 14:00.")
    day, clock = match.groups()
    try:
        naive = datetime.fromisoformat(f"{day}T{clock if clock[2] == ':' else '0' + clock}")
    except ValueError:
        raise CellError(f"{shown(text)} is not a date and time that exists.") from None
    local = naive.replace(tzinfo=habits.zone)
    if not 1900 <= naive.year <= 2199:
        raise CellError(f"{shown(text)}: the year must lie between 1900 and 2199.")
    if local.astimezone(UTC).astimezone(habits.zone).replace(tzinfo=None) != naive:
        raise CellError(f"{shown(text)} does not exist: the clocks go forward over it.")
    return utc(local)


def _write_moment(value: str, habits: Habits, row: Row) -> str:
    local = datetime.fromisoformat(value).astimezone(habits.zone)
    return f"{local:%Y-%m-%d %H:%M:%S}" if local.second else f"{local:%Y-%m-%d %H:%M}"


MOMENT = _cell(
    "date and time in the zone of the refit: 2026-12-04 14:00", _read_moment, _write_moment
)

_SPAN = re.compile(
    r"(\d{1,2})(?:[:.]([0-5]\d))?\s*(?:-|–|to)\s*(\d{1,2})(?:[:.]([0-5]\d))?", re.ASCII
)


def _read_hours(text: str, habits: Habits, row: Row) -> list[list[str]]:
    if text.casefold() in ("closed", "-", "–"):
        return []
    spans = []
    for word in filter(None, (part.strip() for part in re.split(r"[;,\n]", text))):
        match = _SPAN.fullmatch(word)
        if match is None:
            raise CellError(f"{shown(word)} are no hours; write them like 08:00-17:00.")
        opens, closes = (
            int(hour) * 60 + int(minute or 0)
            for hour, minute in (match.groups()[:2], match.groups()[2:])
        )
        closes = closes or 1440
        if opens >= 1440 or closes > 1440:
            raise CellError(f"{shown(word)}: a day ends at 24:00.")
        if closes <= opens:
            raise CellError(f"{shown(word)} closes before it opens.")
        spans.append((opens, closes))
    spans.sort()
    for (_, closes), (opens, _) in itertools.pairwise(spans):
        if opens < closes:
            raise CellError(f"{shown(text)}: two of these spans overlap.")
    return [[_clock(opens), _clock(closes % 1440)] for opens, closes in spans]


def _clock(minutes: int) -> str:
    return f"{minutes // 60:02}:{minutes % 60:02}"


def _write_hours(value: list[list[str]], habits: Habits, row: Row) -> str:
    return "; ".join(
        f"{opens}-{'24:00' if closes == '00:00' else closes}" for opens, closes in value
    )


HOURS = _cell(
    "hours, several separated by semicolons: 08:00-12:00; 13:00-17:00; empty: closed",
    _read_hours,
    _write_hours,
)

_DAYS = re.compile(
    r"(\d{4}-\d{2}-\d{2})(?:\s*(?:to|–|until)\s*(\d{4}-\d{2}-\d{2}))?(?:\s+(.*))?", re.ASCII
)


def _read_days(text: str, habits: Habits, row: Row) -> list[Row]:
    found = []
    for word in filter(None, (part.strip() for part in re.split(r"[;\n]", text))):
        match = _DAYS.fullmatch(word)
        try:
            if match is None:
                raise ValueError
            first = date.fromisoformat(match[1])
            last = date.fromisoformat(match[2] or match[1])
        except ValueError:
            raise CellError(
                f"{shown(word)} are no days; write them like 2026-12-24 to 2027-01-02 reason."
            ) from None
        if last < first:
            raise CellError(f"{shown(word)} ends before it begins.")
        found.append(
            {
                "first_day": first.isoformat(),
                "last_day": last.isoformat(),
                "reason": (match[3] or "").strip() if match else "",
            }
        )
    return found


def _write_days(value: Iterable[Row], habits: Habits, row: Row) -> str:
    return "; ".join(
        " ".join(
            filter(
                None,
                [
                    days["first_day"],
                    f"to {days['last_day']}" if days["last_day"] != days["first_day"] else "",
                    re.sub(r"[;\n]", ",", days["reason"]),
                ],
            )
        )
        for days in value
    )


DAYS = _cell(
    "days, several separated by semicolons: 2026-12-24 to 2027-01-02 winter closing",
    _read_days,
    _write_days,
)

"""The published schema at work: shape errors as sentences, defaults filled in, one notation.

Here: what ``refit.schema.json`` can say about a value by itself. Not here: whether the names
that rows use exist, whether dates are in order (`refit.interchange.references`).
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal
from difflib import get_close_matches
from functools import cache
from itertools import islice
from pathlib import Path
from typing import Any, TypeAlias

from jsonschema import Draft202012Validator, FormatChecker
from jsonschema.exceptions import ValidationError

from refit.work.wording import say_typed

SCHEMA_FILE = Path(__file__).with_name("refit.schema.json")
MOST_PROBLEMS = 500
"""A file of another kind gets this many sentences, not a million."""

Json: TypeAlias = Any
"""Whatever JSON can hold, not yet checked."""


@cache
def the_schema() -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads(SCHEMA_FILE.read_text(encoding="utf-8"))
    return loaded


_formats = FormatChecker(formats=())


@_formats.checks("date", raises=ValueError)
def _is_day(value: object) -> bool:
    return not isinstance(value, str) or bool(date.fromisoformat(value))


@_formats.checks("date-time", raises=(ValueError, OverflowError))
def _is_moment(value: object) -> bool:
    return not isinstance(value, str) or bool(_moment(value))


@dataclass(frozen=True)
class Problem:
    """``path`` leads to what is wrong: a list, a row of it, a property of that row, and so on."""

    path: tuple[str | int, ...]
    text: str
    at: str = ""

    @property
    def sentence(self) -> str:
        return f"{self.at}: {self.text}" if self.at else self.text

    @property
    def row(self) -> tuple[str | int, ...]:
        return self.path[:2]


def shape_problems(data: Json) -> tuple[list[Problem], bool]:
    """What the schema objects to, and whether that is all of it."""
    validator = Draft202012Validator(the_schema(), format_checker=_formats)
    found: dict[Problem, None] = {}
    errors = validator.iter_errors(data)
    for error in islice(errors, MOST_PROBLEMS):
        path = tuple(error.absolute_path)
        found[Problem(path, _sentence(error), where(path, data))] = None
    return list(found), next(errors, None) is None


def in_document_order(problems: Iterable[Problem]) -> list[Problem]:
    lists = {name: number for number, name in enumerate(the_schema()["properties"])}

    def place(problem: Problem) -> tuple[int, int]:
        name, index = (*problem.row, -1, -1)[:2]
        return lists.get(str(name), -1), index if isinstance(index, int) else -1

    return sorted(problems, key=place)


def where(path: tuple[str | int, ...], data: Json) -> str:
    """“packages[12] H04”, “refit”, “places[2] Home shed, hours[1]”: a row and what it is called.

    The last step of a path to a plain value is left to the sentence.
    """
    said, here = "", data
    for step in path:
        here = here[step]
        if isinstance(step, int):
            said += f"[{step}]{_called(here)}"
        elif isinstance(here, dict | list):
            said += f", {step}" if said else step
    return said or "document"


def _called(row: Json) -> str:
    if not isinstance(row, dict):
        return ""
    if isinstance(row.get("before"), str) and isinstance(row.get("after"), str):
        return f" {row['before']} to {row['after']}"
    for key in ("code", "tag", "name", "package", "piece"):
        if isinstance(row.get(key), str) and row[key]:
            return f" {row[key][:60]}"
    return ""


_KINDS = {
    "string": "text",
    "integer": "a whole number",
    "boolean": "true or false",
    "array": "a list",
    "object": "an object",
    "null": "null",
}


def _sentence(error: ValidationError) -> str:
    schema: dict[str, Any] = error.schema if isinstance(error.schema, dict) else {}
    value: Any = error.instance
    rule: Any = error.validator_value
    name = str(error.absolute_path[-1]) if error.absolute_path else ""
    subject = "it" if not name or isinstance(error.absolute_path[-1], int) else name
    if isinstance(value, dict | list):
        subject = "it"
    match error.validator:
        case "required":
            missing = [key for key in rule if key not in value]
            return f"{_quoted(missing)} {'is' if len(missing) == 1 else 'are'} missing."
        case "additionalProperties":
            known = list(schema["properties"])
            return " ".join(
                f"“{key}” is not a property here.{did_you_mean(key, known)}"
                for key in value
                if key not in known
            )
        case "enum":
            return f"{subject} must be one of {_quoted(rule)}, not {_shown(value)}."
        case "const":
            return f"{subject} must be {_shown(rule)}, not {_shown(value)}."
        case "maxLength":
            return f"{subject} is {len(value)} characters long; at most {rule} fit."
        case "minLength":
            return f"{subject} must not be empty."
        case "uniqueItems":
            return "it names something twice."
    title = None if schema.get("type") == "object" else schema.get("title")
    if title is None and error.validator in ("minimum", "maximum"):
        title = f"from {schema.get('minimum', 0)} to {schema['maximum']}"
    if title is None:
        kinds = schema.get("type", [])
        kinds = [kinds] if isinstance(kinds, str) else kinds
        title = " or ".join(_KINDS[kind] for kind in kinds)
    return f"{subject} must be {title}; it is {_shown(value)}."


def _shown(value: Json) -> str:
    if isinstance(value, str):
        return say_typed(value)
    if isinstance(value, dict | list):
        return _KINDS["object" if isinstance(value, dict) else "array"]
    return json.dumps(value)[:60]


def _quoted(words: Iterable[object]) -> str:
    return ", ".join(f"“{word}”" for word in words)


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """“ Did you mean “Coating booth”?” with a blank before it, or nothing."""
    names = {name.casefold(): name for name in islice(known, 1000)}
    close = get_close_matches(word[:240].casefold(), names, n=1, cutoff=0.7)
    return f" Did you mean “{names[close[0]]}”?" if close else ""


# --- one notation ----------------------------------------------------------------------------


def plain(value: Decimal | int | str) -> str:
    """A decimal without trailing zeros or exponent: “8.2”, “100”, “0”."""
    number = Decimal(value)
    return format(number.normalize(), "f") if number else "0"


def utc(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat()


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC)


_NOTATION: dict[str, Callable[[str], str]] = {
    "day": lambda text: date.fromisoformat(text).isoformat(),
    "moment": lambda text: utc(_moment(text)),
    "time_of_day": lambda text: time.fromisoformat(text).isoformat("minutes"),
    "money": plain,
    "signed_money": plain,
    "metres": plain,
    "kilograms": plain,
    "kilometres": plain,
    "degrees": plain,
    "factor": plain,
    "rate": plain,
    "share": plain,
    "number": plain,
    "quantity": plain,
    "celsius": plain,
    "percent": plain,
}


def settled(value: Json, schema: dict[str, Any] | None = None) -> Json:
    """``value``, which the schema accepts, with every default filled in and in one notation."""
    schema = the_schema() if schema is None else schema
    if "$ref" in schema:
        name = schema["$ref"].removeprefix("#/$defs/")
        notation = _NOTATION.get(name.removesuffix("_or_null"))
        if notation:
            return None if value is None else notation(value)
        return settled(value, the_schema()["$defs"][name])
    if isinstance(value, dict):
        if "properties" not in schema:  # a value with a schema of its own
            return copy.deepcopy(value)
        return {
            key: settled(value[key], inner) if key in value else copy.deepcopy(inner["default"])
            for key, inner in schema["properties"].items()
        }
    if isinstance(value, list):
        return [settled(one, schema["items"]) for one in value]
    return int(value) if isinstance(value, float) else value

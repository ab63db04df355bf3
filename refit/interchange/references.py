"""What one row of a document says about another: names that must exist, things that must be one.

Rows whose shape is already wrong are passed over, but count as named, so that one mistake is
told once. Not here: shapes of single values (`refit.interchange.schema`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from decimal import Decimal
from functools import cache
from typing import Any, TypeAlias

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from holidays.utils import list_supported_countries

from refit.work.models.refits import check_time_zone
from refit.work.processes import ProcessError, read_process

from .references_contracts import CONTRACT_RULES
from .schema import MOST_PROBLEMS, Json, Problem, did_you_mean, settled, the_schema, where

Row: TypeAlias = dict[str, Any]
Names: TypeAlias = dict[str, dict[str, None]]
"""Of each list of the document, what its rows are called, in the order of the document."""

_KEYS = {
    "vendors": "name",
    "places": "name",
    "rigs": "name",
    "crew": "name",
    "zones": "name",
    "pieces": "tag",
    "packages": "code",
    "findings": "code",
    "inquiries": "code",
    "work_orders": "code",
    "change_orders": "code",
    "goods": "code",
    "processes": "key",
    "surfaces": "name",
    "survey_items": "code",
    "scales": "name",
    "criteria": "name",
    "punch_items": "code",
}
_ONE = {
    "vendors": "vendor",
    "places": "place",
    "rigs": "rig",
    "crew": "crew member",
    "zones": "zone",
    "pieces": "piece",
    "packages": "package",
    "findings": "finding",
    "inquiries": "inquiry",
    "work_orders": "work order",
    "change_orders": "change order",
    "goods": "goods",
    "processes": "process",
    "surfaces": "surface",
    "survey_items": "line of the survey",
    "scales": "scale",
    "criteria": "criterion",
    "punch_items": "line of the punch list",
}
_NAMED = {"crew": "crew", "work_orders": "work orders", "change_orders": "change orders"}
"""How a list is called in a sentence, where that is not the name of the list."""
_FEW = ("places", "vendors", "rigs", "crew", "zones")
"""Lists short enough to be told whole when a name is like none in them."""

_REFERENCES: dict[str, dict[str, str]] = {
    "papers": {"vendor": "vendors"},
    "places": {"vendor": "vendors"},
    "distances": {"origin": "places", "destination": "places"},
    "pieces": {"place": "places", "returns_to": "places"},
    "packages": {"vendor": "vendors", "place": "places", "people": "crew", "zones": "zones"},
    "dependencies": {"before": "packages", "after": "packages"},
    "bookings": {"package": "packages"},
    "handoffs": {
        "piece": "pieces",
        "origin": "places",
        "destination": "places",
        "for_package": "packages",
        "after_package": "packages",
        "drive_with": "rigs",
    },
    "findings": {"found_in": "packages", "piece": "pieces", "zone": "zones"},
    "inquiries": {"packages": "packages"},
    "quotes": {"inquiry": "inquiries", "vendor": "vendors", "place": "places"},
    "work_orders": {"vendor": "vendors", "inquiry": "inquiries", "packages": "packages"},
    "instalments": {"order": "work_orders"},
    "agreements": {"order": "work_orders"},
    "change_orders": {"finding": "findings", "package": "packages"},
    "consents": {"change": "change_orders"},
    "goods": {"package": "packages"},
    "payments": {
        "order": "work_orders",
        "goods": "goods",
        "package": "packages",
        "vendor": "vendors",
    },
    "logged_hours": {"package": "packages", "person": "crew", "vendor": "vendors"},
    "survey_items": {"piece": "pieces", "zone": "zones", "package": "packages"},
    "criteria": {"package": "packages", "scale": "scales"},
    "readings": {"package": "packages", "piece": "pieces", "scale": "scales"},
    "climate": {"place": "places", "package": "packages"},
    "inspections": {"package": "packages", "criterion": "criteria", "rework": "packages"},
    "punch_items": {
        "package": "packages",
        "piece": "pieces",
        "person": "crew",
        "vendor": "vendors",
    },
    "batches": {"package": "packages"},
    "warranties": {"package": "packages"},
    "fitted_items": {"package": "packages"},
}
_ONCE: dict[str, tuple[tuple[str, ...], str]] = {
    "papers": (("vendor", "kind", "number"), "this paper is there already"),
    "distances": (("origin", "destination"), "this road is there already"),
    "dependencies": (("before", "after", "relation"), "this dependency is there already"),
    "bookings": (("package",), "this package has a booking already"),
    "quotes": (("inquiry", "vendor"), "this vendor is in this inquiry already"),
    "instalments": (("order", "number"), "this instalment is there already"),
    "consents": (("change",), "this change order has its answer already"),
    "payments": (("key",), "a payment with this key is there already"),
    "logged_hours": (("key",), "hours with this key are there already"),
    "fitted_items": (("kind", "label"), "this label is in the list already"),
}


def reference_problems(data: Json, misshapen: set[tuple[str | int, ...]]) -> list[Problem]:
    """Everything wrong between the rows of ``data``; ``misshapen`` rows are passed over."""
    if not isinstance(data, dict):
        return []
    names: Names = {kind: dict.fromkeys(_names(data, kind)) for kind in _KEYS}
    found = list(_unwritable(data))
    for kind in the_schema()["properties"]:
        found += _second_of_a_name(data, kind)
        for index, row in _sound_rows(data, kind, misshapen):
            for path, sentence in _about(kind, row, names):
                full = (kind, index, *path) if index is not None else (kind, *path)
                found.append(Problem(full, sentence, where(full, data)))
            if len(found) > MOST_PROBLEMS:
                return found
    return [*found, *_second_ones(data, misshapen), *_between_payments(data, misshapen)]


def _sound_rows(
    data: Row, kind: str, misshapen: set[tuple[str | int, ...]]
) -> Iterator[tuple[int | None, Row]]:
    schema = the_schema()["properties"][kind]
    value = data.get(kind)
    if (kind,) in misshapen:
        return
    if isinstance(value, list):
        for index, row in enumerate(value):
            if (kind, index) not in misshapen:
                yield index, settled(row, schema["items"])
    elif isinstance(value, dict) and not any(path[:1] == (kind,) for path in misshapen):
        yield None, settled(value, schema)


def _names(data: Row, kind: str) -> Iterator[str]:
    rows = data.get(kind)
    for row in rows if isinstance(rows, list) else ():
        if isinstance(row, dict) and isinstance(row.get(_KEYS[kind]), str):
            yield row[_KEYS[kind]]


def _second_of_a_name(data: Row, kind: str) -> Iterator[Problem]:
    rows = data.get(kind)
    if kind not in _KEYS or not isinstance(rows, list):
        return
    first: dict[str, int] = {}
    for index, row in enumerate(rows):
        name = row.get(_KEYS[kind]) if isinstance(row, dict) else None
        if not isinstance(name, str):
            continue
        if name in first:
            yield Problem(
                (kind, index),
                f"another {_ONE[kind]} has this {_KEYS[kind]} already: {kind}[{first[name]}].",
                f"{kind}[{index}] {name}",
            )
        first.setdefault(name, index)


def _second_ones(data: Row, misshapen: set[tuple[str | int, ...]]) -> Iterator[Problem]:
    """Rows that may be there once only: one boat, one launch, one dependency of a kind …"""
    for kind, flag, what in (
        ("pieces", "is_boat", "the boat"),
        ("packages", "is_launch", "the launch"),
    ):
        marked = [(i, row) for i, row in _sound_rows(data, kind, misshapen) if row[flag]]
        for index, _ in marked[1:]:
            first = marked[0][1][_KEYS[kind]]
            text = f"{flag} is true, but {what} is {first} already."
            at = where((kind, index or 0), data)
            yield Problem((kind, index or 0, flag), text, at)
    for kind, (keys, sentence) in _ONCE.items():
        seen: dict[tuple[Any, ...], int] = {}
        for index, row in _sound_rows(data, kind, misshapen):
            key = tuple(row[one] for one in keys)
            path = (kind, index or 0)
            if key in seen:
                yield Problem(path, f"{sentence}: {kind}[{seen[key]}].", where(path, data))
            seen.setdefault(key, index or 0)
    on_the_way: dict[str, int] = {}
    for index, row in _sound_rows(data, "handoffs", misshapen):
        if row["state"] == "under way":
            path = ("handoffs", index or 0)
            if row["piece"] in on_the_way:
                first = on_the_way[row["piece"]]
                text = f"the piece is under way already in handoffs[{first}]."
                yield Problem(path, text, where(path, data))
            on_the_way.setdefault(row["piece"], index or 0)


def _between_payments(data: Row, misshapen: set[tuple[str | int, ...]]) -> Iterator[Problem]:
    """Payments of instalments that are not there, or are paid already; scope taken in twice."""
    parts = {
        (row["order"], row["number"]) for _, row in _sound_rows(data, "instalments", misshapen)
    }
    for kind, said in (("instalment", "this instalment"), ("goods", "these goods")):
        paid: dict[Any, int] = {}
        for index, row in _sound_rows(data, "payments", misshapen):
            path = ("payments", index or 0)
            key = (row["order"], row["number"]) if kind == "instalment" else row["goods"]
            if key is None or key == (None, None):
                continue
            if kind == "instalment" and key not in parts:
                text = f"there is no instalment {row['number']} of order {row['order']}."
                yield Problem(path, text, where(path, data))
            elif key in paid:
                text = f"{said} is paid already in payments[{paid[key]}]."
                yield Problem(path, text.replace("goods is", "goods are"), where(path, data))
            paid.setdefault(key, index or 0)
    taken: dict[str, int] = {}
    for index, row in _sound_rows(data, "change_orders", misshapen):
        path = ("change_orders", index or 0)
        if row["extra_minutes"] is not None or row["state"] in ("declined", "withdrawn"):
            continue
        if row["package"] in taken:
            first = taken[row["package"]]
            text = f"change_orders[{first}] brings this package into the scope already."
            yield Problem(path, text, where(path, data))
        taken.setdefault(row["package"], index or 0)


def _unwritable(data: Json) -> Iterator[Problem]:
    """Text that no database takes: NUL and halves of surrogate pairs."""
    heap: list[tuple[tuple[str | int, ...], Json]] = [((), data)]
    while heap:
        path, value = heap.pop()
        if isinstance(value, dict):
            heap += [((*path, key), inner) for key, inner in value.items()]
        elif isinstance(value, list):
            heap += [((*path, index), inner) for index, inner in enumerate(value)]
        elif isinstance(value, str) and any(
            char == "\x00" or "\ud800" <= char <= "\udfff" for char in value
        ):
            said = where(path, data).encode("utf-8", "replace").decode().replace("\x00", "?")
            yield Problem(path, f"{path[-1]} holds a character that cannot be stored.", said)


# --- what is wrong within one row ----------------------------------------------------------------

_Found: TypeAlias = Iterator[tuple[tuple[str | int, ...], str]]


def _about(kind: str, row: Row, names: Names) -> _Found:
    for field, target in _REFERENCES.get(kind, {}).items():
        value = row[field]
        for name in value if isinstance(value, list) else [] if value is None else [value]:
            if name not in names[target]:
                yield (field,), _unknown(field, name, target, names)
    if kind in _KEYS and row[_KEYS[kind]] != row[_KEYS[kind]].strip():
        yield (_KEYS[kind],), f"{_KEYS[kind]} must be one line without blanks at its ends."
    for field in ("email", "owner_email"):
        if row.get(field):
            try:
                validate_email(row[field])
            except ValidationError:
                yield (field,), f"{field} “{row[field]}” is no e-mail address."
    if kind in _RULES:
        yield from _RULES[kind](row, names)


def _unknown(field: str, name: str, target: str, names: Names) -> str:
    lists = ("people", "zones", "packages")
    word = field.replace("_", " ") if field not in lists else _ONE[target]
    hint = did_you_mean(name, names[target])
    if not hint and target in _FEW and 0 < len(names[target]) <= 8:
        hint = f" There are: {', '.join(names[target])}."
    return f"{word} “{name}” is not among the {_NAMED.get(target, target)}.{hint}"


def _late(row: Row, first: str, second: str) -> bool:
    """``second`` is given and ``first`` is missing or after it."""
    if row[second] is None:
        return False
    return row[first] is None or datetime.fromisoformat(row[first]) > datetime.fromisoformat(
        row[second]
    )


def _refit(row: Row, names: Names) -> _Found:
    try:
        check_time_zone(row["time_zone"])
    except ValidationError as error:
        yield ("time_zone",), f"time_zone {' '.join(error.messages)}"
    for field, low, high in (("hours_a_day", 1, 24), ("road_factor", 1, 5)):
        if not low <= Decimal(row[field]) <= high:
            yield (field,), f"{field} must lie between {low} and {high}; it is {row[field]}."


@cache
def _holiday_countries() -> dict[str, list[str]]:
    return list_supported_countries()


def _paper(row: Row, names: Names) -> _Found:
    first, last = row["valid_from"], row["valid_until"]
    if first and last and last < first:
        yield ("valid_until",), f"the last day, {last}, comes before the first, {first}."


def _place(row: Row, names: Names) -> _Found:
    for field, most in (("latitude", 90), ("longitude", 180)):
        if row[field] is not None and abs(Decimal(row[field])) > most:
            yield (field,), f"{field} must lie between -{most} and {most}; it is {row[field]}."
    country, region = row["holiday_country"], row["holiday_region"]
    known = _holiday_countries()
    if country and country not in known:
        yield ("holiday_country",), f"public holidays of “{country}” are not known; leave it empty."
    elif region and region not in known.get(country, []):
        yield (
            ("holiday_region",),
            f"holiday_region “{region}” is no region of “{country}” with holidays of its own; "
            "leave it empty.",
        )
    spans = sorted(
        (span["weekday"], span["opens"], span["closes"], index)
        for index, span in enumerate(row["hours"])
    )
    last_day, last_close = -1, ""
    for weekday, opens, closes, index in spans:
        closes = "24:00" if closes == "00:00" else closes
        if closes <= opens:
            yield ("hours", index), f"it closes at {closes}, which is not after {opens}."
        elif weekday == last_day and opens < last_close:
            yield ("hours", index), f"it opens at {opens}, before the span before it ends."
        last_day, last_close = weekday, max(closes, last_close if weekday == last_day else "")
    yield from _days(row["closures"], "closures")


def _days(rows: list[Row], field: str) -> _Found:
    for index, days in enumerate(rows):
        if days["last_day"] < days["first_day"]:
            yield (
                (field, index),
                f"the last day, {days['last_day']}, comes before the first, {days['first_day']}.",
            )


def _crew_member(row: Row, names: Names) -> _Found:
    yield from _days(row["absences"], "absences")


def _package(row: Row, names: Names) -> _Found:
    low, likely, high = (row[f"{end}_minutes"] for end in ("low", "likely", "high"))
    if not low <= likely <= high:
        yield (
            ("likely_minutes",),
            "low_minutes, likely_minutes and high_minutes must rise; "
            f"they are {low}, {likely} and {high}.",
        )
    if row["finished_at"] and not row["started_at"]:
        yield ("finished_at",), "finished_at is given without started_at."
    elif _late(row, "started_at", "finished_at"):
        yield ("finished_at",), "finished_at comes before started_at."
    seen: set[str] = set()
    for index, use in enumerate(row["pieces"]):
        if use["piece"] not in names["pieces"]:
            yield ("pieces", index), _unknown("piece", use["piece"], "pieces", names)
        if use["piece"] in seen:
            yield ("pieces", index), "the piece is there already."
        seen.add(use["piece"])


def _distance(row: Row, names: Names) -> _Found:
    if row["origin"] == row["destination"]:
        yield (), "origin and destination are the same place."


def _rig(row: Row, names: Names) -> _Found:
    low, high = Decimal(row["tongue_low"]), Decimal(row["tongue_high"])
    for field, share in (("tongue_low", low), ("tongue_high", high)):
        if share > 50:
            yield (field,), f"{field} must lie between 0 and 50; it is {row[field]}."
    if high < low:
        yield ("tongue_high",), "tongue_high must not be less than tongue_low."


def _driving(row: Row, names: Names) -> _Found:
    if row["day_ends"] <= row["day_starts"]:
        yield ("day_ends",), "day_ends must come after day_starts."


def _dependency(row: Row, names: Names) -> _Found:
    if row["before"] == row["after"]:
        yield (), "a package cannot wait for itself."
    longest = row["max_lag_minutes"]
    if longest is not None and longest < row["min_lag_minutes"]:
        yield (
            ("max_lag_minutes",),
            f"max_lag_minutes, {longest}, is shorter than min_lag_minutes, "
            f"{row['min_lag_minutes']}.",
        )


def _handoff(row: Row, names: Names) -> _Found:
    if row["origin"] == row["destination"]:
        yield (), "origin and destination are the same place."
    if row["drive_with"] and not row["drive_on"]:
        yield ("drive_with",), "drive_with is given without drive_on."
    if row["received_at"] and not row["sent_at"]:
        yield ("received_at",), "received_at is given without sent_at."
    elif _late(row, "sent_at", "received_at"):
        yield ("received_at",), "received_at comes before sent_at."
    for state, field in (("under way", "sent_at"), ("received", "received_at")):
        if row["state"] == state and not row[field]:
            yield ("state",), f"state is “{state}”, but {field} is not given."


def _process(row: Row, names: Names) -> _Found:
    try:
        read_process(row["content"])
    except ProcessError as error:
        for sentence in error.problems:
            yield ("content",), sentence
    else:
        if row["content"]["key"] != row["key"]:
            yield ("content",), f"the key inside is {row['content']['key']}, not {row['key']}."


def _measured(row: Row, names: Names) -> _Found:
    """What criteria and readings have in common."""
    if row["method"] == "gloss" and not row["geometry"]:
        yield ("geometry",), "gloss needs its geometry: 20, 60 or 85."
    if row["method"] != "gloss" and row["geometry"]:
        yield ("geometry",), "only gloss has a geometry."
    if row["method"] == "scale" and row["scale"] is None:
        yield ("scale",), "judging by eye needs the name of its scale."
    low, high = row.get("low"), row.get("high")
    if low is not None and high is not None and Decimal(low) > Decimal(high):
        yield ("high",), f"high, {high}, is below low, {low}."


def _warranty(row: Row, names: Names) -> _Found:
    if row["ends"] < row["starts"]:
        yield ("ends",), f"ends, {row['ends']}, comes before starts, {row['starts']}."


_RULES: dict[str, Callable[[Row, Names], _Found]] = {
    "refit": _refit,
    "papers": _paper,
    "places": _place,
    "crew": _crew_member,
    "packages": _package,
    "distances": _distance,
    "rigs": _rig,
    "driving": _driving,
    "dependencies": _dependency,
    "handoffs": _handoff,
    **CONTRACT_RULES,
    "processes": _process,
    "criteria": _measured,
    "readings": _measured,
    "warranties": _warranty,
}

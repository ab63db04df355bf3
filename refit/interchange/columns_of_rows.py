"""Rows of the database as rows of the document, by the shape of the latter.

Columns carry the same names as the rows of the document, so only references, lists and notation
are translated here.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any, cast

from django.db.models import QuerySet

from .schema import plain, utc

Row = dict[str, Any]
Names = dict[int, str]
Lists = dict[int, list[Any]]


def rows_of(rows: QuerySet[Any]) -> list[Row]:
    return cast(list[Row], list(rows.values()))


def names_of(rows: list[dict[str, Any]], field: str) -> Names:
    return {row["id"]: row[field] for row in rows}


def grouped_of(rows: QuerySet[Any], owner: str, shape: type, **links: Names) -> Lists:
    grouped: Lists = defaultdict(list)
    for row in rows_of(rows):
        grouped[row[owner]].append(row_of(row, shape, **links))
    return grouped


def row_of(values: Row, shape: type, **links: Names | Lists) -> Row:
    """The properties of ``shape`` from the columns in ``values``.

    A property in ``links`` is a reference, looked up by the column ``…_id``, or a list of what
    belongs to this row, looked up by its own id.
    """
    row: Row = {}
    for name in shape.__annotations__:
        if name not in links:
            row[name] = _written(values[name])
        elif f"{name}_id" in values:
            key = values[f"{name}_id"]
            row[name] = None if key is None else links[name][key]
        else:
            row[name] = links[name].get(values["id"], [])
    return row


def _written(value: Any) -> Any:
    match value:
        case datetime():
            return utc(value)
        case date():
            return value.isoformat()
        case time():
            return value.isoformat("minutes")
        case Decimal():
            return plain(value)
    return value

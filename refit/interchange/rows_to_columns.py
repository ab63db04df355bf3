"""Rows of the document as rows of the database, by the columns of the latter."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, TypeVar

from django.db.models import Model

Made = TypeVar("Made", bound=Model)
Row = dict[str, Any]


def stored(
    model: type[Made], rows: Iterable[Any], key: str = "", **links: Model | dict[str, Any]
) -> dict[str, Made]:
    """Insert ``rows``; the stored ones by their ``key``.

    ``links``: a row for all of them, or the rows by name that a property of this name refers to.
    """
    made = model._default_manager.bulk_create(
        model(**columns_of(model, row, links)) for row in rows
    )
    return {getattr(one, key): one for one in made} if key else {}


def columns_of(model: type[Model], row: Any, links: Row | None = None) -> Row:
    """The values of ``row`` as Python values for the columns of ``model`` with the same names."""
    links = links or {}
    columns = {field.name: field for field in model._meta.concrete_fields}
    values: Row = {}
    for name, value in row.items():
        if isinstance(links.get(name), dict):
            values[name] = None if value is None else links[name][value]
        elif name in columns and name not in links:
            values[name] = columns[name].to_python(value)
    values |= {name: one for name, one in links.items() if isinstance(one, Model)}
    return values

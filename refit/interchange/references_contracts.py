"""What is wrong within one row about money: see `references`, which asks."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, TypeAlias

Row: TypeAlias = dict[str, Any]
_Found: TypeAlias = Iterator[tuple[tuple[str | int, ...], str]]


def _quote(row: Row, names: Any) -> _Found:
    if row["state"] in ("answered", "accepted") and row["price"] is None:
        yield ("price",), f"state is “{row['state']}”, but price is not given."


def _instalment(row: Row, names: Any) -> _Found:
    if row["basis"] == "day" and row["day"] is None:
        yield ("day",), "basis is “day”, but day is not given."


def _consent(row: Row, names: Any) -> _Found:
    if row["way"] == "telephone" and not row["phone"]:
        yield ("phone",), "it was given by telephone, but phone, the number called, is not given."


def _payment(row: Row, names: Any) -> _Found:
    if (row["order"] is None) != (row["number"] is None):
        yield (), "order and number name an instalment together: give both or neither."
    given = [name for name in ("order", "goods", "package") if row[name] is not None]
    if len(given) != 1:
        yield (
            (),
            "a payment is for one thing: an instalment, goods or a package.",
        )


def _logged_hours(row: Row, names: Any) -> _Found:
    if (row["person"] is None) == (row["vendor"] is None):
        yield (), "say who worked: person or vendor, one of them."


CONTRACT_RULES: dict[str, Callable[[Row, Any], _Found]] = {
    "quotes": _quote,
    "instalments": _instalment,
    "consents": _consent,
    "payments": _payment,
    "logged_hours": _logged_hours,
}

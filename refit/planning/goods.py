"""Goods that are not there yet: from when on the package that needs them can begin. Pure.

Goods are looked for when the day on which they are expected has begun, for a package starts when
its place opens. Nobody knows when what is neither ordered nor promised will come: that delays
nothing in the plan, it is a thing to do (`order by`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from refit.interchange.document import RefitDocument
from refit.interchange.document_contracts import GoodsRow
from refit.scheduling.problem import Minutes

from .calendars import Clock


@dataclass(frozen=True, slots=True)
class Expected:
    """``day`` is a promise of the supplier, or else reckoned from the order."""

    at: Minutes
    title: str
    day: date
    is_promised: bool


def expected_day(row: GoodsRow) -> date | None:
    """The day on which the goods come, as far as is known; None if they are there, or unknown."""
    if row["arrived_on"] is not None:
        return None
    if row["promised_on"] is not None:
        return date.fromisoformat(row["promised_on"])
    if row["ordered_on"] is not None:
        return date.fromisoformat(row["ordered_on"]) + timedelta(days=row["lead_days"])
    return None


def goods_expected(document: RefitDocument, clock: Clock) -> dict[str, Expected]:
    """The last goods that each package waits for, by its code."""
    found: dict[str, Expected] = {}
    for row in document.get("goods", []):  # documents kept with older plans have none
        day = expected_day(row)
        if day is None:
            continue
        at = clock.minutes_up(datetime.combine(day, time(), clock.zone))
        one = Expected(at, row["title"], day, row["promised_on"] is not None)
        if row["package"] not in found or found[row["package"]].at < at:
            found[row["package"]] = one
    return found

"""Rows of the document laid flat for a sheet, and folded up again.

A flat row has one fact for each column: the pieces of a package by what is done with them, the
opening hours of a place by weekday, the booking of a package beside its other facts.
"""

from __future__ import annotations

from .cells import Row
from .columns_places import PLACES
from .columns_work import PACKAGES
from .schema import the_schema
from .sheet import Sheet


def flatten(sheet: Sheet, row: Row, booking: Row | None = None) -> Row:
    """A row of the document with its parts side by side, one for each column."""
    flat = dict(row)
    if sheet is PLACES:
        for number in range(7):
            flat[f"hours_{number}"] = [
                [span["opens"], span["closes"]]
                for span in row["hours"]
                if span["weekday"] == number
            ]
    if sheet is PACKAGES:
        for effect in ("needs", "takes off", "fits"):
            flat[f"pieces_{effect}"] = [
                use["piece"] for use in row["pieces"] if use["effect"] == effect
            ]
        kind = booking["kind"] if booking else ""
        flat["booked_start"] = booking["at"] if booking and kind == "starts" else None
        flat["not_before"] = booking["at"] if booking and kind == "not before" else None
        flat["agreed_with"] = booking["agreed_with"] if booking else ""
        flat["booking_note"] = booking["note"] if booking else ""
    return flat


def unflatten(sheet: Sheet, flat: Row) -> tuple[Row, Row | None]:
    """The row of the document, and the booking that a package has."""
    properties = the_schema()["$defs"][sheet.row]["properties"]
    row = {name: flat[name] for name in properties if name in flat}
    if sheet is PLACES:
        row["hours"] = [
            {"weekday": number, "opens": opens, "closes": closes}
            for number in range(7)
            for opens, closes in flat[f"hours_{number}"]
        ]
    if sheet is not PACKAGES:
        return row, None
    row["pieces"] = sorted(
        (
            {"piece": tag, "effect": effect}
            for effect in ("needs", "takes off", "fits")
            for tag in flat[f"pieces_{effect}"]
        ),
        key=lambda use: use["piece"],
    )
    at = flat["booked_start"] or flat["not_before"]
    if not at:
        return row, None
    return row, {
        "package": flat["code"],
        "kind": "starts" if flat["booked_start"] else "not before",
        "at": at,
        "agreed_with": flat["agreed_with"],
        "note": flat["booking_note"],
    }

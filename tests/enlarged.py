"""A refit several times as large as another, for counting and timing what pages take."""

from __future__ import annotations

from typing import Any

from refit.interchange.document import RefitDocument


def _again(rows: list[Any], number: int, **renamed: str) -> list[Any]:
    """The rows once more, with the names of what is copied changed. ``renamed``: key to sort."""
    return [
        row | {key: f"{row[key]}-{number}" if row[key] else row[key] for key in renamed}
        for row in rows
    ]


def enlarged(document: RefitDocument, times: int = 3) -> RefitDocument:
    """Each package, piece, dependency, booking, handoff, finding and contract, and copies of it.

    There is still one boat and one launch; the vendors, places and crew stay as they are.
    """
    large: Any = dict(document)
    for number in range(2, times + 1):
        packages = _again(document["packages"], number, code="")
        for package in packages:
            package["is_launch"] = False
            package["pieces"] = _again(package["pieces"], number, piece="")
        pieces = _again(document["pieces"], number, tag="")
        for piece in pieces:
            piece["is_boat"] = False
        large["packages"] = large["packages"] + packages
        large["pieces"] = large["pieces"] + pieces
        for kind, keys in (
            ("dependencies", ("before", "after")),
            ("bookings", ("package",)),
            ("handoffs", ("piece", "for_package", "after_package")),
            ("findings", ("code", "found_in", "piece")),
            ("inquiries", ("code",)),
            ("quotes", ("inquiry",)),
            ("work_orders", ("code",)),
            ("instalments", ("order",)),
            ("change_orders", ("code", "package", "finding")),
            ("goods", ("code", "package")),
            ("payments", ("key", "goods", "package")),
            ("logged_hours", ("key", "package")),
            ("survey_items", ("code", "package")),
            ("criteria", ("name", "package")),
            ("readings", ("package",)),
            ("climate", ("package",)),
            ("inspections", ("package", "criterion")),
            ("punch_items", ("code", "package", "piece")),
            ("batches", ("package",)),
            ("warranties", ("package",)),
            ("fitted_items", ("label", "package")),
        ):
            copies = _again(document[kind], number, **dict.fromkeys(keys, ""))  # type: ignore[literal-required]
            large[kind] = large[kind] + copies
    checked: RefitDocument = large
    return checked

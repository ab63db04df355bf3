"""Rules of one row of a sheet that the refit document itself does not have.

What somebody types side by side must fit together, also where the document could hold it. Each
objection is a column and a sentence. Not here: what one cell means (`cells`), what rows say about
each other (`references`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from refit.work.durations import write_working_time
from refit.work.wording import say_list, say_typed

from .cells import Habits, Row
from .document import HandoffRow

Objection = tuple[str, str]


def package_objections(
    row: Row, owners: Mapping[str, str | None], habits: Habits
) -> Iterator[Objection]:
    """``row``: a flat one; ``owners``: whose each place is."""
    low, likely, high = (row[f"{end}_minutes"] for end in ("low", "likely", "high"))
    if None not in (low, likely, high) and not low <= likely <= high:
        said = say_list(
            [write_working_time(one, habits.hours_a_day) for one in (low, likely, high)]
        )
        yield "likely", f"Low, likely and high must rise; they are {said}."
    if row["booked_start"] and row["not_before"]:
        yield "not before", "Give a booked start or a not-before, not both."
    elif row["agreed_with"] and not (row["booked_start"] or row["not_before"]):
        yield "agreed with", "Nothing is booked, so nobody can have agreed to it."
    seen: set[str] = set()
    for effect, column in (("needs", "pieces"), ("takes off", "takes off"), ("fits", "fits")):
        for tag in row[f"pieces_{effect}"]:
            if tag in seen:
                yield column, f"The piece {say_typed(tag)} is there twice."
            seen.add(tag)
    for fact, column in (("people", "crew"), ("zones", "zones")):
        if len(set(row[fact])) < len(row[fact]):
            yield column, "A name is there twice."
    owner = owners.get(row["place"])
    if row["vendor"] and owner and owner != row["vendor"]:
        said = say_typed(row["place"])
        yield "place", f"The place {said} belongs to another vendor, {owner}."


def is_elsewhere(row: Row, old: Row) -> bool:
    """The piece is said to be where it was not before."""
    return bool((row["place"], row["fitted"]) != (old["place"], old["fitted"]))


def move_objections(row: Row, handoffs: Iterable[HandoffRow]) -> Iterator[Objection]:
    """Against a piece being somewhere else now."""
    if any(one["piece"] == row["tag"] and one["state"] == "under way" for one in handoffs):
        yield "place", "The piece is under way; receive it where it arrives."

"""Who gets which colour, and which lane stands next to which."""

from __future__ import annotations

from collections import Counter
from itertools import combinations

from .courses import Chosen, Courses
from .rows import PlaceRow, Rows

HUES = 7
"""Colours for pieces besides the boat's. The next seven pieces have the same colours and double
lines; from then on they repeat, and only the tags tell them apart."""
QUIET = 2 * HUES + 1
"""The colour number of packages that need no piece."""


def hues_of(rows: Rows) -> dict[int, int]:
    """0 for the boat, 1 to twice `HUES` in turn for the rest, the same whatever part is shown."""
    others = [piece.id for piece in rows.pieces if not piece.is_boat]
    hues = {piece.id: 0 for piece in rows.pieces if piece.is_boat}
    return hues | {piece: at % (2 * HUES) + 1 for at, piece in enumerate(others)}


def order_places(rows: Rows, courses: Courses, chosen: Chosen) -> list[PlaceRow]:
    """Home first, the others so that moves cross few lanes. Deterministic: from the order of
    first use, two places change seats as long as that shortens the moves."""
    trips: Counter[tuple[int, int]] = Counter()
    for way in courses.ways:
        trips[min(way.origin, way.destination), max(way.origin, way.destination)] += 1
    first: dict[int, str] = {}
    for package in rows.packages:
        start = package.start.astimezone(rows.zone).isoformat()
        first[package.place] = min(start, first.get(package.place, start))
    places = sorted(
        (place for place in rows.places if place.id in chosen.places),
        key=lambda place: (not place.is_home, first.get(place.id, "~"), place.name),
    )
    fixed = 1 if places and places[0].is_home else 0
    best = _length(places, trips)
    improved = True
    while improved:
        improved = False
        for one, other in combinations(range(fixed, len(places)), 2):
            changed = list(places)
            changed[one], changed[other] = changed[other], changed[one]
            length = _length(changed, trips)
            if length < best:
                places, best, improved = changed, length, True
    return places


def _length(places: list[PlaceRow], trips: Counter[tuple[int, int]]) -> int:
    seat = {place.id: number for number, place in enumerate(places)}
    return sum(
        count * abs(seat[one] - seat[other])
        for (one, other), count in trips.items()
        if one in seat and other in seat
    )

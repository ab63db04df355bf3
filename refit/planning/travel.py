"""How far apart places are, and how long it takes to get a piece from one to the other.

What the manager entered for a pair comes first, then the straight line between coordinates
stretched by the refit's road factor, then a guess that the plan owns up to. Water crossings break
any factor, which is why a pair can be entered.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, ceil, cos, radians, sin, sqrt

from refit.interchange.document import DistanceRow, PlaceRow, RefitDocument, RefitRow
from refit.scheduling.problem import Minutes

EARTH_RADIUS_KM = 6371.0
"""Mean radius, the value with which the published haversine examples are reckoned."""
GUESS: Minutes = 60
"""Door to door, where nothing is known of a pair (common practice, no source)."""

Position = tuple[float, float]
"""Latitude and longitude in degrees, north and east positive."""


def great_circle_km(first: Position, second: Position) -> float:
    """The shortest way over a spherical earth, by the haversine formula (textbook)."""
    lat1, lon1, lat2, lon2 = map(radians, (*first, *second))
    half = sin((lat2 - lat1) / 2) ** 2 + cos(lat1) * cos(lat2) * sin((lon2 - lon1) / 2) ** 2
    return 2 * EARTH_RADIUS_KM * asin(min(1.0, sqrt(half)))


@dataclass(frozen=True, slots=True)
class Way:
    """From one place to another: ``minutes`` door to door, loading included.

    ``kilometres`` on the road, None if only a time is known; ``guess`` if neither is.
    """

    minutes: Minutes
    kilometres: float | None
    guess: bool = False


class Roads:
    """Ways between the places of one refit, by their names, the same in both directions unless
    each was entered for itself."""

    def __init__(self, document: RefitDocument) -> None:
        self._refit: RefitRow = document["refit"]
        self._rows: dict[tuple[str, str], DistanceRow] = {}
        for row in document["distances"]:
            self._rows[row["origin"], row["destination"]] = row
            self._rows.setdefault((row["destination"], row["origin"]), row)
        self._positions = {place["name"]: _position(place) for place in document["places"]}

    def way(self, origin: str, destination: str) -> Way:
        """KeyError if a place is unknown and no distance was entered for it."""
        if origin == destination:
            return Way(0, 0.0)
        kilometres = self.kilometres(origin, destination)
        row = self._rows.get((origin, destination))
        loading = self._refit["loading_minutes"]
        if row is not None and row["minutes"] is not None:
            return Way(row["minutes"] + loading, kilometres)
        if kilometres is None:
            return Way(GUESS, None, guess=True)
        # Rounding first: 70 km at 70 km/h is 60 minutes, not 61 for a bit of binary dust.
        driving = ceil(round(kilometres * 60 / self._refit["road_speed_kmh"], 6))
        return Way(driving + loading, kilometres)

    def kilometres(self, origin: str, destination: str) -> float | None:
        """Road kilometres as entered, or estimated from the coordinates; None if neither."""
        row = self._rows.get((origin, destination))
        if row is not None and row["kilometres"] is not None:
            return float(row["kilometres"])
        first, second = self._positions[origin], self._positions[destination]
        if first is None or second is None:
            return None
        return great_circle_km(first, second) * float(self._refit["road_factor"])


def _position(place: PlaceRow) -> Position | None:
    latitude, longitude = place["latitude"], place["longitude"]
    if latitude is None or longitude is None:
        return None
    return float(latitude), float(longitude)

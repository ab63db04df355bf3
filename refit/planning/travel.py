"""How far apart places are, and how long it takes to get a piece from one to the other.

What the manager entered for a pair comes first, then the straight line between coordinates
stretched by the refit's road factor, then a guess that the plan owns up to. Water crossings break
any factor, which is why a pair can be entered.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from math import asin, ceil, cos, radians, sin, sqrt

from refit.interchange.document import DistanceRow, PlaceRow, RefitDocument
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


class Known(StrEnum):
    """What a way was reckoned from, the best first."""

    MINUTES = "minutes entered"
    KILOMETRES = "kilometres entered"
    COORDINATES = "coordinates"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Way:
    """From one place to another: ``minutes`` door to door, loading included.

    ``kilometres`` on the road, None if only a time is known.
    """

    minutes: Minutes
    kilometres: float | None
    known: Known = Known.MINUTES

    @property
    def guess(self) -> bool:
        return self.known is Known.NOTHING


@dataclass(frozen=True, slots=True)
class Driving:
    """What the settings of the refit say about roads."""

    factor: float
    kmh: int
    loading: Minutes
    tow_speed: int = 100
    """With the boat behind, in % of the speed without it."""

    @property
    def each_end(self) -> Minutes:
        """Loading at the one end, unloading at the other; both within opening hours."""
        return self.loading // 2

    def towing(self, minutes: Minutes) -> Minutes:
        """What a drive of so many minutes takes with the boat behind. The only place that says
        so: the plan of the refit and its trips must agree."""
        return ceil(minutes * 100 / self.tow_speed)


class Roads:
    """Ways between the places of one refit, by their names, the same in both directions unless
    each was entered for itself."""

    def __init__(
        self,
        driving: Driving,
        positions: Mapping[str, Position | None],
        rows: Iterable[DistanceRow],
    ) -> None:
        self.driving = driving
        self._positions = positions
        self._rows: dict[tuple[str, str], DistanceRow] = {}
        for row in rows:
            self._rows[row["origin"], row["destination"]] = row
            self._rows.setdefault((row["destination"], row["origin"]), row)

    @classmethod
    def of(cls, document: RefitDocument) -> Roads:
        refit = document["refit"]
        return cls(
            Driving(
                float(refit["road_factor"]),
                refit["road_speed_kmh"],
                refit["loading_minutes"],
                document["driving"]["tow_speed"],
            ),
            {place["name"]: _position(place) for place in document["places"]},
            document["distances"],
        )

    def way(self, origin: str, destination: str, *, towed: bool = False) -> Way:
        """``towed``: with the boat behind, which is slower; a guess is the same for all.

        KeyError if a place is unknown and no distance was entered for it.
        """
        way = self._way(origin, destination)
        if not towed or way.guess:
            return way
        driven = max(0, way.minutes - self.driving.loading)
        minutes = way.minutes + self.driving.towing(driven) - driven
        return replace(way, minutes=minutes)

    def _way(self, origin: str, destination: str) -> Way:
        if origin == destination:
            return Way(0, 0.0)
        kilometres, known = self._kilometres(origin, destination)
        row = self._rows.get((origin, destination))
        if row is not None and row["minutes"] is not None:
            return Way(row["minutes"] + self.driving.loading, kilometres)
        if kilometres is None:
            return Way(GUESS, None, known)
        # Rounding first: 70 km at 70 km/h is 60 minutes, not 61 for a bit of binary dust.
        minutes = ceil(round(kilometres * 60 / self.driving.kmh, 6))
        return Way(minutes + self.driving.loading, kilometres, known)

    def _kilometres(self, origin: str, destination: str) -> tuple[float | None, Known]:
        """Road kilometres as entered, or estimated from the coordinates; None if neither."""
        row = self._rows.get((origin, destination))
        if row is not None and row["kilometres"] is not None:
            return float(row["kilometres"]), Known.KILOMETRES
        first, second = self._positions[origin], self._positions[destination]
        if first is None or second is None:
            return None, Known.NOTHING
        return great_circle_km(first, second) * self.driving.factor, Known.COORDINATES


def _position(place: PlaceRow) -> Position | None:
    latitude, longitude = place["latitude"], place["longitude"]
    if latitude is None or longitude is None:
        return None
    return float(latitude), float(longitude)

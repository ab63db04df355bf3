"""A `TripProblem` made ready for questions: ids turned into numbers, nonsense refused."""

from __future__ import annotations

from collections.abc import Iterable

from .problem import Minutes
from .trips_problem import BadTrips, TripProblem


class StatedTrips:
    """Places by number; ``ends``: origin and destination of each move; ``home`` by number."""

    def __init__(self, problem: TripProblem) -> None:
        self.place_ids = [place.id for place in problem.places]
        _once("place", self.place_ids)
        _once("move", [move.id for move in problem.moves])
        _once("rig", [rig.id for rig in problem.rigs])
        _once("day", [day.id for day in problem.days])
        self.numbers = {name: number for number, name in enumerate(self.place_ids)}
        self.spans = [place.spans for place in problem.places]
        self.home = self._number(problem.home, "home")
        self.ends = [
            (self._number(m.origin, m.id), self._number(m.destination, m.id)) for m in problem.moves
        ]
        for move, (origin, destination) in zip(problem.moves, self.ends, strict=True):
            if origin == destination:
                raise BadTrips(f"move {move.id} leads nowhere")
            if move.space < 0 or move.weight < 0:
                raise BadTrips(f"move {move.id} has a size below nothing")
        last = None
        for day in problem.days:
            if day.end <= day.start or (last is not None and day.start < last):
                raise BadTrips(f"day {day.id} is empty or out of order")
            last = day.end
        if problem.drivers < 1 or problem.nights < 0 or problem.stop_minutes < 0:
            raise BadTrips("drivers, nights or minutes at a stop are out of range")
        size = len(self.place_ids)
        self._legs: list[list[tuple[int, Minutes, Minutes] | None]] = [
            [(0, 0, 0) if i == j else None for j in range(size)] for i in range(size)
        ]
        for leg in problem.legs:
            if min(leg.metres, leg.minutes, leg.tow_minutes) < 0:
                raise BadTrips(f"the way from {leg.origin} to {leg.destination} is below nothing")
            i, j = self._number(leg.origin, "a leg"), self._number(leg.destination, "a leg")
            if i != j:
                self._legs[i][j] = (leg.metres, leg.minutes, leg.tow_minutes)
        self._shorten(size)

    def leg(self, origin: int, destination: int, tows: bool) -> tuple[int, Minutes]:
        """Metres and minutes."""
        found = self._legs[origin][destination]
        if found is None:
            pair = f"{self.place_ids[origin]} to {self.place_ids[destination]}"
            raise BadTrips(f"no way is known from {pair}")
        return found[0], found[2] if tows else found[1]

    def _shorten(self, size: int) -> None:
        """Where going by another place is better in every respect, that is the way to go.

        Roads that people enter for some pairs and that are guessed for others need not fit
        together; afterwards a stop less is never a longer way, as far as the numbers allow.
        """
        for via in range(size):
            for i in range(size):
                first = self._legs[i][via]
                if first is None or i == via:
                    continue
                for j in range(size):
                    second, now = self._legs[via][j], self._legs[i][j]
                    if second is None or j in (i, via):
                        continue
                    sums = tuple(a + b for a, b in zip(first, second, strict=True))
                    if now is None or all(s <= n for s, n in zip(sums, now, strict=True)):
                        self._legs[i][j] = (sums[0], sums[1], sums[2])

    def _number(self, place: str, who: str) -> int:
        if place not in self.numbers:
            raise BadTrips(f"{who} names the place {place}, which is not there")
        return self.numbers[place]


def _once(what: str, ids: Iterable[str]) -> None:
    seen: set[str] = set()
    for name in ids:
        if name in seen:
            raise BadTrips(f"the {what} {name} is there twice")
        seen.add(name)

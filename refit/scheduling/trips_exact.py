"""The best trips there are, by looking at all of them: for as many moves as that takes no time.

Day by day: for each set of moves still to be driven, the best that the rest of the days can do.
"""

from __future__ import annotations

from .trips_route import Routes

MOST_MOVES = 7
Choice = tuple[int, tuple[int, ...]]
"""Slot and moves."""


def choose_all(routes: Routes, not_driven: int) -> list[Choice]:
    """The choice with the least cost, a move left behind costing ``not_driven``.

    Exact for the rules of `TripProblem`. At most one trip a rig and ``drivers`` trips a day.
    """
    return _Days(routes, not_driven).best()


class _Days:
    def __init__(self, routes: Routes, not_driven: int) -> None:
        self.routes, self.not_driven = routes, not_driven
        self.drivers = routes.problem.drivers
        count = len(routes.problem.moves)
        self.everything = (1 << count) - 1
        self.trips: list[list[tuple[int, int, tuple[int, ...]]]] = []
        """Of each slot: bits, cost and moves of every trip that can be."""
        for slot in range(len(routes.slots)):
            alone = [m for m in range(count) if routes.alone(slot, m)]
            found: list[tuple[int, int, tuple[int, ...]]] = []
            grown: list[tuple[int, ...]] = [()]
            while grown:
                wider = []
                for moves in grown:
                    for m in alone:
                        if moves and m <= moves[-1]:
                            continue
                        more = (*moves, m)
                        cost = routes.cost(slot, more)
                        if cost is not None:
                            wider.append(more)
                            found.append((sum(1 << x for x in more), cost, more))
                grown = wider
            self.trips.append(found)
        self.kept: dict[object, tuple[int, Choice | None, object]] = {}

    def best(self) -> list[Choice]:
        start = (0, self.everything, ())
        self._value(start)
        chosen: list[Choice] = []
        state: object = start
        while state in self.kept:
            _, choice, state = self.kept[state]
            if choice is not None:
                chosen.append(choice)
        return chosen

    def _value(self, state: tuple[int, int, tuple[tuple[int, int], ...]]) -> int:
        """``busy``, the last part of the state: rigs that are out, and until before which day."""
        if state in self.kept:
            return self.kept[state][0]
        at, left, busy = state
        if at == len(self.routes.slots) or not left:
            value = self.not_driven * left.bit_count()
            self.kept[state] = (value, None, None)
            return value
        slot = self.routes.slots[at]
        busy = tuple(one for one in busy if one[1] > slot.first)
        following = (at + 1, left, busy)
        best = (self._value(following), None, following)
        if len(busy) < self.drivers and all(rig != slot.rig for rig, _ in busy):
            for bits, cost, moves in self.trips[at]:
                if bits & ~left:
                    continue
                out = tuple(sorted((*busy, (slot.rig, slot.first + slot.days))))
                after = (at + 1, left & ~bits, out)
                value = cost + self._value(after)
                # Of equals the earlier day: it leaves time for what goes wrong.
                if value <= best[0]:
                    best = (value, (at, moves), after)  # type: ignore[assignment]
        self.kept[state] = best
        return best[0]

"""Good trips for many moves: built by insertion, then taken apart and put together again.

Every trip tried on the way is remembered by `Routes`; `trips_pool` picks the best set of them.
"""

from __future__ import annotations

from random import Random
from time import perf_counter

from .trips_exact import Choice
from .trips_route import Routes

Chosen = dict[int, tuple[int, ...]]
"""Slot to the moves of its trip."""


class Search:
    """``not_driven``: what a move left behind costs; it must be more than any trip."""

    def __init__(self, routes: Routes, not_driven: int, seed: int = 0) -> None:
        self.routes, self.not_driven = routes, not_driven
        self.random = Random(seed)
        self.drivers = routes.problem.drivers
        count = len(routes.problem.moves)
        self.can: list[list[int]] = [
            [slot for slot in range(len(routes.slots)) if routes.alone(slot, m)]
            for m in range(count)
        ]
        """Of each move, the slots in which it could be driven by itself."""
        self.best: Chosen = {}
        self.best_value = 0

    def value(self, chosen: Chosen) -> int:
        driven = sum(len(moves) for moves in chosen.values())
        left = len(self.can) - driven
        return left * self.not_driven + sum(self._cost(s, m) for s, m in chosen.items())

    def _cost(self, slot: int, moves: tuple[int, ...]) -> int:
        cost = self.routes.cost(slot, moves)
        assert cost is not None
        return cost

    def start(self, chosen: Chosen | None = None) -> None:
        """From ``chosen``, or from nothing; what is missing is inserted."""
        self.best = self._insert(dict(chosen or {}), self._missing(chosen or {}), 0.0)
        self.best_value = self.value(self.best)

    def _missing(self, chosen: Chosen) -> list[int]:
        driven = {m for moves in chosen.values() for m in moves}
        return [m for m in range(len(self.can)) if m not in driven and self.can[m]]

    def run(self, until: float, rounds: int) -> None:
        """Improve `best` until `perf_counter` reads ``until``, or for so many rounds."""
        now, now_value = dict(self.best), self.best_value
        heat = 0.02 * self.best_value / max(1, len(self.best))
        for number in range(rounds):
            if perf_counter() >= until:
                return
            tried = self._shake(now)
            value = self.value(tried)
            warmth = heat * (1 - number / rounds)
            if value < now_value or self.random.random() * warmth > value - now_value:
                now, now_value = tried, value
            if value < self.best_value:
                self.best, self.best_value = dict(tried), value

    def _shake(self, chosen: Chosen) -> Chosen:
        """Take some trips or moves out, those near one another first, and insert them anew."""
        kept = dict(chosen)
        out: list[int] = []
        kind = self.random.random()
        slots = list(kept)
        if kind < 0.35 and slots:  # a few trips that share a place
            first = self.random.choice(slots)
            near = sorted(slots, key=lambda s: -self._kinship(kept[first], kept[s]))
            for slot in near[: self.random.randint(1, 3)]:
                out += kept.pop(slot)
        elif kind < 0.7 and slots:  # moves like this one
            seed = self.random.choice([m for moves in kept.values() for m in moves])
            ends = set(self.routes.stated.ends[seed])
            like = [
                (slot, m)
                for slot, moves in kept.items()
                for m in moves
                if m == seed or ends & set(self.routes.stated.ends[m])
            ]
            self.random.shuffle(like)
            for slot, m in [one for one in like if one[1] == seed] + like[:5]:
                if m not in out:
                    out.append(m)
                    self._take(kept, slot, m)
        else:
            moves = [(slot, m) for slot, ms in kept.items() for m in ms]
            for slot, m in self.random.sample(moves, min(len(moves), self.random.randint(2, 7))):
                out.append(m)
                self._take(kept, slot, m)
        out += [m for m in self._missing(kept) if m not in out]
        return self._insert(kept, out, 0.15)

    def _kinship(self, one: tuple[int, ...], other: tuple[int, ...]) -> float:
        ends = self.routes.stated.ends
        mine = {place for m in one for place in ends[m]}
        theirs = {place for m in other for place in ends[m]}
        return len(mine & theirs) + self.random.random()

    def _take(self, chosen: Chosen, slot: int, m: int) -> None:
        rest = tuple(x for x in chosen.get(slot, ()) if x != m)
        # A part of a trip can be driven where the whole could (fewer stops, no longer way);
        # where entered roads break that, its other moves are inserted anew as well.
        if rest and self.routes.cost(slot, rest) is not None:
            chosen[slot] = rest
        else:
            chosen.pop(slot, None)

    def _insert(self, chosen: Chosen, out: list[int], noise: float) -> Chosen:
        """Each move where it costs least; the one with the fewest days first, a little shuffled."""
        random = self.random
        order = sorted(out, key=lambda m: len(self.can[m]) * (1 + random.random() * noise * 10))
        if noise and random.random() < 0.5:
            random.shuffle(order)
        for m in order:
            best: tuple[float, int] | None = None
            for slot in self.can[m]:
                before = chosen.get(slot, ())
                if not before and not self._is_free(chosen, slot):
                    continue
                cost = self.routes.cost(slot, tuple(sorted((*before, m))))
                if cost is None:
                    continue
                more = cost - (self._cost(slot, before) if before else 0)
                rank = more * (1 + random.random() * noise)
                if best is None or rank < best[0]:
                    best = (rank, slot)
            if best is not None:
                chosen[best[1]] = tuple(sorted((*chosen.get(best[1], ()), m)))
        return chosen

    def _is_free(self, chosen: Chosen, slot: int) -> bool:
        """Whether rig and drivers are at home on all days of the slot."""
        slots = self.routes.slots
        wanted = slots[slot]
        days = range(wanted.first, wanted.first + wanted.days)
        out = dict.fromkeys(days, 0)
        for other in chosen:
            taken = slots[other]
            shared = [d for d in range(taken.first, taken.first + taken.days) if d in out]
            if shared and taken.rig == wanted.rig:
                return False
            for day in shared:
                out[day] += 1
        return all(number < self.drivers for number in out.values())


def as_choices(chosen: Chosen) -> list[Choice]:
    return sorted(chosen.items())

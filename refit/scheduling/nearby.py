"""Plans near a plan: made again only from the first package whose turn changes.

A search tries thousands of orders that differ from the best one in a place or two. Up to there the
plan is the same; so the state of the generation scheme is kept every few turns, and an order is
decoded from the last one that still holds. And it is given up as soon as one package is placed too
late for the launch that is to be reached. The answer is that of `Generation.generate`, which the
tests hold it to.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from heapq import heapify, heappop, heappush

from .generation import Attempt, Generation, Ranks
from .problem import Minutes, Planned

STRIDE = 6
"""Turns between two states that are kept."""


@dataclass(slots=True)
class _State:
    """How far the scheme has come; ``ready``: whose turn may be next."""

    attempt: Attempt
    placed: dict[str, Planned]
    waiting: dict[str, int]
    ready: list[str]


@dataclass(slots=True)
class _Run:
    """One plan and how it was made: the turns, and since which turn each package was ready."""

    ranks: Ranks
    turns: list[str]
    turn: dict[str, int]
    since: dict[str, int]
    states: list[_State]
    dates: dict[str, Planned]


class Nearby:
    """Decodes orders near ``base``, which `settle` chooses. Delays of a plan are not kept."""

    def __init__(self, generation: Generation) -> None:
        self.generation, self.stated = generation, generation.stated
        attempt = generation.nothing_placed()
        self._reserved = generation.reserve(attempt, generation.bookable, {})
        waiting = {name: len(into) for name, into in self.stated.into.items()}
        ready = [name for name, count in waiting.items() if not count]
        self._first = _State(attempt, {}, waiting, ready)
        self._base: _Run | None = None
        self._last: _Run | None = None

    def start(self, ranks: Ranks) -> dict[str, Planned]:
        """The plan of an order, from which others will differ little."""
        self._base = None
        dates = self.plan(ranks, (), None)
        assert dates is not None
        self.settle()
        return dates

    def settle(self) -> None:
        """Go on from the plan that was made last, if it was not None."""
        self._base = self._last

    def plan(
        self, ranks: Ranks, changed: Iterable[str], latest: Mapping[str, Minutes] | None
    ) -> dict[str, Planned] | None:
        """The plan of an order that differs from the base in the ranks ``changed``.

        None if a package starts after its ``latest``, or if the plan is that of the base.
        """
        base, self._last = self._base, None
        if base is None:
            return self._run(ranks, self._first, 0, [], None, latest)
        differs = self._first_difference(base, ranks, changed)
        if differs == len(base.turns):
            return None
        index = min(differs // STRIDE, len(base.states) - 1)
        return self._run(ranks, base.states[index], differs, base.states[:index], base, latest)

    def _first_difference(self, base: _Run, ranks: Ranks, changed: Iterable[str]) -> int:
        """The first turn that another package may have."""
        position, first = self.generation.position, len(base.turns)
        for name in changed:
            turn = base.turn[name]
            if ranks[name] < base.ranks[name]:
                own = ranks[name], position[name]
                for earlier in range(base.since[name], min(turn, first)):
                    other = base.turns[earlier]
                    if own < (base.ranks[other], position[other]):
                        turn = earlier
                        break
            if turn < first and (ranks[name] != base.ranks[name]):
                first = turn
        return first

    def _run(
        self,
        ranks: Ranks,
        state: _State,
        differs: int,
        states: list[_State],
        base: _Run | None,
        latest: Mapping[str, Minutes] | None,
    ) -> dict[str, Planned] | None:
        generation, facts, reserved = self.generation, self.stated.facts, self._reserved
        position, out_of, bound_of = generation.position, self.stated.out_of, generation.bound
        attempt = state.attempt.branch()
        placed, waiting = dict(state.placed), dict(state.waiting)
        turns = list(placed)
        since = {} if base is None else dict(base.since)
        ready = [(ranks[name], position[name], name) for name in state.ready]
        if base is None:
            since.update((name, 0) for _, _, name in ready)
        heapify(ready)
        states = [*states, state]
        count = len(turns)
        while ready:
            if count % STRIDE == 0 and count > (len(states) - 1) * STRIDE:
                names = [name for _, _, name in ready]
                states.append(_State(attempt.branch(), dict(placed), dict(waiting), names))
            name = heappop(ready)[2]
            if name in facts:
                placed[name] = facts[name]
            elif base is not None and count < differs:  # as before
                placed[name] = dates = base.dates[name]
                if name not in reserved:
                    attempt.take(name, dates)
            else:
                bound = bound_of(name, placed)
                if name in reserved:
                    if bound > reserved[name].start:  # a booking must be given up: not here
                        return generation.generate(ranks)
                    placed[name] = reserved[name]
                else:
                    placed[name] = dates = attempt.fit(name, bound)
                    attempt.take(name, dates)
                    if latest is not None and dates.start > latest[name]:
                        return None
            turns.append(name)
            count += 1
            for dependency in out_of[name]:
                after = dependency.after
                waiting[after] = left = waiting[after] - 1
                if not left:
                    since[after] = count
                    heappush(ready, (ranks[after], position[after], after))
        turn = {name: index for index, name in enumerate(turns)}
        self._last = _Run(ranks, turns, turn, since, states, placed)
        return placed

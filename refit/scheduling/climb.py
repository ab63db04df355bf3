"""Changes of order: what holds up the launch is put before what it waits behind.

From the best plan so far; every change is decoded through the generation scheme. A change is kept
if the plan is no worse than it was a while ago (late acceptance; Burke and Bykov 2017, *The late
acceptance hill-climbing heuristic*; named from memory), so that the search gets out of hollows.
"""

from __future__ import annotations

from random import Random

from .priorities import Ranks
from .problem import BeyondHorizon
from .search import Dates, Key, Search
from .slips import latest_starts

ANYWHERE = (0.2, 0.9)
"""Share of changes made just anywhere, not at what holds up the launch; each for a `SPELL`."""
SPELL = 80
MEMORY = 1
"""How many changes ago a plan may have been better than the one kept now."""
PATIENCE = 400
"""Changes without a better plan after which it goes back to the best one."""


class Climb:
    """One search from the best plan; `step` tries one change of order."""

    def __init__(self, search: Search, seed: int) -> None:
        self.search, self.stated = search, search.stated
        self.random = Random(seed)
        self.rivals = self._rivals()
        self.movable = [name for name in self.stated.order if name not in self.stated.facts]
        self.steps = 0
        self._start(search.dates)

    def _rivals(self) -> dict[str, list[str]]:
        """Which others want a resource or a piece of each package, dependencies aside."""
        wants: dict[tuple[str, str], list[str]] = {}
        for name, package in self.stated.packages.items():
            if name not in self.stated.facts:
                for demand in package.demands:
                    wants.setdefault(("resource", demand.resource), []).append(name)
                for piece in package.pieces:
                    wants.setdefault(("piece", piece), []).append(name)
        rivals: dict[str, dict[str, None]] = {name: {} for name in self.stated.order}
        for names in wants.values():
            for name in names:
                rivals[name].update(dict.fromkeys(names))
        return {name: [o for o in found if o != name] for name, found in rivals.items()}

    def _start(self, dates: Dates) -> None:
        self.base = self.search.dates
        self.key = self.search.judge(dates)
        self.memory: list[Key] = [self.key] * MEMORY
        self.count, self.idle = 0, 0
        self._keep(dates, dict(self.search.ranks))

    def _keep(self, dates: Dates, ranks: Ranks) -> None:
        self.dates, self.ranks = dates, ranks
        self._tight: list[str] | None = None

    @property
    def tight(self) -> list[str]:
        """What cannot slip without moving the end of the plan, and could start otherwise."""
        if self._tight is None:
            late = latest_starts(self.stated, self.dates)
            self._tight = [
                name
                for name, planned in self.dates.items()
                if late[name] <= planned.start and self.rivals[name]
            ]
            if not self._tight:
                self._tight = [name for name in self.dates if self.rivals[name]]
        return self._tight

    def step(self) -> bool:
        """Whether the best plan has become better."""
        if self.search.dates is not self.base or self.idle > PATIENCE:
            self._start(self.search.dates)
        if not self.tight or len(self.movable) < 2:
            self.idle += 1
            return False
        self.steps += 1
        ranks = self._changed()
        try:
            dates = self.search.generation.generate(ranks)
        except BeyondHorizon:
            self.idle += 1
            return False
        key = self.search.judge(dates)
        slot = self.count % MEMORY
        self.count, self.idle = self.count + 1, self.idle + 1
        if key[:3] <= self.memory[slot][:3] or key <= self.key:
            if key < self.key:
                self.idle = 0
            self.key = key
            self._keep(dates, ranks)
        self.memory[slot] = self.key
        if self.search.key is not None and key < self.search.key:
            better = self.search.try_ranks(ranks) or self.search.try_dates(dates)
            self.base = self.search.dates
            return better
        return False

    def _changed(self) -> Ranks:
        """The order with one package put next to another, now and then to a rival of its own."""
        random, ranks = self.random, dict(self.ranks)
        if random.random() < ANYWHERE[self.steps // SPELL % len(ANYWHERE)]:
            one, other = random.sample(self.movable, 2)
            ranks[one] = ranks[other] + random.choice((-0.5, 0.5))
            return ranks
        name = random.choice(self.tight)
        near = random.sample(self.rivals[name], min(len(self.rivals[name]), 4))
        other = min(near, key=lambda rival: abs(ranks[rival] - ranks[name]))
        if ranks[other] <= ranks[name]:
            self._before(name, ranks[other] - 0.5, ranks)
        else:
            ranks[name] = ranks[other] + 0.5
        return ranks

    def _before(self, name: str, rank: float, ranks: Ranks) -> None:
        """The package and what it waits for at this rank or earlier."""
        if ranks[name] > rank:
            ranks[name] = rank
            for dependency in self.stated.into[name]:
                self._before(dependency.before, rank - 0.001, ranks)

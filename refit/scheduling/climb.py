"""Changes of order: what holds up the launch is put before what it waits behind.

From the best plan so far; every change is decoded through the generation scheme, as far as it
differs (`nearby`), and given up as soon as some package starts too late for the launch there is.
A change is kept if the plan misses no more and launches no later: of plans that launch at the same
moment there are many, and walking among them finds the way on (plateau moves; Hoos and Stuetzle
2004, *Stochastic local search*, named from memory). Now and then the plan is justified as in
`search`, which never makes it worse and shakes out what slack there is.
"""

from __future__ import annotations

from collections.abc import Mapping
from random import Random

from .calendars import FOREVER
from .nearby import Nearby
from .priorities import Ranks
from .problem import BeyondHorizon, Minutes, Package
from .search import Dates, Search
from .slips import latest_starts
from .steps import Ways
from .windows import latest_starts_by

ANYWHERE = (0.2, 0.9)
"""Share of changes made just anywhere, not at what holds up the launch; each for a `SPELL`."""
SPELL = 80
PATIENCE = 3000
"""Changes without a better plan after which it goes back to the best one."""
STALE = 25
"""Changes kept until it is asked anew what holds up the launch, and the plan is justified: that
takes as long as a few plans. Of 5, 12, 30 and 150, tried on refits of 150 packages, 12 and 30 came
best."""


class Climb:
    """One search from the best plan; `step` tries one change of order."""

    def __init__(self, search: Search, seed: int) -> None:
        self.search, self.stated = search, search.stated
        self.random = Random(seed)
        self.rivals = self._rivals()
        self.movable = [name for name in self.stated.order if name not in self.stated.facts]
        self.nearby, self.ways = Nearby(search.generation), Ways(search.stated)
        self.steps = 0
        self._start()

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

    def _start(self) -> None:
        search = self.search
        self.base, self.idle, self.kept = search.dates, 0, STALE + 1
        self.ranks = dict(search.ranks)
        self.dates = self.nearby.start(self.ranks)
        self.key = search.judge(self.dates)[:3]
        self.tight: list[str] = []
        self._latest = self._in_time()

    def _in_time(self) -> Mapping[str, Minutes] | None:
        """The latest starts that leave the launch where it is; None if something is missed: a
        plan that misses less is better even if it launches later."""
        missed, _, launch = self.key
        if missed:
            return None
        stated, target = self.stated, self.stated.problem.target

        def finish_by(package: Package) -> Minutes:
            return launch if target in (None, package.id) else FOREVER

        return latest_starts_by(
            stated, self.ways, stated.order[::-1], {}, finish_by, lambda package: FOREVER
        )

    def _look_back(self) -> None:
        """Ask what holds up the launch, and justify: whoever could start latest goes last."""
        late = latest_starts(self.stated, self.dates)
        tight = [n for n, at in late.items() if at <= self.dates[n].start and self.rivals[n]]
        self.tight = tight or [name for name in self.dates if self.rivals[name]]
        self.kept = 0
        ranks = {name: float(late[name]) for name in self.stated.order}
        dates = self.nearby.plan(ranks, self.stated.order, self._latest)
        if dates is not None:
            self._take(ranks, dates)

    def step(self) -> bool:
        """Whether the best plan has become better."""
        if self.search.dates is not self.base or self.idle > PATIENCE:
            self._start()
        self.idle += 1
        if len(self.movable) < 2 or not any(self.rivals.values()):
            return False
        self.steps += 1
        try:
            if self.kept > STALE:
                self._look_back()
            ranks, changed = self._changed()
            dates = self.nearby.plan(ranks, changed, self._latest)
        except BeyondHorizon:
            return False
        if dates is not None:
            self._take(ranks, dates)
        if self.search.key is None or self.key >= self.search.key[:3]:
            return False
        better = self.search.try_ranks(self.ranks) or self.search.try_dates(self.dates)
        self.base = self.search.dates
        return better

    def _take(self, ranks: Ranks, dates: Dates) -> None:
        """Go on from this plan, which was decoded last, if it is no worse."""
        key = self.search.judge(dates)[:3]
        if key > self.key:
            return
        better = key < self.key
        self.nearby.settle()
        self.ranks, self.dates, self.key = ranks, dates, key
        self.kept += 1
        if better:
            self.idle, self.kept = 0, STALE + 1
            self._latest = self._in_time()

    def _changed(self) -> tuple[Ranks, list[str]]:
        """The order with one package put next to another, now and then to a rival of its own; and
        which packages have another rank."""
        random, ranks = self.random, dict(self.ranks)
        if random.random() < ANYWHERE[self.steps // SPELL % len(ANYWHERE)]:
            one, other = random.sample(self.movable, 2)
            ranks[one] = ranks[other] + random.choice((-0.5, 0.5))
            return ranks, [one]
        name = random.choice(self.tight)
        near = random.sample(self.rivals[name], min(len(self.rivals[name]), 4))
        other = min(near, key=lambda rival: abs(ranks[rival] - ranks[name]))
        if ranks[other] > ranks[name]:
            ranks[name] = ranks[other] + 0.5
            return ranks, [name]
        changed: list[str] = []
        self._before(name, ranks[other] - 0.5, ranks, changed)
        return ranks, changed

    def _before(self, name: str, rank: float, ranks: Ranks, changed: list[str]) -> None:
        """The package and what it waits for at this rank or earlier."""
        if ranks[name] > rank:
            ranks[name] = rank
            changed.append(name)
            for dependency in self.stated.into[name]:
                self._before(dependency.before, rank - 0.001, ranks, changed)

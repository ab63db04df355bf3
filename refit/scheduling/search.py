"""The best plan so far of one problem, and how another is judged against it.

Here: what is better, and the deterministic steps of `level`. Not here: search against the clock.
"""

from __future__ import annotations

from collections.abc import Mapping

from .check import check
from .generation import Generation, start_for_finish
from .lags import earliest_source, point_of
from .moves import plan_moves
from .priorities import Ranks
from .problem import BeyondHorizon, Dependency, Minutes, Plan, Planned, ShortfallKind
from .shortfalls import find_shortfalls, window_shortfall
from .slips import latest_starts
from .stated import Stated

JUSTIFICATIONS = 3
"""Rounds of justification at most; the gain of a fourth is small (common practice, no source)."""
DELAYS = 4
"""Rounds of delaying one package for one window: a window that a weekend breaks is kept in one."""
WINDOWS = 12
"""Windows that `Search.keep_windows` tries to keep, at most."""

Key = tuple[int, Minutes, Minutes, Minutes]
"""Requirements missed, by how much in all, launch, sum of finishes: less is better."""
Dates = dict[str, Planned]


def plan_of(stated: Stated, dates: Mapping[str, Planned]) -> Plan:
    """The plan with these dates, its moves and what it misses."""
    return Plan(
        packages=tuple(dates[name] for name in stated.packages),
        moves=plan_moves(stated, dates),
        shortfalls=find_shortfalls(stated, dates),
    )


class Search:
    """The best plan so far and the order and delays it came from."""

    def __init__(self, stated: Stated) -> None:
        self.stated = stated
        self.generation = Generation(stated)
        self.key: Key | None = None
        self.dates: Dates = {}
        self.ranks: Mapping[str, float] = {}
        self.releases: dict[str, Minutes] = {}
        self.overrun: BeyondHorizon | None = None
        self.reason: tuple[int, ...] | None = None
        """What a plan must improve on to replace the one before: not just a sum of finishes."""
        self._tried: set[tuple[float, ...]] = set()
        self._asks = any(d.max_lag is not None for d in stated.problem.dependencies) or any(
            p.booked is not None or p.deadline is not None for p in stated.problem.packages
        )
        """Whether there is anything that a plan may miss."""

    def start_from(self, previous: Plan) -> None:
        """The dates of the plan before if they still hold, or else its order."""
        dates = {planned.id: planned for planned in previous.packages}
        if dates.keys() == self.stated.packages.keys():
            self.try_dates(dates)
        self.reason = self.key and self.key[:3]
        self.try_ranks(_order_of(previous, self.stated))
        self.reason = self.key and self.key[:3]

    def try_dates(self, dates: Dates) -> bool:
        """Whether these dates, which may be untrue, give a better plan; kept if so."""
        dates = {**dates, **self.stated.facts}
        try:
            if check(self.stated.problem, plan_of(self.stated, dates)):
                return False
            return self._keep(self.generation.compact(dates), _starts(dates), {})
        except BeyondHorizon:  # dates of a calendar that is no more
            return False

    def try_ranks(self, ranks: Mapping[str, float]) -> bool:
        """Whether this order gives a better plan; kept if so."""
        signature = tuple(ranks[name] for name in self.stated.order)
        if signature in self._tried:
            return False
        self._tried.add(signature)
        return self._try(ranks, self.releases)

    def _try(self, ranks: Mapping[str, float], releases: dict[str, Minutes]) -> bool:
        dates = self._generate(ranks, releases)
        return dates is not None and self._keep(dates, ranks, releases)

    def _generate(self, ranks: Mapping[str, float], releases: dict[str, Minutes]) -> Dates | None:
        try:
            return self.generation.generate(ranks, releases)
        except BeyondHorizon as overrun:
            self.overrun = self.overrun or overrun
            return None

    def _keep(self, dates: Dates, ranks: Mapping[str, float], releases: dict[str, Minutes]) -> bool:
        key = self.judge(dates)
        if self.key is not None and key >= self.key:
            return False
        if self.reason is not None and key[:3] >= self.reason:
            return False
        self.key, self.dates, self.ranks, self.releases = key, dates, ranks, releases
        return True

    def judge(self, dates: Dates) -> Key:
        """How good these dates are."""
        shortfalls = find_shortfalls(self.stated, dates) if self._asks else ()
        finishes = [planned.finish for planned in dates.values()]
        target = self.stated.problem.target
        launch = max(finishes, default=0) if target is None else dates[target].finish
        # a window missed by less is missed all the same: no reason to move the launch
        missed = sum(s.by for s in shortfalls if s.kind is not ShortfallKind.WINDOW)
        return len(shortfalls), missed, launch, sum(finishes)

    def horizon(self) -> Minutes:
        """An end that can be reached, as far as is known by now."""
        dates = self.dates or self.generation.unhindered
        return max((planned.finish for planned in dates.values()), default=0)

    def justify(self) -> None:
        for _ in range(JUSTIFICATIONS):
            if not self.dates:
                return
            late = latest_starts(self.stated, self.dates)
            if not self.try_ranks({name: late[name] for name in self.stated.order}):
                return

    def keep_windows(self) -> None:
        missed = [
            dependency
            for dependency in self.stated.problem.dependencies
            if self._release(dependency, self.dates) is not None
        ]
        for dependency in missed[:WINDOWS]:
            dates, delays = self.dates, dict(self.releases)
            for _ in range(DELAYS):
                release = self._release(dependency, dates)
                if release is None:
                    break
                delays = {**delays, dependency.before: release}
                generated = self._generate(self.ranks, delays)
                if generated is None or self._keep(generated, self.ranks, delays):
                    break
                dates = generated

    def _release(self, dependency: Dependency, dates: Dates) -> Minutes | None:
        """A later start of the first package that would keep the window, if it is missed."""
        if dependency.before in self.stated.facts or not dates:
            return None
        if window_shortfall(self.stated, dependency, dates) is None:
            return None
        point = point_of(dependency, dates[dependency.after])
        source = earliest_source(dependency, point, self.stated.hours)
        if dependency.relation.from_finish:
            package = self.stated.packages[dependency.before]
            source = start_for_finish(self.stated, package, source)
        return source if source > dates[dependency.before].start else None

    def best_dates(self) -> Dates:
        if self.key is None:
            assert self.overrun is not None
            raise self.overrun
        return self.generation.compact(self.dates)


def _starts(dates: Dates) -> Ranks:
    return {name: float(planned.start) for name, planned in dates.items()}


def _order_of(previous: Plan, stated: Stated) -> Ranks:
    """The order in which things started before; what is new comes where its turn is."""
    starts = {planned.id: planned.start for planned in previous.packages}
    ranks: Ranks = {}
    latest = float(stated.now)
    for name in stated.order:
        latest = max((ranks[d.before] for d in stated.into[name]), default=latest)
        ranks[name] = float(starts.get(name, latest))
    return ranks

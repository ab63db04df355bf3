"""CP-SAT on one stretch of a plan after the other.

What starts in a stretch of time is decided anew, what comes before it stays, and what comes behind
is represented by the latest finish that it leaves to each package. All of it is in `climb`'s
reach too; but here a stretch of twenty packages is solved as a whole.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import Protocol

from .calendars import FOREVER
from .exact_model import ExactModel, NoRoom
from .problem import Minutes, Planned
from .search import Dates, Search
from .slips import latest_starts

FEWEST, MOST = 10, 24
"""Packages in a stretch."""
SECONDS = 0.8
"""At most, for one stretch."""


class Clock(Protocol):
    @property
    def left(self) -> float: ...


class Stretches:
    """Answers are left in ``answers`` for somebody else to judge; made for a thread of its own."""

    def __init__(self, search: Search, seed: int) -> None:
        self.search, self.stated, self.seed = search, search.stated, seed
        self.random = Random(seed)
        self.answers: list[dict[str, Minutes]] = []
        self.tried = 0
        self._halted = False
        self._stop: Callable[[], None] | None = None

    def halt(self) -> None:
        self._halted = True
        if self._stop is not None:
            self._stop()

    def work(self, clock: Clock) -> None:
        """Until told to halt, or until the time is over."""
        while not self._halted and clock.left > 0.05:
            self.tried += 1
            answer = self._one(self.search.dates, min(SECONDS, clock.left))
            if answer is not None:
                self.answers.append(answer)

    def _one(self, dates: Dates, seconds: float) -> dict[str, Minutes] | None:
        open_still = [n for n in dates if n not in self.stated.facts]
        open_still.sort(key=lambda name: dates[name].start)
        size = self.random.randint(FEWEST, MOST)
        first = self.random.randint(-size // 2, max(len(open_still) - size // 2, 0))
        names = open_still[max(first, 0) : max(first, 0) + size]
        if len(names) < 2:
            return None
        behind = set(open_still[max(first, 0) + size :])
        due, last = self._due(dates, names)
        fixed = {n: p for n, p in dates.items() if n not in behind}
        try:
            model = ExactModel(
                self.stated,
                self.search.generation,
                dates,
                names=names,
                fixed=fixed,
                until=last,
                horizon=last,
                strict=False,
            )
        except NoRoom:
            return None
        model.minimise_lateness(due)
        self._stop = model.solver.stop_search
        outcome = model.solve(
            seconds=seconds,
            workers=1,
            seed=self.seed + self.tried,
            more={"linearization_level": 0, "cp_model_probing_level": 0},
        )
        if outcome.starts is None or all(
            dates[name].start == start for name, start in outcome.starts.items()
        ):
            return None
        return outcome.starts

    def _due(self, dates: Dates, names: list[str]) -> tuple[dict[str, Minutes], Minutes]:
        """The latest finishes that leave the rest of the plan as it is; how late any may be."""
        late = latest_starts(self.stated, dates)
        due: dict[str, Minutes] = {}
        for name in names:
            planned: Planned = dates[name]
            if planned.start < late[name] < FOREVER:
                planned = self.stated.dates(self.stated.packages[name], late[name])
            due[name] = planned.finish
        return due, max(due.values())

"""Many plans at once, for problems in which hours and pieces decide nothing.

Where everything that is still to be planned is open all the time and needs no piece, a package is
a number of minutes, a dependency a least time from start to start, and the generation scheme can
be run for a whole population of orders in one sweep over arrays: a hundred plans in the time of
a few. On them works a genetic search: of two plans, the part of one in a stretch of time, with the
order of the other around it (Debels and Vanhoucke 2007, *A decomposition-based genetic algorithm
for the resource-constrained project-scheduling problem*; named from memory), each child justified
both ways as in `search`.
"""

from __future__ import annotations

from math import gcd

import numpy as np
from numpy.typing import NDArray

from .problem import Minutes, Planned
from .stated import Stated

Numbers = NDArray[np.int32]
Keys = NDArray[np.float64]
NONE = -(1 << 24)
"""No dependency, in a matrix of least times."""
BROOD = 3
"""Children for each place: large arrays cost little more than small ones."""
LONGEST = 4000
"""Steps of time at most; arrays grow with it."""


class Arrays:
    """A problem as arrays, in steps of ``grain`` minutes from *now*. See `arrays_of`."""

    def __init__(
        self,
        names: list[str],
        grain: Minutes,
        lows: Numbers,
        length: Numbers,
        least: Numbers,
        units: NDArray[np.int16],
        capacity: NDArray[np.int16],
        ends: Numbers,
        target: int | None,
    ) -> None:
        self.names, self.grain, self.lows, self.length = names, grain, lows, length
        self.least, self.units, self.capacity = least, units, capacity
        self.ends, self.target = ends, target

    def turned(self) -> Arrays:
        """The same backwards in time, where nothing has to wait for a day."""
        before, after = np.nonzero(self.least > NONE)
        least = np.full_like(self.least, NONE)
        least[after, before] = self.least[before, after] + self.length[after] - self.length[before]
        return Arrays(
            self.names,
            self.grain,
            np.zeros_like(self.lows),
            self.length,
            least,
            self.units,
            self.capacity,
            self.ends,
            self.target,
        )

    def launches(self, starts: Numbers) -> Numbers:
        ends: Numbers = starts + self.ends
        launches: Numbers = ends[:, self.target] if self.target is not None else ends.max(axis=1)
        return launches


def arrays_of(stated: Stated, lows: dict[str, Planned], horizon: Minutes) -> Arrays | None:
    """The problem as arrays, or None where it is more than they can say."""
    problem, now = stated.problem, stated.now
    packages = [stated.packages[name] for name in stated.order]
    if stated.facts or any(resource.outages for resource in problem.resources):
        return None
    if any(d.max_lag is not None or d.lag_calendar is not None for d in problem.dependencies):
        return None
    for p in packages:
        wishes = (p.booked, p.deadline, p.promised)
        if p.pieces or p.unbroken or any(wish is not None for wish in wishes):
            return None
        if p.hold and len({demand.through_hold for demand in p.demands}) > 1:
            return None
        hours = stated.hours[p.calendar]
        if p.work and not (
            len(hours.starts) == 1 and hours.starts[0] <= now and hours.ends[0] >= 2 * horizon - now
        ):
            return None
    held = [p.work + p.hold * any(d.through_hold for d in p.demands) for p in packages]
    starts = [lows[p.id].start - now for p in packages]
    numbers = [p.work for p in packages] + [p.hold for p in packages] + starts
    grain = gcd(*numbers, *(d.min_lag for d in problem.dependencies)) or 1
    if (horizon - now) // grain > LONGEST:
        return None
    index = {p.id: i for i, p in enumerate(packages)}
    ends = np.array([(p.work + p.hold) // grain for p in packages], dtype=np.int32)
    least = np.full((len(packages), len(packages)), NONE, dtype=np.int32)
    for d in problem.dependencies:
        i, j = index[d.before], index[d.after]
        time = d.min_lag // grain + (ends[i] if d.relation.from_finish else 0)
        time -= 0 if d.relation.to_start else ends[j]
        least[i, j] = max(least[i, j], time)
    resources = {resource.id: i for i, resource in enumerate(problem.resources)}
    units = np.zeros((len(packages), len(resources)), dtype=np.int16)
    for p in packages:
        for demand in p.demands:
            units[index[p.id], resources[demand.resource]] = demand.units
    return Arrays(
        [p.id for p in packages],
        grain,
        np.array(starts, dtype=np.int32) // grain,
        np.array(held, dtype=np.int32) // grain,
        least,
        units,
        np.array([resource.capacity for resource in problem.resources], dtype=np.int16),
        ends,
        None if problem.target is None else index[problem.target],
    )


class Batch:
    """The generation scheme for many orders at once, one row each."""

    def __init__(self, arrays: Arrays, horizon: int) -> None:
        self.arrays = arrays
        self.linked = arrays.least > NONE
        self.waits = self.linked.sum(axis=0)
        self.longest = int(arrays.length.max(initial=1))
        self.horizon = horizon
        self.times = np.arange(horizon + 2 * self.longest + 2, dtype=np.int16)

    def generate(self, keys: Keys) -> Numbers:
        """Starts; of each row the lower keys first, as far as dependencies permit."""
        arrays, (rows, size) = self.arrays, keys.shape
        free = np.empty((len(arrays.capacity), rows, len(self.times)), dtype=np.int16)
        free[:] = arrays.capacity[:, None, None]
        starts = np.zeros((rows, size), dtype=np.int32)
        earliest = np.tile(arrays.lows, (rows, 1))
        waits = np.tile(self.waits, (rows, 1))
        later, row, last = keys.copy(), np.arange(rows), 0
        for _ in range(size):
            chosen = np.where(waits == 0, later, np.inf).argmin(axis=1)
            bound, length = earliest[row, chosen], arrays.length[chosen]
            units = arrays.units[chosen]
            at = self._first(free, bound, length, units, last)
            starts[row, chosen] = at
            end = at + length
            last = max(last, int(end.max()))
            self._take(free, at, end, units)
            np.maximum(earliest, at[:, None] + arrays.least[chosen], out=earliest)
            waits -= self.linked[chosen]
            later[row, chosen] = np.inf
        return starts

    def _first(
        self,
        free: NDArray[np.int16],
        bound: Numbers,
        length: Numbers,
        units: NDArray[np.int16],
        last: int,
    ) -> Numbers:
        """The first start of each row from its bound on at which all units stay free."""
        low, high = int(bound.min()), max(int(bound.max()), last) + self.longest + 1
        window = slice(low, min(high, len(self.times)))
        short = np.zeros((len(bound), window.stop - low), dtype=bool)
        for resource in np.flatnonzero(units.any(axis=0)):
            short |= free[resource, :, window] < units[:, resource, None]
        if not short.any():
            return bound
        times = self.times[window]
        taken = np.where(short, times, np.int16(-1))
        np.maximum(taken, (bound - 1).astype(np.int16)[:, None], out=taken)
        np.maximum.accumulate(taken, axis=1, out=taken)
        least = np.maximum(length, 1)
        enough = times - taken >= least.astype(np.int16)[:, None]
        first: Numbers = times[enough.argmax(axis=1)] - least + 1
        return np.where(length > 0, first, bound)

    def _take(
        self, free: NDArray[np.int16], at: Numbers, end: Numbers, units: NDArray[np.int16]
    ) -> None:
        low, high = int(at.min()), int(end.max())
        times = self.times[low:high]
        first, last = at.astype(np.int16)[:, None], end.astype(np.int16)[:, None]
        inside = (times >= first) & (times < last)
        for resource in np.flatnonzero(units.any(axis=0)):
            free[resource, :, low:high] -= inside * units[:, resource, None]


class Population:
    """A genetic search; `step` makes one more generation."""

    def __init__(
        self, arrays: Arrays, horizon: int, first: Numbers, *, size: int, seed: int
    ) -> None:
        self.arrays, self.size = arrays, size
        self.random = np.random.default_rng(seed)
        longest = 2 * horizon + 2
        self.forward, self.backward = Batch(arrays, longest), Batch(arrays.turned(), longest)
        spread = np.linspace(0, 0.15 * max(int(first.max()), 1), size)[:, None]
        keys = first + self.random.normal(0, 1, (size, len(first))) * spread
        self.starts = self._justified(keys)
        self.launch = arrays.launches(self.starts)

    @property
    def best(self) -> tuple[int, Numbers]:
        row = int(self.launch.argmin())
        return int(self.launch[row]), self.starts[row]

    def dates(self, starts: Numbers, now: Minutes) -> dict[str, Minutes]:
        grain = self.arrays.grain
        return {n: now + grain * int(s) for n, s in zip(self.arrays.names, starts, strict=True)}

    def step(self) -> bool:
        """One generation; whether the best plan has become better."""
        before, random = self.launch.min(), self.random
        mothers, fathers = self.starts[self._chosen()], self.starts[self._chosen()]
        middle = self.arrays.length / 2
        end = mothers.max(axis=1)
        stretch = end * random.uniform(0.25, 0.75, len(end))
        begin = random.uniform(0, 1, len(end)) * (end - stretch)
        inside = (mothers + middle >= begin[:, None]) & (
            mothers + middle <= (begin + stretch)[:, None]
        )
        far = 10.0 * float(end.max() + 1)
        front = fathers + middle < (begin + stretch / 2)[:, None]
        keys = np.where(inside, mothers, fathers + np.where(front, -far, far))
        changed = random.random(keys.shape) < 0.05
        keys += changed * random.normal(0, 0.05 * float(end.max() + 1), keys.shape)
        children = self._justified(keys)
        self._survive(children)
        return bool(self.launch.min() < before)

    def _chosen(self) -> NDArray[np.intp]:
        """The better of two, as often as there are to be children."""
        one, other = self.random.integers(0, self.size, (2, BROOD * self.size))
        better: NDArray[np.intp] = np.where(self.launch[one] <= self.launch[other], one, other)
        return better

    def _justified(self, keys: Keys) -> Numbers:
        """Plans of these orders, or those that pushing late and early again makes of them."""
        length = self.arrays.length
        plain = self.forward.generate(keys)
        late = self.backward.generate(-(plain + length).astype(np.float64))
        again = self.forward.generate(-(late + length).astype(np.float64))
        better = self.arrays.launches(again) <= self.arrays.launches(plain)
        kept: Numbers = np.where(better[:, None], again, plain)
        return kept

    def _survive(self, children: Numbers) -> None:
        """The best of old and new, each plan once."""
        every = np.vstack((self.starts, children))
        launch = np.concatenate((self.launch, self.arrays.launches(children)))
        order = np.lexsort((every.sum(axis=1), launch))
        kept: dict[bytes, int] = {}
        for row in order:
            kept.setdefault(every[row].tobytes(), int(row))
            if len(kept) == self.size:
                break
        rows = list(kept.values())
        rows += [rows[0]] * (self.size - len(rows))
        self.starts, self.launch = every[rows], launch[rows]

"""What may happen to each package in each run: working times and lateness, drawn from a seed.

Here: the two shapes of a three-point estimate as quantiles, what a vendor's lateness is made of,
how draws of one vendor go together. Not here: what the draws do to dates (`simulate`).

Every package has a stream of random numbers of its own, made from the seed and its id. So the
same package has the same luck in the plan of today and of tomorrow, and what differs between two
answers is what differs between two plans.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from hashlib import blake2b
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from .problem import BadProblem, Minutes, Package, Problem
from .run_hours import RunHours, Runs
from .stated import Stated
from .three_point import ThreePoint

Reals = NDArray[np.float32]
"""Half a minute in a year is exact enough for what is drawn, and twice as fast."""
Table = NDArray[np.float64]

STEPS = 2048
"""Steps of equal probability in a table of quantiles; linear in between."""
FINE = 4 * STEPS
WIDEST = 8.0
"""Standard deviations at which the table of the normal distribution ends: it is flat there."""


class Shape(StrEnum):
    """How low, likely and high are read.

    ``PERT_BETA``: a beta distribution on [low, high] with mean (low + 4 likely + high) / 6; see
    `three_point` for the source of the mean. Its parameters are 1 + 4 m and 5 - 4 m, m being where
    likely stands between low and high (the usual reading; from memory, no source).
    ``TRIANGULAR``: density straight from low up to likely and down to high.
    """

    PERT_BETA = "PERT-beta"
    TRIANGULAR = "triangular"


@dataclass(frozen=True, slots=True)
class Lateness:
    """How late one vendor hands back.

    ``minutes``: working minutes late, one figure for each case that is known or assumed, each as
    likely as the other; early counts as 0, since what comes next is planned for the day agreed.
    ``packages``: at the end of each of these the vendor is late by a figure of its own.
    ``correlation``: how much these go together, from 0 (not) to 1 (one luck for all): a Gaussian
    copula with one factor for the vendor, which its working times share. ``fixed_work``: packages
    whose working time is not drawn, because ``minutes`` was measured and holds that already.
    """

    vendor: str
    minutes: tuple[Minutes, ...]
    packages: tuple[str, ...]
    correlation: float = 0.5
    fixed_work: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.minutes or min(self.minutes) < 0:
            raise BadProblem(f"lateness of {self.vendor}: figures of 0 minutes or more are needed")
        if not 0 <= self.correlation <= 1:
            raise BadProblem(f"lateness of {self.vendor}: correlation {self.correlation}")


@dataclass(frozen=True, slots=True)
class Draws:
    """One array a package, one figure a run; what is certain has none.

    ``work``: working minutes, of a package begun those that remain. ``late``: working minutes
    from the end of the work (or from its promise, if that comes later) until it is handed back.
    """

    runs: int
    work: Mapping[str, Runs]
    late: Mapping[str, Runs]


def draw(
    problem: Problem, *, runs: int, seed: int, late: tuple[Lateness, ...] = (), shape: Shape
) -> Draws:
    """Draws for everything that has not ended. Raises BadProblem for figures that do not rise,
    for a package in ``late`` that is unknown or named by two vendors."""
    return draw_stated(Stated(problem), runs=runs, seed=seed, late=late, shape=shape)


def draw_stated(
    stated: Stated, *, runs: int, seed: int, late: tuple[Lateness, ...], shape: Shape
) -> Draws:
    vendor_of: dict[str, Lateness] = {}
    for lateness in late:
        for name in {*lateness.packages, *lateness.fixed_work}:
            if name not in stated.packages:
                raise BadProblem(f"lateness of {lateness.vendor} names the unknown package {name}")
            if name in vendor_of:
                raise BadProblem(f"package {name} has the lateness of two vendors")
            vendor_of[name] = lateness
    factors = {
        one.vendor: _normal(_stream(seed, "vendor", one.vendor), runs)
        * np.float32(np.sqrt(one.correlation))
        for one in late
    }
    work: dict[str, Runs] = {}
    lates: dict[str, Runs] = {}
    for name, package in stated.packages.items():
        if package.progress is not None and package.progress.finished is not None:
            continue
        lateness_here = vendor_of.get(name)
        stream = _stream(seed, "package", name)
        if lateness_here is None or name not in lateness_here.fixed_work:
            drawn = _work(stated, package, shape, stream, runs, lateness_here, factors)
            if drawn is not None:
                work[name] = drawn
        if lateness_here is not None and name in lateness_here.packages:
            figures = np.sort(np.array(lateness_here.minutes, dtype=np.int32))
            if figures[-1] > 0:
                u = _probabilities(_stream(seed, "return", name), runs, lateness_here, factors)
                which = np.minimum((u * len(figures)).astype(np.int32), len(figures) - 1)
                lates[name] = figures.take(which)
    return Draws(runs, work, lates)


def _stream(seed: int, kind: str, name: str) -> np.random.Generator:
    digest = blake2b(f"{kind} {name}".encode(), digest_size=8).digest()
    return np.random.Generator(np.random.PCG64([seed, int.from_bytes(digest)]))


def _normal(stream: np.random.Generator, runs: int) -> Reals:
    return stream.standard_normal(runs, dtype=np.float32)


def _probabilities(
    stream: np.random.Generator,
    runs: int,
    lateness: Lateness | None,
    factors: Mapping[str, Reals],
) -> Reals:
    """Uniform on [0, 1); together with the vendor's factor (weighted already) if there is one."""
    if lateness is None or lateness.correlation == 0:
        return stream.random(runs, dtype=np.float32)
    z = _normal(stream, runs)
    z *= np.float32(np.sqrt(1 - lateness.correlation))
    z += factors[lateness.vendor]
    return _below(z)


def _work(
    stated: Stated,
    package: Package,
    shape: Shape,
    stream: np.random.Generator,
    runs: int,
    lateness: Lateness | None,
    factors: Mapping[str, Reals],
) -> Runs | None:
    """Working minutes in each run, None where they are certain. Work stays work: a minute at
    least, and work to be done in one go as much as can be. Of a package begun, what remains grows
    or shrinks in proportion."""
    likely = package.work
    low = likely if package.low is None else package.low
    high = likely if package.high is None else package.high
    try:
        ThreePoint(low, likely, high)
    except BadProblem as error:
        raise BadProblem(f"package {package.id}: {error}") from None
    if low < 0:
        raise BadProblem(f"package {package.id}: low is {low} minutes, less than none")
    if low == high or likely == 0:
        return None
    low_end, high_end = float(low), float(high)
    if package.progress is not None:
        done_to_do = stated.remaining(package) / likely
        if done_to_do == 0:
            return None
        low_end, high_end = low_end * done_to_do, high_end * done_to_do
    u = _probabilities(stream, runs, lateness, factors)
    share = _look_up(quantiles(shape, (likely - low) / (high - low)).astype(np.float32), u)
    share *= high_end - low_end
    share += low_end
    drawn: Runs = np.rint(share).astype(np.int32)
    np.maximum(drawn, np.int32(1), out=drawn)
    if package.unbroken and package.progress is None:
        hours = stated.hours[package.calendar]
        longest = RunHours(package.calendar, hours.starts, hours.ends).longest
        np.minimum(drawn, np.int32(longest), out=drawn)
    return drawn


def _look_up(table: Reals, u: Reals) -> Reals:
    """Between equal steps of probability, straight lines."""
    place = u * (len(table) - 1)
    index = place.astype(np.int32)
    np.minimum(index, len(table) - 2, out=index)
    place -= index
    low = table.take(index)
    place *= table.take(index + np.int32(1)) - low
    place += low
    return place


@lru_cache(maxsize=512)
def quantiles(shape: Shape, likely: float) -> Table:
    """The quantiles at 0, 1/STEPS, ..., 1 of a shape between 0 and 1 whose mode is ``likely``."""
    u = np.linspace(0.0, 1.0, STEPS + 1)
    if shape is Shape.TRIANGULAR:
        up = np.sqrt(u * likely)
        down = 1 - np.sqrt((1 - u) * (1 - likely))
        triangular: Table = np.where(u < likely, up, down)
        return triangular
    # Beta by summing its density. With x = sin(t)^2 nothing is steep at the ends.
    p, q = 1 + 4 * likely, 5 - 4 * likely
    t = np.linspace(0.0, np.pi / 2, FINE + 1)
    density = np.sin(t) ** (2 * p - 1) * np.cos(t) ** (2 * q - 1)
    below = np.concatenate(([0.0], np.cumsum((density[1:] + density[:-1]) / 2)))
    beta: Table = np.interp(u, below / below[-1], np.sin(t) ** 2)
    return beta


@lru_cache(maxsize=1)
def _normal_table() -> Reals:
    normal = NormalDist()
    below = [normal.cdf(z) for z in np.linspace(-WIDEST, WIDEST, FINE + 1)]
    return np.array(below, dtype=np.float32)


def _below(z: Reals) -> Reals:
    """The probability that a standard normal figure is less. Overwrites its argument."""
    z += np.float32(WIDEST)
    z *= np.float32(0.5 / WIDEST)
    np.minimum(np.maximum(z, 0, out=z), 1, out=z)
    return _look_up(_normal_table(), z)

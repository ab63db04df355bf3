"""Three-point estimates: mean and variance of one piece of work, and how sure a path is.

The classical formulas, which treat a path as a sum of independent times with a normal total. They
look at one path only, so they are too hopeful where several paths are nearly as long; and they
know no calendars. Good for a first figure; simulation answers the question properly.

Source: Malcolm, Roseboom, Clark and Fazar, "Application of a Technique for Research and
Development Program Evaluation", Operations Research 7 (1959) 646-669 (cited from memory).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

from .problem import BadProblem


@dataclass(frozen=True, slots=True)
class ThreePoint:
    """Low, most likely and high, in any one unit. BadProblem unless low <= likely <= high."""

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.likely <= self.high:
            raise BadProblem(
                f"a three-point estimate has to rise: {self.low}, {self.likely}, {self.high}"
            )

    @property
    def mean(self) -> float:
        """(low + 4 likely + high) / 6"""
        return (self.low + 4 * self.likely + self.high) / 6

    @property
    def variance(self) -> float:
        """((high - low) / 6) squared: the range is taken to be six standard deviations wide."""
        return ((self.high - self.low) / 6) ** 2


def probability_within(limit: float, path: Iterable[ThreePoint]) -> float:
    """The probability that the whole path takes no longer than ``limit`` (normal approximation)."""
    steps = tuple(path)
    mean = sum(step.mean for step in steps)
    variance = sum(step.variance for step in steps)
    if variance == 0:
        return 1.0 if mean <= limit else 0.0
    return NormalDist(mean, sqrt(variance)).cdf(limit)

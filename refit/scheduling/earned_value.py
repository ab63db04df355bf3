"""Earned value and earned schedule: is the work done worth its money, and how far along is it?

Here: the published figures, computed from three amounts and from a curve. What counts as earned,
and in which periods the curve is read, is the caller's to say. Not here: dates and packages.

Amounts may be any currency, times any unit (weeks, months), the same throughout. Everything is
exact if the amounts are (`Fraction`, `Decimal`); nothing is rounded.

Sources: the terms and formulas of earned value are common textbook stock (named from memory, no
source read). Earned schedule: Lipke, "Schedule is different", The Measurable News (2003), its
formulas as published.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from .problem import BadProblem


@dataclass(frozen=True, slots=True)
class EarnedValue:
    """Where the work stands at one moment, in money.

    ``planned`` (PV): what should have been done by now, at its budget. ``earned`` (EV): what has
    been done, at its budget. ``actual`` (AC): what it has cost. ``budget`` (BAC): all of it.
    BadProblem if an amount is negative, or more is planned or earned than there is budget.
    """

    planned: Fraction
    earned: Fraction
    actual: Fraction
    budget: Fraction

    def __post_init__(self) -> None:
        for name in ("planned", "earned", "actual", "budget"):
            if getattr(self, name) < 0:
                raise BadProblem(f"{name} is {getattr(self, name)}, less than nothing")
        for name in ("planned", "earned"):
            if getattr(self, name) > self.budget:
                raise BadProblem(f"{name} is {getattr(self, name)}, more than the whole budget")

    @property
    def cost_variance(self) -> Fraction:
        """CV = EV - AC: below zero it has cost more than it is worth."""
        return self.earned - self.actual

    @property
    def schedule_variance(self) -> Fraction:
        """SV = EV - PV, in money: below zero less has been done than planned."""
        return self.earned - self.planned

    @property
    def cost_index(self) -> Fraction | None:
        """CPI = EV / AC; None before anything has been spent."""
        return self.earned / self.actual if self.actual else None

    @property
    def schedule_index(self) -> Fraction | None:
        """SPI = EV / PV; None before anything was planned. Drifts back to 1 as late work ends:
        `EarnedSchedule` does not."""
        return self.earned / self.planned if self.planned else None

    @property
    def estimate_at_completion(self) -> Fraction | None:
        """EAC = BAC / CPI: what all will cost if it goes on like this. None if nothing is earned
        or spent yet."""
        return self.budget / self.cost_index if self.cost_index else None

    @property
    def index_to_complete(self) -> Fraction | None:
        """TCPI = (BAC - EV) / (BAC - AC): how well the rest must go to end within the budget.
        None once the budget is spent."""
        left = self.budget - self.actual
        return (self.budget - self.earned) / left if left > 0 else None


@dataclass(frozen=True, slots=True)
class EarnedSchedule:
    """Where the work stands at one moment, in time.

    ``earned`` (ES): the time at which what has been done should have been done. ``actual`` (AT):
    the time that has passed. ``planned`` (PD): how long all of it was to take.
    """

    earned: Fraction
    actual: Fraction
    planned: Fraction

    @property
    def variance(self) -> Fraction:
        """SV(t) = ES - AT: below zero, so many periods behind."""
        return self.earned - self.actual

    @property
    def index(self) -> Fraction | None:
        """SPI(t) = ES / AT; None at the very beginning."""
        return self.earned / self.actual if self.actual else None

    @property
    def estimate_at_completion(self) -> Fraction | None:
        """IEAC(t) = PD / SPI(t): how long all will take at this pace. None if nothing is earned."""
        return self.planned / self.index if self.index else None


def earned_schedule(
    curve: Sequence[Fraction | int], earned: Fraction | int, actual: Fraction | int
) -> EarnedSchedule:
    """Read ``earned`` off the planned curve.

    ``curve``: what is planned to be done by the end of period 1, 2, ..., cumulative, the last being
    the whole budget. ES = C + (EV - PV_C) / (PV_C+1 - PV_C), C being the last period by the end of
    which no more than EV was planned. BadProblem if the curve falls, is empty, or never gets there.
    """
    points = [Fraction(0), *(Fraction(value) for value in curve)]
    if len(points) < 2 or any(b < a for a, b in pairwise(points)):
        raise BadProblem("a planned curve has at least one period and never falls")
    value = Fraction(earned)
    if not 0 <= value <= points[-1]:
        raise BadProblem(f"{earned} earned is not on a curve from 0 to {curve[-1]}")
    # All that is planned is earned at the first moment it was planned to be, not at the last.
    planned = Fraction(next(i for i, point in enumerate(points) if point == points[-1]))
    if value == points[-1]:
        return EarnedSchedule(planned, Fraction(actual), planned)
    full = max(i for i, point in enumerate(points) if point <= value)
    part = (value - points[full]) / (points[full + 1] - points[full])
    return EarnedSchedule(full + part, Fraction(actual), planned)

"""What the manager's own finished packages say about working time. Pure.

One package finished is one rate: minutes for one unit. The likely one is their median, the low and
the high are the quickest and the slowest; while there are fewer than three, the spread of the
process is laid round the median.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from statistics import median

from .process import Process, Step

FEW = 3


@dataclass(frozen=True)
class OwnRate:
    """``of`` packages; minutes for one unit, low, likely and high; said to five minutes."""

    of: int
    low: float
    likely: float
    high: float

    def minutes(self, quantity: Decimal | None) -> tuple[int, int, int]:
        many = 1.0 if quantity is None else float(quantity)
        low, likely, high = (
            5 * round(one * many / 5) for one in (self.low, self.likely, self.high)
        )
        return low, likely, high


def own_rate(step: Step, done: Sequence[tuple[float, Decimal | None]]) -> OwnRate | None:
    """``done``: minutes worked and quantity of each finished package of this step."""
    rates = sorted(
        minutes / (1.0 if quantity is None else float(quantity))
        for minutes, quantity in done
        if minutes > 0 and (quantity is None or quantity > 0)
    )
    if not rates:
        return None
    likely = median(rates)
    if len(rates) >= FEW:
        return OwnRate(len(rates), rates[0], likely, rates[-1])
    told = [setup + each for setup, each in zip(step.time.setup, step.time.each, strict=True)]
    low, high = (told[0] / told[1], told[2] / told[1]) if told[1] else (1.0, 1.0)
    return OwnRate(len(rates), likely * low, likely, likely * high)


def share_of_whole(
    process: Process, step: Step, done: Sequence[tuple[float, Decimal | None]]
) -> list[tuple[float, Decimal | None]]:
    """A step's part of packages that did the whole process, as the process shares its time out."""
    shared = []
    for minutes, quantity in done:
        whole = sum(one.time.of(quantity)[1] for one in process.steps)
        if whole:
            shared.append((minutes * step.time.of(quantity)[1] / whole, quantity))
    return shared

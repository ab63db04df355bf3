"""Lengths, weights and distances in the refit's choice of units. Stored metric, always.

The foot is 0.3048 m and the pound 0.45359237 kg, exactly: international yard and pound agreement
of 1959 (NIST Special Publication 811, 2008, appendix B.8; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from refit.work.models import Units

METRES_A_FOOT = Decimal("0.3048")
KILOGRAMS_A_POUND = Decimal("0.45359237")
KILOMETRES_A_MILE = Decimal("1.609344")


@dataclass(frozen=True)
class Measure:
    """A unit people see: its sign, its size in the stored unit, decimals shown and stored."""

    sign: str
    size: Decimal
    shown: int
    stored: int

    def show(self, stored: Decimal) -> str:
        """The number without its sign, without trailing zeros: “7.4”."""
        value = _rounded(stored / self.size, self.shown)
        text = f"{value:f}"
        return text.rstrip("0").rstrip(".") if "." in text else text

    def store(self, shown: Decimal) -> Decimal:
        return _rounded(shown * self.size, self.stored)

    def say(self, stored: Decimal | None) -> str:
        """“7.4 m”; nothing for None."""
        return "" if stored is None else f"{self.show(stored)} {self.sign}"


def _rounded(value: Decimal, places: int) -> Decimal:
    return value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)


def length(units: str) -> Measure:
    if units == Units.US:
        return Measure("ft", METRES_A_FOOT, shown=2, stored=3)
    return Measure("m", Decimal(1), shown=3, stored=3)


def weight(units: str) -> Measure:
    if units == Units.US:
        return Measure("lb", KILOGRAMS_A_POUND, shown=1, stored=2)
    return Measure("kg", Decimal(1), shown=2, stored=2)


def distance(units: str) -> Measure:
    if units == Units.US:
        return Measure("mi", KILOMETRES_A_MILE, shown=1, stored=2)
    return Measure("km", Decimal(1), shown=2, stored=2)

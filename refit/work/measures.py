"""Lengths, weights and distances in the refit's choice of units. Stored metric, always.

The foot is 0.3048 m, the pound 0.45359237 kg and the mile 5280 ft, exactly: international yard and
pound agreement of 1959 (NIST Special Publication 811, 2008, appendix B.8; from memory). The
columns of the database are in `refit.work.models.measures`.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from .models import Units
from .numbers import UnreadableNumber, read_number
from .wording import say_typed


@dataclass(frozen=True)
class Measure:
    """A unit people see: its sign, its size in the stored unit, decimals shown and stored."""

    sign: str
    size: Decimal
    shown: int
    stored: int

    def show(self, stored: Decimal) -> str:
        """The number without its sign, without trailing zeros: “7.4”."""
        text = f"{_rounded(stored / self.size, self.shown):f}"
        return text.rstrip("0").rstrip(".") if "." in text else text

    def store(self, shown: Decimal) -> Decimal:
        return _rounded(shown * self.size, self.stored)

    def read(self, text: str) -> Decimal:
        """What to store for “7,4” or “7.4 m”. Raises `UnreadableNumber`, also below nothing."""
        number = read_number(text.strip().removesuffix(self.sign).rstrip())
        if number < 0:
            raise UnreadableNumber(f"{say_typed(text)}: it must not be less than 0.")
        return self.store(number)

    def say(self, stored: Decimal | None) -> str:
        """“7.4 m”; nothing for None."""
        return "" if stored is None else f"{self.show(stored)} {self.sign}"


def _rounded(value: Decimal, places: int) -> Decimal:
    return value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)


METRE = Measure("m", Decimal(1), shown=3, stored=3)
FOOT = Measure("ft", Decimal("0.3048"), shown=2, stored=3)
KILOGRAM = Measure("kg", Decimal(1), shown=2, stored=2)
POUND = Measure("lb", Decimal("0.45359237"), shown=1, stored=2)
KILOMETRE = Measure("km", Decimal(1), shown=2, stored=2)
SQUARE_METRE = Measure("m²", Decimal(1), shown=3, stored=3)
SQUARE_FOOT = Measure("ft²", Decimal("0.3048") ** 2, shown=1, stored=3)
MILE = Measure("mi", Decimal("1.609344"), shown=1, stored=2)
LITRE = Measure("l", Decimal(1), shown=1, stored=3)
GALLON = Measure("gal", Decimal("3.785411784"), shown=2, stored=3)
"""The US gallon: 231 cubic inches of 25.4 mm, so exact."""
METRES_A_LITRE = Measure("m²/l", Decimal(1), shown=2, stored=4)
FEET_A_GALLON = Measure("ft²/gal", Decimal("0.3048") ** 2 / GALLON.size, shown=0, stored=4)
MILLIMETRE = Measure("mm", Decimal(1), shown=2, stored=4)
MIL = Measure("mil", Decimal("0.0254"), shown=1, stored=4)
COUNT = Measure("pieces", Decimal(1), shown=3, stored=3)
PERCENT = Measure("%", Decimal(1), shown=1, stored=1)


def length(units: str) -> Measure:
    return FOOT if units == Units.US else METRE


def area(units: str) -> Measure:
    return SQUARE_FOOT if units == Units.US else SQUARE_METRE


def weight(units: str) -> Measure:
    return POUND if units == Units.US else KILOGRAM


def distance(units: str) -> Measure:
    return MILE if units == Units.US else KILOMETRE


def volume(units: str) -> Measure:
    return GALLON if units == Units.US else LITRE


def coverage(units: str) -> Measure:
    return FEET_A_GALLON if units == Units.US else METRES_A_LITRE


def film(units: str) -> Measure:
    return MIL if units == Units.US else MILLIMETRE

"""Areas, paint, abrasives, cloth and hours from measures. Pure: metres, square metres, litres.

The formulas for whole boats are those that paint makers publish; they are meant for buying paint,
not for invoicing. Each names its standing.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal

PI = Decimal("3.14159265358979")
SQUARE_FOOT = Decimal("0.3048") ** 2
PAINT_MAKERS = "published: paint makers' guides"


@dataclass(frozen=True)
class Estimate:
    """One area of the whole boat: what it is of, square metres, the formula and its standing."""

    of: str
    square_metres: Decimal
    formula: str
    standing: str


class Missing(ValueError):
    """A measure that the formula needs is not known; the message names it."""


def bottom_area(waterline: Decimal, beam: Decimal, draft: Decimal) -> Decimal:
    """Waterline x (beam + draft), a powerboat's bottom."""
    return waterline * (beam + draft)


def freeboard_area(length: Decimal, beam: Decimal, freeboard: Decimal) -> Decimal:
    """(length over all + beam) x 2 x freeboard: both sides and the transom."""
    return (length + beam) * 2 * freeboard


def deck_area(length: Decimal, beam: Decimal) -> Decimal:
    """Length over all x beam x 0.75."""
    return length * beam * Decimal("0.75")


def bottom_area_by_length(length: Decimal, beam: Decimal) -> Decimal:
    """Length over all x beam x 0.85: where waterline and draft are not known."""
    return length * beam * Decimal("0.85")


def of_boat(
    *,
    length: Decimal | None,
    waterline: Decimal | None,
    beam: Decimal | None,
    draft: Decimal | None,
    freeboard: Decimal | None,
) -> list[Estimate]:
    """Every area that the known dimensions give; nothing for what is not known."""
    found = []
    if waterline and beam and draft:
        area = bottom_area(waterline, beam, draft)
        found.append(
            Estimate(
                "bottom", area, "waterline × (beam + draft)", f"{PAINT_MAKERS}; for powerboats"
            )
        )
        found.append(
            Estimate(
                "bottom, the lower figure", area * Decimal("0.85"),
                "waterline × (beam + draft) × 0.85", f"{PAINT_MAKERS}, some of them",
            )
        )  # fmt: skip
    elif length and beam:
        found.append(
            Estimate(
                "bottom", bottom_area_by_length(length, beam), "length × beam × 0.85",
                "published, read second-hand",
            )
        )  # fmt: skip
    if length and beam and freeboard:
        found.append(
            Estimate(
                "sides and transom", freeboard_area(length, beam, freeboard),
                "(length + beam) × 2 × freeboard", PAINT_MAKERS,
            )
        )  # fmt: skip
    if length and beam:
        found.append(
            Estimate("deck", deck_area(length, beam), "length × beam × 0.75", PAINT_MAKERS)
        )
    return found


def area_of_shape(
    shape: str, first: Decimal | None, second: Decimal | None = None, third: Decimal | None = None
) -> Decimal:
    """Square metres of one drawn surface. Raises `Missing`, naming the measure."""
    names = MEASURES[shape]
    given = dict(zip(("first", "second", "third"), (first, second, third), strict=True))
    for key, name in names.items():
        if given[key] is None:
            raise Missing(f"A {shape} needs its {name}.")
    a, b, c = (given[key] or Decimal(0) for key in ("first", "second", "third"))
    match shape:
        case "rectangle" | "band":
            return a * b
        case "triangle":
            return a * b / 2
        case "trapezium":
            return (a + b) / 2 * c
        case "circle":
            return PI * a * a / 4
        case "ellipse":
            return PI * a * b / 4
    return a


MEASURES: dict[str, dict[str, str]] = {
    "rectangle": {"first": "length", "second": "width"},
    "triangle": {"first": "base", "second": "height"},
    "trapezium": {"first": "base", "second": "top", "third": "height"},
    "circle": {"first": "width across"},
    "ellipse": {"first": "length", "second": "width"},
    "band": {"first": "length", "second": "height"},
    "area": {"first": "area"},
}
"""What each shape needs, by the name of the column."""


def paint_litres(
    area: Decimal, *, coats: int, coverage: Decimal, extra: Decimal = Decimal(10)
) -> Decimal:
    """Litres for ``coats`` at ``coverage`` square metres a litre and coat, ``extra`` per cent on
    top for waste."""
    if coverage <= 0:
        raise ValueError("coverage must be more than 0")
    return area * coats / coverage * (1 + extra / 100)


def gelcoat_litres(area: Decimal, wet_millimetres: Decimal) -> Decimal:
    """A film of one millimetre on one square metre is one litre."""
    return area * wet_millimetres


def discs(area: Decimal, *, area_a_disc: Decimal, grits: int = 1) -> int:
    """Discs of every grit, whole ones, for all grits together."""
    if area_a_disc <= 0:
        raise ValueError("the area a disc lasts must be more than 0")
    return int((area / area_a_disc).to_integral_value(ROUND_CEILING)) * grits


def cloth_metres(
    area: Decimal, *, layers: int, roll_width: Decimal, overlap: Decimal = Decimal("0.05")
) -> Decimal:
    """Running metres of cloth from a roll, each strip overlapping its neighbour."""
    if roll_width <= overlap:
        raise ValueError("the roll must be wider than the overlap")
    return area * layers / (roll_width - overlap)


def squares(area: Decimal, side: Decimal = Decimal("0.6")) -> int:
    """How many squares of about two feet the area is worked in."""
    return int((area / (side * side)).to_integral_value(ROUND_CEILING))


def rounded(value: Decimal, places: int = 2) -> Decimal:
    return value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)

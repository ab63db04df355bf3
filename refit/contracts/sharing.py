"""Splitting an amount into parts that add up to it, to the cent. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")


def to_cents(amount: Decimal) -> Decimal:
    """Half a cent goes up (away from zero), as on an invoice (common practice, no source)."""
    return amount.quantize(CENT, ROUND_HALF_UP)


def shares(amount: Decimal, weights: Sequence[Decimal]) -> list[Decimal]:
    """``amount``, whole cents, in parts as the weights are to each other; the sum is exact.

    Weights are not negative; where all are zero the parts are equal. What rounding leaves goes
    cent by cent to the parts that lost most by it (the method of largest remainders).
    """
    if not weights:
        raise ValueError("nothing to share among")
    total = sum(weights, Decimal(0))
    if not total:
        weights, total = [Decimal(1)] * len(weights), Decimal(len(weights))
    cents = int(amount / CENT)
    sign, cents = (-1, -cents) if cents < 0 else (1, cents)
    # In whole numbers: a quotient of decimals is rounded, and parts could add up to more.
    scale = Decimal(10) ** max(0, *(-int(w.as_tuple().exponent) for w in weights), 0)
    whole = [int(weight * scale) for weight in weights]
    parts = [divmod(cents * weight, sum(whole)) for weight in whole]
    left = cents - sum(part for part, _ in parts)
    order = sorted(range(len(parts)), key=lambda n: (-parts[n][1], n))
    found = [part for part, _ in parts]
    for index in order[:left]:
        found[index] += 1
    return [sign * CENT * part for part in found]


def cost_of(minutes: int, rate: Decimal) -> Decimal:
    """Working time at so much an hour."""
    return to_cents(rate * minutes / 60)

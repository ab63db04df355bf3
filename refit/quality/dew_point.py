"""Dew point, spread, and whether the air allows the work. Pure; °C and per cent.

Magnus formula with 17.62 and 243.12 °C; constants differ by source (17.625 and 243.04), which moves
the dew point by less than 0.05 °C in the range of a workshop.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from math import log

from refit.work.processes import Limit

A, B = 17.62, 243.12


def dew_point(air: float, humidity: float) -> float:
    """The temperature at which air of ``air`` °C and ``humidity`` % begins to drip.

    Raises ValueError for a humidity that is not above 0 and at most 100.
    """
    if not 0 < humidity <= 100:
        raise ValueError("humidity must be above 0 and at most 100 %")
    gamma = log(humidity / 100) + A * air / (B + air)
    return B * gamma / (A - gamma)


@dataclass(frozen=True)
class Go:
    """``go`` is None when a number that decides is missing. ``reasons``: sentences."""

    go: bool | None
    dew: float
    spread: float | None
    reasons: tuple[str, ...]

    @property
    def sentence(self) -> str:
        word = {True: "Go", False: "Wait", None: "Not known"}[self.go]
        return f"{word}: {'; '.join(self.reasons)}."


def judge_air(
    *, air: Decimal, humidity: Decimal, surface: Decimal | None, limits: Iterable[Limit]
) -> Go:
    """Every limit against the numbers: all kept is go, one broken is wait."""
    dew = dew_point(float(air), float(humidity))
    spread = None if surface is None else float(surface) - dew
    read: dict[str, float | None] = {
        "air": float(air),
        "humidity": float(humidity),
        "surface": None if surface is None else float(surface),
        "spread": spread,
    }
    broken, kept, missing = [], [], []
    for limit in limits:
        value = read[limit.what]
        if value is None:
            missing.append("the surface was not measured")
            continue
        said = _said(limit.what, value)
        if limit.least is not None and value < float(limit.least):
            broken.append(f"{said}, less than {limit.least} {_unit(limit.what)}")
        elif limit.most is not None and value > float(limit.most):
            broken.append(f"{said}, more than {limit.most} {_unit(limit.what)}")
        else:
            kept.append(said)
    if broken:
        return Go(False, dew, spread, tuple(broken))
    if missing:
        return Go(None, dew, spread, tuple(dict.fromkeys(missing)))
    if not kept:
        return Go(None, dew, spread, ("no limits are known for this work",))
    return Go(True, dew, spread, tuple(kept))


def _unit(what: str) -> str:
    return "%" if what == "humidity" else "°C"


def _said(what: str, value: float) -> str:
    if what == "spread":
        side = "above" if value >= 0 else "below"
        return f"the surface is {abs(value):.1f} °C {side} the dew point"
    if what == "humidity":
        return f"humidity is {value:.0f} %"
    return f"the {what} has {value:.1f} °C"

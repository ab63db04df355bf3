"""What must hold before a boat is towed: weights, size, tie-downs. Pure; kilograms and metres.

Figures are those of the sources named beside them, as defaults that the user's own limits
override. They are a help for thinking, no permission: local law, the makers' plates and the
ratings on the gear decide, always.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil

FOOT, POUND = 0.3048, 0.45359237


@dataclass(frozen=True, slots=True)
class SizeLimit:
    """The widest and highest that goes without a permit, and where that is said."""

    width_m: float
    height_m: float | None
    source: str


LIMITS: dict[str, SizeLimit] = {
    "US": SizeLimit(2.6, 4.11, "width 23 CFR 658.15; height 13 ft 6 in differs by State"),
    "CA": SizeLimit(2.6, 4.15, "from memory; provinces differ"),
    "GB": SizeLimit(2.55, None, "width 2.55 m, second-hand; no height set here"),
}
EU = SizeLimit(2.55, 4.0, "96/53/EC, second-hand")
EU_COUNTRIES = frozenset(
    (
        "AT",
        "BE",
        "BG",
        "CY",
        "CZ",
        "DE",
        "DK",
        "EE",
        "ES",
        "FI",
        "FR",
        "GR",
        "HR",
        "HU",
        "IE",
        "IT",
        "LT",
        "LU",
        "LV",
        "MT",
        "NL",
        "PL",
        "PT",
        "RO",
        "SE",
        "SI",
        "SK",
    )
)


def size_limit(country: str) -> SizeLimit | None:
    return EU if country in EU_COUNTRIES else LIMITS.get(country)


def tie_downs_needed(length_m: float, weight_kg: float, *, blocked_forward: bool) -> int:
    """How many, by 49 CFR 393.110 (second-hand): without blocking at the front one for up to 5 ft
    and 1,100 lb, two for anything else up to 10 ft, and one more for each further 10 ft or part
    of it; blocked, one for each 10 ft or part."""
    feet = round(length_m / FOOT, 4)
    if blocked_forward:
        return max(1, ceil(feet / 10))
    if feet <= 5 and round(weight_kg / POUND, 4) <= 1100:
        return 1
    if feet <= 10:
        return 2
    return 2 + ceil((feet - 10) / 10)


def holding_strength(direct: int, over: int, limit_kg: float) -> float:
    """What the tie-downs count together, by 49 CFR 393.106(d) (second-hand): one from the trailer
    to the boat half its working load limit, one over the top the whole."""
    return (direct / 2 + over) * limit_kg


@dataclass(frozen=True, slots=True)
class Towed:
    """The boat on its trailer and how it is tied. None: nobody has entered it."""

    boat_kg: float | None
    trailer_kg: float | None
    tongue_kg: float | None
    length_m: float | None
    width_m: float | None
    height_m: float | None
    direct: int
    over: int
    tie_limit_kg: float
    blocked_forward: bool


@dataclass(frozen=True, slots=True)
class TowLimits:
    """Of the rig, and of the road; None: not entered, so not looked at."""

    tow_kg: float | None
    tongue_kg: float | None
    tongue_low: float
    tongue_high: float
    width_m: float | None
    height_m: float | None
    size_source: str


@dataclass(frozen=True, slots=True)
class Finding:
    """``good`` None: it cannot be told, because a figure is missing."""

    what: str
    good: bool | None
    line: str


Say = Callable[[float], str]
"""How a weight or a length is said, in the units of the refit."""


def _kilograms(value: float) -> str:
    return f"{value:,.0f} kg"


def _metres(value: float) -> str:
    return f"{value:.2f} m"


def look_over(
    load: Towed, limits: TowLimits, *, weigh: Say = _kilograms, measure: Say = _metres
) -> list[Finding]:
    """Every check, in the order in which one walks round the rig."""
    return [
        _weight(load, limits, weigh),
        _tongue(load, limits, weigh),
        _share(load, limits),
        _size("Width", load.width_m, limits.width_m, limits.size_source, measure),
        _size("Height", load.height_m, limits.height_m, limits.size_source, measure),
        _count(load),
        _strength(load, weigh),
    ]


def _weight(load: Towed, limits: TowLimits, weigh: Say) -> Finding:
    if load.boat_kg is None or load.trailer_kg is None or limits.tow_kg is None:
        return Finding("Total weight", None, "Enter the weights of boat and trailer and the limit.")
    total = load.boat_kg + load.trailer_kg
    line = f"Boat and trailer weigh {weigh(total)}; the rig may tow {weigh(limits.tow_kg)}."
    return Finding("Total weight", total <= limits.tow_kg, line)


def _tongue(load: Towed, limits: TowLimits, weigh: Say) -> Finding:
    if load.tongue_kg is None or limits.tongue_kg is None:
        return Finding("On the hitch", None, "Weigh the tongue and enter what the hitch may carry.")
    line = f"{weigh(load.tongue_kg)} press on the hitch; it may carry {weigh(limits.tongue_kg)}."
    return Finding("On the hitch", load.tongue_kg <= limits.tongue_kg, line)


def _share(load: Towed, limits: TowLimits) -> Finding:
    if load.tongue_kg is None or not load.boat_kg or load.trailer_kg is None:
        return Finding("Tongue share", None, "Weigh the tongue: nobody has entered it.")
    share = 100 * load.tongue_kg / (load.boat_kg + load.trailer_kg)
    line = (
        f"The tongue carries {share:.1f} % of the whole; you have set {limits.tongue_low:g} to"
        f" {limits.tongue_high:g} %. Makers disagree: 5–10 % for boats, 10–15 % for ball hitches."
    )
    return Finding("Tongue share", limits.tongue_low <= share <= limits.tongue_high, line)


def _size(
    what: str, is_now: float | None, most: float | None, source: str, measure: Say
) -> Finding:
    if is_now is None or most is None:
        return Finding(what, None, f"{what}: enter the boat's figure and the limit of your roads.")
    line = f"{what} {measure(is_now)}, at most {measure(most)} without a permit ({source})."
    return Finding(what, is_now <= most, line)


def _count(load: Towed) -> Finding:
    if load.length_m is None or load.boat_kg is None:
        return Finding("Tie-downs", None, "Enter length and weight of the boat.")
    needed = tie_downs_needed(load.length_m, load.boat_kg, blocked_forward=load.blocked_forward)
    have = load.direct + load.over
    line = f"{have} tie-downs, {needed} needed for this length (49 CFR 393.110)."
    return Finding("Tie-downs", have >= needed, line)


def _strength(load: Towed, weigh: Say) -> Finding:
    if load.boat_kg is None:
        return Finding("Holding strength", None, "Enter the weight of the boat.")
    strength = holding_strength(load.direct, load.over, load.tie_limit_kg)
    line = (
        f"Together they count {weigh(strength)}; half the boat's weight is"
        f" {weigh(load.boat_kg / 2)} (49 CFR 393.106). The weakest part of each counts."
    )
    return Finding("Holding strength", strength >= load.boat_kg / 2, line)


BEFORE_DRIVING = (
    "Coupler closed, pinned and pulled up against",
    "Safety chains crossed under the tongue, breakaway cable on the vehicle",
    "Lights: brake, turn, tail, plate",
    "Tyres: pressure, wheel nuts, bearings cool",
    "Winch strap and bow chain on; tie-downs tight, edges padded",
    "Outboard or drive up and locked; nothing loose aboard",
    "Width and height measured with everything on",
    "Mirrors show past the boat",
)
"""Common practice, no source."""
RECHECK = (
    "Stop within 80 km (50 mi) and look at tie-downs and hubs again, then every 3 hours or 240 km"
    " (49 CFR 392.9, second-hand)."
)
DEFER = (
    "These are reminders, no permission to drive. The law where you drive, the plates on vehicle,"
    " hitch and trailer, and the ratings on your gear decide."
)

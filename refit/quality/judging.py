"""Whether readings meet a criterion, with the numbers in a sentence. Pure.

Readings are judged by method, geometry and unit alike: gloss at 60° says nothing about gloss at
20° (one panel may read 35, 70 and 95 GU at 20°, 60° and 85°: ISO 2813). Of each station the last
reading after the work counts, so that a rework replaces what failed.

Film thickness by spots: each spot is the mean of its readings, every spot must lie within 80 and
120 % of the nominal, and the mean of the spots within what is specified (SSPC-PA 2; ISO 19840 asks
of every reading 80 % and of the mean the nominal; both read second-hand).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from statistics import mean, stdev

SPREAD_TO_REPORT = Decimal(5)
"""Gloss readings of one station further apart than this are told as limits (ISO 2813:1994, from
memory)."""


@dataclass(frozen=True)
class Shot:
    """One reading: its numbers, at a station."""

    station: str
    stage: str
    method: str
    geometry: str
    unit: str
    numbers: tuple[Decimal, ...]
    at: datetime
    scale: str = ""

    @property
    def value(self) -> Decimal:
        return sum(self.numbers, Decimal(0)) / len(self.numbers)


@dataclass(frozen=True)
class Wanted:
    """A criterion in plain values; see `refit.quality.models.Criterion`."""

    method: str
    geometry: str
    unit: str
    rule: str
    low: Decimal | None
    high: Decimal | None
    stations: int
    scale: str = ""


@dataclass(frozen=True)
class AtStation:
    """``rounds``: the values after the work, in the order they were read."""

    station: str
    before: Decimal | None
    rounds: tuple[Decimal, ...]
    wide: tuple[Decimal, Decimal] | None
    ok: bool | None

    @property
    def after(self) -> Decimal | None:
        return self.rounds[-1] if self.rounds else None

    @property
    def gained(self) -> Decimal | None:
        if self.before is None or self.after is None:
            return None
        return self.after - self.before


@dataclass(frozen=True)
class Verdict:
    """``passed`` is None while something is missing."""

    passed: bool | None
    sentence: str
    stations: tuple[AtStation, ...]
    mean: Decimal | None = None
    least: Decimal | None = None
    most: Decimal | None = None
    deviation: Decimal | None = None


def judge(wanted: Wanted, shots: Iterable[Shot]) -> Verdict:
    """The verdict over all readings of the package that are of the criterion's kind."""
    alike = sorted(
        (
            one
            for one in shots
            if (one.method, one.geometry, one.unit, one.scale)
            == (wanted.method, wanted.geometry, wanted.unit, wanted.scale)
        ),
        key=lambda one: one.at,
    )
    stations = _stations(wanted, alike)
    values = [one.after for one in stations if one.after is not None]
    if (missing := _missing(wanted, len(values))) or not values:
        return Verdict(None, missing or "Nothing was read after the work yet.", stations)
    average = mean(values)
    failed = [one for one in stations if one.ok is False]
    mean_ok, mean_said = _mean(wanted, average)
    unit = f" {wanted.unit}" if wanted.unit else ""
    at = f" at {wanted.geometry}°" if wanted.geometry else ""
    low, high = min(values), max(values)
    span = _n(low) if low == high else f"{_n(low)} to {_n(high)}"
    text = (
        f"{len(values)} station{'' if len(values) == 1 else 's'}{at}: {span}{unit},"
        f" mean {_n(average)}. Wanted: {_say(wanted)}{unit}. "
    )
    if failed:
        which = ", ".join(f"{one.station} ({_n(one.after)})" for one in failed)
        text += f"Outside: {which}."
    elif not mean_ok:
        text += mean_said
    else:
        text += "Every station is inside."
    passed = not failed and mean_ok
    return Verdict(
        passed, ("Passed. " if passed else "Failed. ") + text, stations, average, low, high,
        Decimal(stdev(values)) if len(values) > 1 else None,
    )  # fmt: skip


def _missing(wanted: Wanted, read: int) -> str:
    needs_low = wanted.rule in ("at least", "between", "spots")
    needs_high = wanted.rule in ("at most", "between")
    if (needs_low and wanted.low is None) or (needs_high and wanted.high is None):
        what = "nominal film" if wanted.rule == "spots" else "limit"
        return f"The {what} is not filled in yet: the data sheet or the agreement says it."
    if read < wanted.stations:
        return f"{read} of {wanted.stations} stations were read after the work."
    return ""


def _stations(wanted: Wanted, shots: list[Shot]) -> tuple[AtStation, ...]:
    names = list(dict.fromkeys(one.station for one in shots))
    found = []
    for name in sorted(names):
        here = [one for one in shots if one.station == name]
        before = [one for one in here if one.stage == "before"]
        after = [one for one in here if one.stage == "after"]
        last = after[-1] if after else None
        wide = None
        if last and wanted.method == "gloss":
            low, high = min(last.numbers), max(last.numbers)
            wide = (low, high) if high - low > SPREAD_TO_REPORT else None
        found.append(
            AtStation(
                name,
                before[-1].value if before else None,
                tuple(one.value for one in after),
                wide,
                _fits(wanted, last.value) if last else None,
            )
        )
    return tuple(found)


def _fits(wanted: Wanted, value: Decimal) -> bool | None:
    low, high = wanted.low, wanted.high
    match wanted.rule:
        case "at least":
            return None if low is None else value >= low
        case "at most":
            return None if high is None else value <= high
        case "between":
            return None if low is None or high is None else low <= value <= high
    # Spots: 80 to 120 % of the nominal.
    if low is None:
        return None
    return low * Decimal("0.8") <= value <= low * Decimal("1.2")


def _mean(wanted: Wanted, average: Decimal) -> tuple[bool, str]:
    """For spots the mean has limits of its own: at least the nominal, at most what is given."""
    if wanted.rule != "spots" or wanted.low is None:
        return True, ""
    if average < wanted.low:
        return False, f"The mean, {_n(average)}, is below the nominal, {_n(wanted.low)}."
    if wanted.high is not None and average > wanted.high:
        return False, f"The mean, {_n(average)}, is above what is specified, {_n(wanted.high)}."
    return True, ""


def _say(wanted: Wanted) -> str:
    low, high = _n(wanted.low), _n(wanted.high)
    match wanted.rule:
        case "at least":
            return f"at least {low}"
        case "at most":
            return f"at most {high}"
        case "between":
            return f"{low} to {high}"
    top = f" to {high}" if wanted.high is not None else " or more"
    return f"every spot 80 to 120 % of {low}, mean {low}{top}"


def _n(value: Decimal | None) -> str:
    """“82.5”, “90”."""
    if value is None:
        return ""
    text = f"{value.quantize(Decimal('0.1'), rounding=ROUND_HALF_UP):f}"
    return text.removesuffix(".0")

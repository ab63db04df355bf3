"""How sure the launch is, in words: for the manager's page and for the owner's.

Pure: a stored `PlanRisk` and names come in, sentences go out. Shares are said as so many of ten;
a tenth is as fine as anybody can use.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from refit.work.models import Refit
from refit.work.wording import say_count, say_day, say_list

from .models import PlanRisk
from .risk_lateness import ENOUGH

WORTH_SAYING = 720
"""Elapsed minutes on average, half a day: a promise worth less is not the one that matters."""

Named = Mapping[str, tuple[str, datetime]]
"""Title and planned end of the work, by the code of the package."""


@dataclass(frozen=True)
class Sure:
    """The launch as a range. ``first`` and ``last``: one run in ten is afloat before the first of
    these days, one in ten only after the last. ``half`` and ``most``: by then half of the runs and
    8 of 10 are. Sentences are empty where there is nothing to say."""

    first: date
    half: date
    most: date
    last: date
    said: str
    wanted: str
    promise: str
    basis: str

    @property
    def span(self) -> str:
        """“Wed 6 to Wed 20 Jan”: the months said once if they are one."""
        first = say_day(self.first, self.last)
        if (self.first.year, self.first.month) == (self.last.year, self.last.month):
            first = first.rpartition(" ")[0]
        return f"{first} to {say_day(self.last)}"

    @property
    def is_one_day(self) -> bool:
        return self.first == self.last


def say_sure(risk: PlanRisk, *, refit: Refit, today: date, named: Named) -> Sure:
    """The words for one plan; ``refit`` is that of the plan."""
    first, half, most, last = (
        refit.local(moment).date() for moment in (risk.p10, risk.p50, risk.p80, risk.p90)
    )
    if first == last:
        said = f"In nearly every try it is afloat by {say_day(most, today)}."
    elif half == most:
        said = f"In 8 of 10 tries it is afloat by {say_day(most, today)}."
    else:
        said = (
            f"In 8 of 10 tries it is afloat by {say_day(most, today)},"
            f" in half by {say_day(half, most)}."
        )
    return Sure(
        first=first,
        half=half,
        most=most,
        last=last,
        said=said,
        wanted=_say_wanted(risk, refit, most),
        promise=say_promise(risk, refit, today, named),
        basis=_say_basis(risk),
    )


def say_tenths(share: float) -> str:
    """“3 of 10 tries”, “hardly any try”, “nearly every try”."""
    tenths = round(share * 10)
    if tenths == 0:
        return "hardly any try"
    return "nearly every try" if tenths == 10 else f"{tenths} of 10 tries"


def say_days(minutes: float) -> str:
    """Elapsed time to half a day: “half a day”, “1 day”, “1½ days”, “4 days”."""
    halves = round(minutes / 720)
    whole, half = divmod(halves, 2)
    if not whole:
        return "half a day"
    if half and whole < 4:
        return f"{whole}½ days"
    return say_count(round(minutes / 1440), "day")


def say_promise(risk: PlanRisk, refit: Refit, today: date, named: Named) -> str:
    """The return that matters most, and what it is worth; empty if none matters much."""
    for promise in risk.promises:
        if promise["code"] in named and promise["gain"] >= WORTH_SAYING:
            title, ends = named[promise["code"]]
            day = say_day(refit.local(ends).date(), today)
            return (
                f"What matters most is that {promise['vendor']} is done with “{title}” on {day}."
                f" If that is never late, the launch comes {say_days(promise['gain'])} earlier"
                " on average."
            )
    return ""


def _say_wanted(risk: PlanRisk, refit: Refit, most: date) -> str:
    if risk.wanted_share is None or refit.wanted_launch is None:
        return ""
    day = say_day(refit.wanted_launch, most)
    return f"In {say_tenths(risk.wanted_share)} it is afloat by {day}, the day wanted."


def _say_basis(risk: PlanRisk) -> str:
    """What the runs rest on, so that nobody takes them for more."""
    known = [basis for basis in risk.bases if basis["returns"]]
    assumed = [basis["vendor"] for basis in risk.bases if not basis["returns"]]
    said = [
        f"{risk.runs:,} tries of this plan on paper: each job takes something between its low"
        " and its high time, in the same order and opening hours, and nobody reacts to a delay."
    ]
    if known:
        shops = say_list([f"{b['vendor']} ({say_count(b['returns'], 'return')})" for b in known])
        said.append(f"How late a shop is, is drawn from its own record here: {shops}.")
    if assumed:
        said.append(
            f"For {say_list(assumed)} it is assumed (6 of 10 returns on the day, the others 1 to 5"
            f" working days late, half as a streak of one shop; common practice, no source) until"
            f" {ENOUGH} returns are on record."
        )
    return " ".join(said)

"""What can be done about a longest wait that opening hours make impossible, as what-if changes.

Two remedies: the package in front starts on a later day, so that no closed days lie between; or a
package goes in between that makes the surface ready again, as the process library names it. Each
is a change like any other (`whatif_changes`): tried, compared, then applied or discarded.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from time import monotonic

from refit.interchange.document import RefitDocument
from refit.interchange.export import export_refit
from refit.scheduling.problem import ShortfallKind
from refit.work.models import (
    BookingKind,
    Dependency,
    PieceEffect,
    QuantityUnit,
    Refit,
    RelationChoice,
    WorkPackage,
)
from refit.work.processes import Process, Step, say_cautions
from refit.work.processes.library import library, remedy_after
from refit.work.services.applying import free_codes, processes_of
from refit.work.wording import say_elapsed, say_list, say_moment

from .models import Plan
from .solve import Dates, NoPlan, Solved, solve
from .whatif_changes import Change

MOST_DAYS = 15
"""How many later starts are tried: three weeks of working days."""
PATIENCE = 3.0
"""Seconds that the later starts may take together; somebody waits for the page."""
ABRADE = "abrade-before-recoat"
"""The process that is offered where none of the refit's own processes names another."""
KEYED_MINUTES = 24 * 60
"""How long a keyed surface waits for its coat at most: by the next day (common practice, no
source). Without it the abrading would be planned before the weekend instead of after it."""
BOND = "past the longest wait the next coat does not bond by itself"


class NoRemedy(Exception):
    """This remedy does not help here; the message is a sentence."""


@dataclass(frozen=True)
class Window:
    """A longest wait between two packages that the plan does not keep."""

    before: WorkPackage
    after: WorkPackage
    links: list[Dependency]

    @property
    def name(self) -> str:
        return f"{self.before} and {self.after}"


def missed_window(refit: Refit, before: str, after: str) -> Window:
    """By codes. Raises NoRemedy if the plan keeps it, or it is not there any more."""
    plan = Plan.objects.current(refit)
    missed = plan.shortfalls if plan is not None else []
    if not any(
        one["kind"] == "window" and (one["before"], one["package"]) == (before, after)
        for one in missed
    ):
        raise NoRemedy("That wait is kept by now: there is nothing to mend.")
    links = list(
        Dependency.objects.filter(
            refit=refit, before__code=before, after__code=after, max_lag_minutes__isnull=False
        ).select_related("before__place", "after__place")
    )
    if not links:
        raise NoRemedy("That longest wait does not exist any more.")
    return Window(links[0].before, links[0].after, links)


# Later in the week


def start_later(refit: Refit, window: Window, now: datetime) -> Change:
    """The first later day on which the package in front can start so that the wait is kept.

    Raises NoRemedy if it has begun, or none is found.
    """
    if window.before.is_started:
        raise NoRemedy(f"{window.before} has begun already: it cannot start later.")
    plan = Plan.objects.current(refit)
    dates: Dates = (
        []
        if plan is None
        else list(plan.packages.values_list("package__code", "start", "work_finish", "finish"))
    )
    document = export_refit(refit)
    code, began = window.before.code, monotonic()
    planned = {one: start for one, start, *_ in dates}
    start = planned.get(code, now)
    for _ in range(MOST_DAYS):
        day = refit.local(start).date() + timedelta(days=1)
        at = datetime.combine(day, time(), refit.zone)
        try:
            tried = solve(_not_before(document, code, at), now, dates)
        except NoPlan:
            break
        start = tried.built.clock.moment(tried.answers[code].planned.start)
        if not _misses(tried, window):
            return _book_not_before(refit, window, start, now)
        if monotonic() - began > PATIENCE:
            break
    raise NoRemedy(
        f"No later start of {window.before} was found that keeps the wait. Abrade in between, or"
        " let the place open on another day."
    )


def _not_before(document: RefitDocument, code: str, at: datetime) -> RefitDocument:
    """The document with this package agreed for not before then, in place of any other date."""
    changed = document.copy()
    changed["bookings"] = [
        *(row for row in document["bookings"] if row["package"] != code),
        {
            "package": code, "kind": "not before", "at": at.isoformat(), "agreed_with": "",
            "note": "",
        },
    ]  # fmt: skip
    return changed


def _misses(tried: Solved, window: Window) -> bool:
    return any(
        one.kind is ShortfallKind.WINDOW
        and (one.before, one.package) == (window.before.code, window.after.code)
        for one in tried.plan.shortfalls
    )


def _book_not_before(refit: Refit, window: Window, start: datetime, now: datetime) -> Change:
    said = say_moment(start, refit.zone, refit.today(now))
    ask = f", to be agreed with {window.before.vendor}" if window.before.vendor_id else ""
    return {
        "kind": "book",
        "said": f"{window.before} starts not before {said}{ask}, so that {window.after.code}"
        " follows in time",
        "package": window.before.pk,
        "booking": str(BookingKind.NOT_BEFORE),
        "at": start.isoformat(),
        "agreed_with": "",
    }


# A package in between


def make_ready_again(refit: Refit, window: Window) -> Change:
    """A package between the two, from the process that is named for a missed wait.

    Whoever does the second does it, at the same place, to the pieces that both have in hand.
    Raises NoRemedy if the second has begun.
    """
    before, after = window.before, window.after
    if after.is_started:
        raise NoRemedy(f"{after} has begun already: nothing can come before it.")
    reason, process, step = _named(refit, before)
    quantity = before.quantity if before.unit == QuantityUnit.AREA else None
    low, likely, high = step.time.of(quantity)
    both = set(before.piece_uses.values_list("piece", flat=True)) & set(
        after.piece_uses.values_list("piece", flat=True)
    )
    code = free_codes(refit, f"{after.code}-", [step.key])[step.key]
    waits = [link for link in window.links if link.relation == RelationChoice.FINISH_TO_START]
    said = say_list([say_elapsed(link.max_lag_minutes or 0) for link in window.links])
    return {
        "kind": "between",
        "said": f"{code} {process.name} comes between {window.name}; the longest wait of {said}"
        " no longer counts",
        "before": before.pk,
        "after": after.pk,
        "min_lag": max((link.min_lag_minutes for link in waits), default=0),
        "lag_in": waits[0].lag_in if waits else "elapsed",
        "reason_before": reason[:240],
        "reason_after": "a keyed and clean surface is coated by the next day",
        "max_lag": KEYED_MINUTES,
        "facts": {
            "code": code,
            "title": process.name,
            "scope": step.scope,
            "place": after.place_id,
            "vendor": after.vendor_id,
            "people": list(after.people.values_list("pk", flat=True)),
            "helpers": after.helpers,
            "takes_bay": after.takes_bay,
            "zones": list(after.zones.values_list("pk", flat=True)),
            "pieces": [[piece, str(PieceEffect.NEEDS)] for piece in sorted(both)],
            "low_minutes": low,
            "likely_minutes": likely,
            "high_minutes": high,
            "unbroken": likely <= _longest_stretch(after),
            "acceptance": step.say_acceptance(),
            "cautions": say_cautions(step.cautions),
            "process": process.key,
            "step": step.key,
            "quantity": None if quantity is None else str(quantity),
            "unit": "" if quantity is None else before.unit,
        },
    }


def _longest_stretch(package: WorkPackage) -> int:
    """Minutes; a surface is not left half keyed over a night if it can be done in one go."""
    stretches = [
        (h.closes.hour - h.opens.hour) * 60 + h.closes.minute - h.opens.minute
        for h in package.place.hours.all()
    ]
    return max(stretches, default=24 * 60)


def _named(refit: Refit, before: WorkPackage) -> tuple[str, Process, Step]:
    """Why, the process and its first step."""
    own = processes_of(refit).get(before.process)
    found = remedy_after(own, before.step)
    if found is None:
        process = library()[ABRADE]
        return BOND, process, process.steps[0]
    missed, process = found
    return missed.reason, process, process.steps[0]

"""The delay ledger: what moved the launch, written whenever a new plan moves it.

The method is that of windows (AACE International, Recommended Practice 29R-03, *Forensic Schedule
Analysis*, describes the family; from memory): between two plans lies a window, and what moved the
launch in it is found by taking the changes into the plan before, one after the other, and planning
each time:

1. The documents that both plans were computed from are compared row by row; the journal says who
   made each difference and in which order (`ledger_changes`).
2. The plan before is computed again at the moment of the first change (time has passed, nothing
   was done); then with the change; and so on to the plan after, whose launch is known.
3. Each difference of the launch is booked to what was added: to the change, or to the passing of
   time on the first unfinished package of the chain that drives the launch. A step that cannot be
   planned by itself is taken together with the next one.

Each entry begins at the launch where the one before ended, so that their sum is the drift exactly,
whatever the planner makes of the steps between. Where the order of two changes matters to their
effect, the order of the journal decides. Reading and adding up is `ledger_reading`.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import datetime, timedelta

from refit.interchange.document import RefitDocument
from refit.work.wording import say_list

from .ledger_changes import Step, apply_changes
from .ledger_words import cause_of_step, cause_of_time
from .models import LedgerKind
from .solve import Dates, NoPlan, Solved, solve

log = logging.getLogger(__name__)

A_WINDOW = 1000
"""Positions that each window has for its entries."""
A_MOMENT = timedelta(minutes=1)
"""Time that passes between two steps and is not looked at by itself."""


@dataclass(frozen=True)
class Cause:
    """What moved the launch, as an entry says it."""

    kind: LedgerKind
    said: str
    party: str = ""
    actor: str = ""
    package: str | None = None
    """Code of the package that it was about."""
    entry: int | None = None
    """Id of the entry in the journal."""


@dataclass(frozen=True)
class Booked:
    """The launch moved from one moment to another because of something."""

    cause: Cause
    launch_before: datetime
    launch_after: datetime
    at: datetime


@dataclass(frozen=True)
class Window:
    """Two plans with launches, and what they were computed from."""

    document_before: RefitDocument
    dates_before: Dates
    at_before: datetime
    launch_before: datetime
    document_after: RefitDocument
    at_after: datetime
    launch_after: datetime
    driving_after: list[str]


def plans_needed(window: Window, steps: list[Step]) -> int:
    """How many times `tell_apart` will plan at most."""
    return max(len(_moments(window, steps)) - 1, 0)


def _moments(window: Window, steps: list[Step]) -> list[tuple[datetime, Step | None]]:
    """The steps in order, and between them the passing of time (None), up to its end."""
    moments: list[tuple[datetime, Step | None]] = []
    clock = window.at_before
    for step in steps:
        at = min(max(step.at, clock), window.at_after)
        if at - clock > A_MOMENT:
            moments.append((at, None))
        moments.append((at, step))
        clock = at
    if not steps or window.at_after - clock > A_MOMENT:
        moments.append((window.at_after, None))
    return moments


def tell_apart(window: Window, steps: list[Step]) -> list[Booked]:
    """What moved the launch in the window, first things first; nothing that moved it by nothing.

    The sum is the whole move, exactly.
    """
    moments = _moments(window, steps)
    document, dates, launch = window.document_before, window.dates_before, window.launch_before
    waiting: list[Step | None] = []
    booked: list[Booked] = []
    for number, (at, step) in enumerate(moments):
        waiting.append(step)
        if step is not None:
            document = apply_changes(document, step.changes)
        if number == len(moments) - 1:
            document, driving = window.document_after, window.driving_after
            after = window.launch_after
        else:
            solved = _solved(document, at, dates)
            if solved is None or solved.launch_at is None:
                continue
            after, driving, dates = solved.launch_at, solved.driving, dates_of(solved)
        if after != launch:
            cause = _cause(waiting, document, driving, window, earlier=after < launch)
            booked.append(Booked(cause, launch, after, at))
        launch, waiting = after, []
    return booked


def _solved(document: RefitDocument, at: datetime, dates: Dates) -> Solved | None:
    try:
        return solve(document, at, dates)
    except NoPlan:
        return None
    except (KeyError, ValueError):  # half of a change can name what is not there yet
        log.debug("a step of the ledger cannot be planned by itself", exc_info=True)
        return None


def dates_of(solved: Solved) -> list[tuple[str, datetime, datetime, datetime]]:
    """The dates of a plan as the next one takes them."""
    moment = solved.built.clock.moment
    return [
        (
            code,
            moment(one.planned.start),
            moment(one.planned.work_finish),
            moment(one.planned.finish),
        )
        for code, one in solved.answers.items()
    ]


def _cause(
    waiting: list[Step | None],
    document: RefitDocument,
    driving: list[str],
    window: Window,
    *,
    earlier: bool,
) -> Cause:
    steps = [step for step in waiting if step is not None]
    if not steps:
        if earlier:
            said = "the planner found an order of the work that ends earlier"
            return Cause(LedgerKind.PLANNER, said)
        return Cause(LedgerKind.TIME, **cause_of_time(document, driving))
    causes = [_cause_of(step, window) for step in steps]
    if len(causes) == 1:
        return causes[0]
    said = say_list(list(dict.fromkeys(cause.said for cause in causes)))
    parties = list(dict.fromkeys(cause.party for cause in causes))
    return Cause(
        LedgerKind.SEVERAL,
        f"together: {said}",
        party=parties[0] if len(parties) == 1 else "",
        actor=causes[0].actor,
        package=causes[0].package,
        entry=causes[0].entry,
    )


def _cause_of(step: Step, window: Window) -> Cause:
    kind, words = cause_of_step(step, window.document_before, window.document_after)
    deed = step.deeds[0] if step.deeds else None
    return Cause(
        kind,
        entry=None if deed is None else deed.entry,
        actor="" if deed is None else deed.actor,
        **words,
    )

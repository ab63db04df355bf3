"""One document in, one explained and checked plan out. Pure: the command and the services share it.

1. The document becomes a problem (`build`); again with a longer horizon if the plan does not fit
   into the first.
2. `level` plans, `check` tries the answer. A plan with a breach is never handed out.
3. Causes, slips and the chain that drives the launch are computed and said in sentences.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from time import perf_counter
from typing import Any

from refit.interchange.document import RefitDocument
from refit.scheduling.check import check
from refit.scheduling.explain import CauseKind, drivers, explain
from refit.scheduling.improve import Improved
from refit.scheduling.level import level
from refit.scheduling.problem import BeyondHorizon, Plan, Planned, PlannedMove, SchedulingError
from refit.scheduling.slips import slips

from .build import YEARS, Built, CannotBuild, build_problem
from .causes import cause_sentence, chain_start, held_by_goods, plain_cause, slip_sentence
from .notes import plan_notes, trouble_sentence

log = logging.getLogger(__name__)

Dates = Iterable[tuple[str, datetime, datetime, datetime]]
"""Code, start, end of work and finish of the packages of an earlier plan."""


class NoPlan(Exception):
    """There is no plan; ``sentences`` say why, by package names, ``codes`` are those packages."""

    def __init__(self, sentences: list[str], codes: list[str]) -> None:
        self.sentences, self.codes = sentences, codes
        super().__init__(" ".join(sentences))


@dataclass(frozen=True, slots=True)
class Reached:
    """How far a search has come: the best launch so far, and the moment before which none can be.

    ``missed``: how many bookings, deadlines and windows the best plan so far does not keep.
    """

    seconds: float
    launch: datetime
    bound: datetime
    proved: bool
    missed: int


@dataclass(frozen=True, slots=True)
class Effort:
    """Leave to search on for so many ``seconds``. ``heard`` is told of everything found, ``stop``
    asked several times a second; both from threads of the search."""

    seconds: float
    heard: Callable[[Reached], None]
    stop: Callable[[], bool]


@dataclass(frozen=True, slots=True)
class Answer:
    """What is known of one package in a plan. ``behind``: code of the package behind its cause.

    ``slip``: elapsed minutes, None if it never hits.
    """

    planned: Planned
    cause_kind: str
    cause: str
    behind: str
    slip: int | None
    slip_note: str
    drives: bool


@dataclass(frozen=True, slots=True)
class Solved:
    """A plan that `check` found true. ``moves`` are those that people must see to."""

    built: Built
    plan: Plan
    answers: dict[str, Answer]
    moves: tuple[PlannedMove, ...]
    driving: list[str]
    because: str
    notes: list[str]
    build_seconds: float
    """How long reading the document into a problem took."""

    @property
    def launch_at(self) -> datetime | None:
        if not self.plan.packages:
            return None
        return self.built.clock.moment(self.plan.finish_of(self.built.problem.target))

    @property
    def shortfalls(self) -> list[dict[str, Any]]:
        """What the plan does not keep, as `Plan.shortfalls` keeps it."""
        moment = self.built.clock.moment
        return [
            {
                "kind": missed.kind.name.lower(),
                "package": missed.package,
                "before": missed.before,
                "wanted": moment(missed.wanted),
                "got": moment(missed.got),
            }
            for missed in self.plan.shortfalls
        ]

    @property
    def finish_at(self) -> datetime | None:
        if not self.plan.packages:
            return None
        return self.built.clock.moment(self.plan.finish_of(None))


def solve(
    document: RefitDocument,
    now: datetime,
    previous: Dates = (),
    *,
    effort: Effort | None = None,
) -> Solved:
    """Plan ``document`` as of ``now``. Raises NoPlan.

    ``previous``: the dates of the plan before; its order is kept where nothing is gained.
    ``effort``: search for a better plan against the clock; loads OR-tools, so never within a page.
    """
    for years in YEARS:
        began = perf_counter()
        try:
            built = build_problem(document, now, years=years)
        except CannotBuild as error:
            raise NoPlan(error.sentences, error.codes) from error
        build_seconds = perf_counter() - began
        try:
            plan = _level(built, _earlier(built, previous), effort)
            _refuse_breaches(built, plan)
            return _explained(built, plan, build_seconds)
        except SchedulingError as error:
            if isinstance(error, BeyondHorizon) and years < YEARS[-1]:
                continue
            sentence, codes = trouble_sentence(built, error)
            raise NoPlan([sentence], codes) from error
    raise AssertionError("the longest horizon either plans or says why not")


def _level(built: Built, previous: Plan | None, effort: Effort | None) -> Plan:
    if effort is None:
        return level(built.problem, previous=previous)
    moment, heard = built.clock.moment, effort.heard

    def progress(found: Improved) -> None:
        heard(
            Reached(
                seconds=found.seconds,
                launch=moment(found.launch),
                bound=moment(found.bound),
                proved=found.proved,
                missed=found.missed,
            )
        )

    return level(
        built.problem,
        previous=previous,
        limit=effort.seconds,
        progress=progress,
        stop=effort.stop,
    )


def _refuse_breaches(built: Built, plan: Plan) -> None:
    breaches = check(built.problem, plan)
    if not breaches:
        return
    log.error("a computed plan failed its check: %s", "; ".join(b.message for b in breaches))
    raise NoPlan(
        [
            "The computed plan failed its own check and was not stored. This is a fault of the"
            f" software; please report it with this line: {breaches[0].message}."
        ],
        list(breaches[0].ids),
    )


def _earlier(built: Built, previous: Dates) -> Plan | None:
    minutes = built.clock.minutes
    packages = tuple(
        Planned(code, minutes(start), minutes(work_finish), minutes(finish))
        for code, start, work_finish, finish in previous
        if code in built.packages
    )
    return Plan(packages) if packages else None


def _explained(built: Built, plan: Plan, build_seconds: float) -> Solved:
    dates = {planned.id: planned for planned in plan.packages}
    causes = explain(built.problem, plan)
    loose = slips(built.problem, plan)
    chain = drivers(built.problem, plan)
    driving = [cause.package for cause in reversed(chain)]
    answers: dict[str, Answer] = {}
    for code, planned in dates.items():
        over = built.packages[code]["finished_at"] is not None
        cause = plain_cause(built, causes[code])
        kind = CauseKind(cause.root.kind)
        answers[code] = Answer(
            planned=planned,
            cause_kind="goods" if held_by_goods(built, cause.root) else kind.name.lower(),
            cause=cause_sentence(built, dates, cause),
            behind=cause.root.other or "",
            slip=None if over else loose[code].elapsed,
            slip_note="" if over else slip_sentence(built, loose[code]),
            drives=code in driving,
        )
    return Solved(
        built=built,
        plan=plan,
        answers=answers,
        moves=tuple(move for move in plan.moves if built.travels_alone(move)),
        driving=driving,
        because=chain_start(built, dates, plain_cause(built, chain[-1])) if chain else "",
        notes=plan_notes(built, plan),
        build_seconds=build_seconds,
    )

"""How sure the launch is: a stored plan run ten thousand times, its answer kept beside it.

Here: what the runs rest on is gathered, their answer stored and read. Not here: the runs
themselves (`refit.scheduling.simulate`), how late vendors are (`risk_lateness`).

A plan never waits for this. It is stored first; the worker weighs it afterwards (`queue_risk`), and
a sweep finds those that nobody weighed. A plan that has been replaced meanwhile is left alone.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime, time, timedelta
from time import perf_counter

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.db.models.functions import Coalesce, Lower

from refit.custody.models import Handoff
from refit.interchange.document import RefitDocument
from refit.interchange.export import export_refit
from refit.nudges import nudge
from refit.scheduling import Lateness, Risk, simulate
from refit.scheduling.problem import BeyondHorizon, Planned, SchedulingError
from refit.scheduling.problem import Plan as CorePlan

from .build import YEARS, Built, CannotBuild, build_problem
from .ledger_sources import source_of
from .models import Plan, PlannedPackage, PlanRisk, PlanState
from .risk_lateness import Basis, Return, lateness_of, vendors_ahead

log = logging.getLogger(__name__)

RUNS = 10_000
SEED = 1
"""Always the same: what differs between two plans is then the plans."""
SHOWN = 5
"""Promises kept beside a plan, the ones that matter most."""

Rows = Iterable[tuple[str, datetime, datetime, datetime]]
"""Code, start, end of work and finish of the packages of a plan."""
Record = dict[str, list[Return]]


@dataclass(frozen=True, slots=True)
class Weighed:
    """The answer of the runs for one plan. ``built``: the problem that was run."""

    built: Built
    risk: Risk
    bases: tuple[Basis, ...]


def queue_risk(plan: Plan) -> None:
    """Ask the worker to weigh a plan once it is stored. Without a broker the sweep finds it."""
    from .tasks import weigh_plan

    nudge(weigh_plan, plan.pk)


def weigh(document: RefitDocument, *, now: datetime, rows: Rows, record: Record) -> Weighed | None:
    """Run a plan as it was computed from ``document`` at ``now``. Pure. None if it cannot be run:
    it is not a plan of this document, or some runs never end within the longest horizon."""
    rows = list(rows)
    for years in YEARS:
        try:
            built = build_problem(document, now, years=years)
            minutes = built.clock.minutes
            plan = CorePlan(
                tuple(
                    Planned(code, minutes(start), minutes(work_finish), minutes(finish))
                    for code, start, work_finish, finish in rows
                )
            )
            late: tuple[Lateness, ...]
            late, bases = lateness_of(built, plan, record)
            risk = simulate(built.problem, plan, runs=RUNS, seed=SEED, late=late)
            return Weighed(built, risk, bases)
        except BeyondHorizon as beyond:
            reason: Exception = beyond
        except (CannotBuild, SchedulingError) as error:
            reason = error
            break
    log.warning("a plan could not be weighed: %s", reason)
    return None


def returns_on_record(vendors: Iterable[str], *, before: datetime) -> Record:
    """What vendors of these names had ready in this installation, the latest first. One query.

    Expected is what was last promised, or else agreed. Pieces ready on one day from one shop are
    one return, as late as the last of them. A vendor is known by its name, in any refit.
    """
    wanted = {vendor.lower(): vendor for vendor in vendors}
    rows = (
        Handoff.objects.filter(Q(ready_at__isnull=False) | Q(sent_at__isnull=False))
        .annotate(
            who=Lower("origin__vendor__name"),
            expected=Coalesce("promised_at", "due_at"),
            ready=Coalesce("ready_at", "sent_at"),
        )
        .filter(who__in=list(wanted), expected__isnull=False, ready__lt=before)
        .order_by("-ready", "-id")
        .values_list("who", "refit_id", "expected", "ready")
    )
    found: dict[tuple[str, int, object], Return] = {}
    for who, refit, expected, ready in rows:
        key = who, refit, ready.date()
        known = found.get(key)
        if known is None or ready - expected > known.ready - known.expected:
            found[key] = Return(expected, ready)
    record: Record = {}
    for (who, _, _), one in found.items():
        record.setdefault(wanted[who], []).append(one)
    return record


def store_risk(plan: Plan) -> PlanRisk | None:
    """Weigh a stored plan and keep the answer. Twice does no harm: the first answer stays.

    None if the plan has no launch, has been replaced, or cannot be run.
    """
    known = PlanRisk.objects.filter(plan=plan).first()
    if known is not None or plan.launch_at is None or plan.state != PlanState.CURRENT:
        return known
    began = perf_counter()
    document = source_of(plan)
    if document is None:
        if plan.refit.version != plan.refit_version:
            return None
        document = export_refit(plan.refit)
    rows = PlannedPackage.objects.filter(plan=plan).values_list(
        "package__code", "start", "work_finish", "finish"
    )
    names = {row["vendor"] for row in document["packages"] if row["vendor"] is not None}
    record = returns_on_record(names, before=plan.computed_at)
    weighed = weigh(document, now=plan.computed_at, rows=rows, record=record)
    if weighed is None:
        return None
    made = _row(plan, weighed)
    made.seconds = perf_counter() - began
    try:
        with transaction.atomic():
            made.save()
    except IntegrityError:  # weighed twice at once, or the plan has been forgotten meanwhile
        return PlanRisk.objects.filter(plan=plan).first()
    return made


def _row(plan: Plan, weighed: Weighed) -> PlanRisk:
    risk, refit = weighed.risk, plan.refit
    clock = weighed.built.clock
    wanted = None
    if refit.wanted_launch is not None:
        midnight = datetime.combine(refit.wanted_launch + timedelta(days=1), time(), refit.zone)
        wanted = risk.within(clock.minutes(midnight))
    ahead = vendors_ahead(weighed.built)
    return PlanRisk(
        plan=plan,
        runs=risk.runs,
        p10=clock.moment(risk.p10),
        p50=clock.moment(risk.p50),
        p80=clock.moment(risk.p80),
        p90=clock.moment(risk.p90),
        mean=clock.moment(round(risk.mean)),
        wanted_share=wanted,
        drives={code: round(share, 4) for code, share in risk.drives.items() if share > 0},
        promises=[
            {"code": p.package, "vendor": p.vendor, "gain": round(p.gain), "drives": p.drives}
            for p in risk.promises[:SHOWN]
            if p.gain > 0
        ],
        bases=[asdict(basis) for basis in weighed.bases if basis.vendor in ahead],
        seconds=0,
    )

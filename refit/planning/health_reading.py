"""The current plan, its document and the chosen baseline, put before the checks of `health`."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time

from refit.interchange.export import export_refit

from .baselines_yardstick import Yardstick
from .build import build_problem
from .health import BaselineLine, Facts, Health, Line
from .health_checks import check_health
from .ledger_sources import source_of
from .models import Baseline, Plan, PlannedPackage


@dataclass(frozen=True)
class Named:
    """A package by its code, for links."""

    pk: int
    title: str


def read_health(plan: Plan, *, now: datetime) -> tuple[Health, dict[str, Named]]:
    """The health of ``plan`` as of ``now``, and its packages by code. Seven queries.

    A plan from before documents were kept is looked at together with the refit as it is now.
    """
    refit = plan.refit
    document = source_of(plan) or export_refit(refit)
    rows = list(PlannedPackage.objects.filter(plan=plan).select_related("package"))
    lines, names = {}, {}
    titles = {row["code"]: row["title"] for row in document["packages"]}
    for row in rows:
        # The document has the codes of its day: a package renamed since waits for the next plan.
        code = row.package.code
        if code in titles:
            lines[code] = Line(code, row.start, row.work_finish, row.finish, row.slip_minutes)
            names[code] = Named(row.package_id, row.package.title)
    document = document | {
        "packages": [row for row in document["packages"] if row["code"] in lines],
        "dependencies": [
            row
            for row in document["dependencies"]
            if row["before"] in lines and row["after"] in lines
        ],
        "bookings": [row for row in document["bookings"] if row["package"] in lines],
    }
    baseline = Baseline.objects.chosen(refit)
    kept = None
    if baseline is not None:
        kept = [
            BaselineLine(row.package.code, row.finish)
            for row in baseline.packages.select_related("package")
            if row.package is not None
        ]
    reserve, length = _days(plan, now)
    facts = Facts(
        built=build_problem(document, plan.computed_at),
        lines=lines,
        driving=[code for code in plan.driving if code in lines],
        now=now,
        baseline=kept,
        baseline_name="" if baseline is None else baseline.name,
        reserve_days=reserve,
        days_to_launch=length,
    )
    return check_health(facts), names


def _days(plan: Plan, now: datetime) -> tuple[int | None, int | None]:
    """Working days from the launch to the day wanted, and from now to the launch."""
    refit, launch = plan.refit, plan.launch_at
    if refit.wanted_launch is None or launch is None or launch <= now:
        return None, None
    wanted = datetime.combine(refit.wanted_launch, time(12), refit.zone)
    yardstick = Yardstick(refit, min(now, wanted), max(launch, wanted))
    return (
        yardstick.between(launch, wanted).working_days,
        yardstick.between(now, launch).working_days,
    )

"""Criteria that come with a process, for the packages that were made of it."""

from __future__ import annotations

from collections.abc import Iterable

from refit.quality.models import Criterion, Rule
from refit.work.models import WorkPackage
from refit.work.processes import Process


def apply_acceptance(*, process: Process, packages: Iterable[WorkPackage]) -> list[Criterion]:
    """One criterion for each acceptance of the steps that can be computed.

    Call in the transaction that made the packages; they go with them. One without its number
    (the nominal film of a product) waits for somebody to fill it in.
    """
    made = []
    for package in packages:
        step = process.step(package.step)
        for number, one in enumerate(step.acceptance if step else (), 1):
            if not one.method or not one.rule or one.method == "scale":
                continue
            criterion = Criterion(
                refit_id=package.refit_id,
                package=package,
                name=f"{package.code} {one.method}" + (f" {number}" if number > 1 else ""),
                method=one.method,
                geometry=one.geometry,
                rule=Rule(one.rule),
                low=one.low,
                high=one.high,
                stations=one.stations,
                standing=str(one.standing)[:240],
            )
            criterion.full_clean()
            criterion.save()
            made.append(criterion)
    return made

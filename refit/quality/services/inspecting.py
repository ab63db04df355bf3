"""Judging a criterion, inspecting a package, and putting right what failed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.db import transaction

from refit.quality.judging import Shot, Verdict, Wanted, judge
from refit.quality.models import Criterion, Inspection, Outcome, Reading
from refit.work.models import Actor, Dependency, PieceUse, RelationChoice, WorkPackage, record
from refit.work.services import Refused, reopen_package


def verdict_of(criterion: Criterion, readings: Iterable[Reading]) -> Verdict:
    """``readings``: those of the package; scales already loaded."""
    wanted = Wanted(
        method=criterion.method,
        geometry=criterion.geometry,
        unit=criterion.shown_unit,
        rule=criterion.rule,
        low=criterion.low,
        high=criterion.high,
        stations=criterion.stations,
        scale=str(criterion.scale_id or ""),
    )
    return judge(
        wanted,
        [
            Shot(
                station=one.station,
                stage=one.stage,
                method=one.method,
                geometry=one.geometry,
                unit=one.shown_unit,
                numbers=tuple(one.numbers),
                at=one.read_at,
                scale=str(one.scale_id or "") if criterion.scale_id else "",
            )
            for one in readings
        ],
    )


@transaction.atomic
def note_reading(
    *,
    criterion: Criterion,
    station: str,
    values: list[str],
    instrument: str,
    actor: Actor,
    now: datetime,
) -> Reading:
    """A reading after the work, of the criterion's kind, by whoever sends it."""
    reading = Reading(
        refit_id=criterion.refit_id,
        package_id=criterion.package_id,
        method=criterion.method,
        geometry=criterion.geometry,
        scale_id=criterion.scale_id,
        unit=criterion.unit,
        station=station,
        values=values,
        instrument=instrument,
        read_at=now,
        read_by=actor.name[:120],
    )
    reading.full_clean()
    reading.save()
    record(
        refit=criterion.refit, actor=actor, now=now, verb="measured", subject=criterion.package,
        note=f"{reading}: {' '.join(values)} {reading.shown_unit}".strip(), replan=False,
    )  # fmt: skip
    return reading


@transaction.atomic
def inspect_criterion(
    *, criterion: Criterion, actor: Actor, now: datetime, note: str = ""
) -> Inspection:
    """Record what the readings say now. Raises `Refused` while something is missing."""
    readings = Reading.objects.filter(package_id=criterion.package_id)
    verdict = verdict_of(criterion, readings)
    if verdict.passed is None:
        raise Refused(verdict.sentence)
    return inspect_package(
        package=criterion.package,
        criterion=criterion,
        outcome=Outcome.PASSED if verdict.passed else Outcome.FAILED,
        sentence=verdict.sentence,
        actor=actor,
        now=now,
        note=note,
    )


@transaction.atomic
def inspect_package(
    *,
    package: WorkPackage,
    outcome: Outcome,
    sentence: str,
    actor: Actor,
    now: datetime,
    criterion: Criterion | None = None,
    note: str = "",
) -> Inspection:
    inspection = Inspection(
        refit_id=package.refit_id,
        package=package,
        criterion=criterion,
        outcome=outcome,
        sentence=sentence,
        inspected_at=now,
        inspected_by=actor.name[:120],
        note=note,
    )
    inspection.full_clean()
    inspection.save()
    record(
        refit=package.refit, actor=actor, now=now, verb="inspected", subject=package,
        after={"outcome": outcome.value}, note=sentence, replan=False,
    )  # fmt: skip
    return inspection


@transaction.atomic
def reopen_failed(
    *, inspection: Inspection, minutes: int, actor: Actor, now: datetime
) -> WorkPackage:
    """The package that failed is under way again, with ``minutes`` of work left.

    Raises `Refused` when it passed, a rework is there already, it is not finished, or something
    that waits for its finish has begun: then a rework package tells the truth.
    """
    locked = Inspection.objects.select_for_update().get(pk=inspection.pk)
    if locked.outcome != Outcome.FAILED:
        raise Refused("It passed: there is nothing to put right.")
    if locked.rework_id is not None:
        raise Refused(f"{locked.rework} puts it right already.")
    begun = Dependency.objects.filter(
        before=locked.package, after__started_at__isnull=False,
        relation__in=(RelationChoice.FINISH_TO_START, RelationChoice.FINISH_TO_FINISH),
    ).select_related("after")  # fmt: skip
    if link := begun.first():
        raise Refused(f"{link.after} has begun after it. Plan the rework as a package instead.")
    reopen_package(
        package=locked.package, remaining_minutes=minutes, actor=actor, now=now,
        note=locked.sentence,
    )  # fmt: skip
    return locked.package


@transaction.atomic
def rework_package(
    *, inspection: Inspection, minutes: int, actor: Actor, now: datetime
) -> WorkPackage:
    """A package that puts right what failed, done by the same at the same place.

    It waits for the package that failed; what waited for that one and has not begun waits for it
    as well. Raises `Refused` when it passed, or a rework is there already.
    """
    locked = Inspection.objects.select_for_update().get(pk=inspection.pk)
    failed = locked.package
    if locked.outcome != Outcome.FAILED:
        raise Refused("It passed: there is nothing to put right.")
    if locked.rework_id is not None:
        raise Refused(f"{locked.rework} puts it right already.")
    taken = {code.casefold() for code in failed.refit.packages.values_list("code", flat=True)}
    number = 1
    while f"{failed.code}-R{number}".casefold() in taken:
        number += 1
    kept: dict[str, Any] = {
        name: getattr(failed, name)
        for name in (
            "vendor", "place", "takes_bay", "helpers", "unbroken", "hold_minutes", "hold_reason",
            "acceptance", "cautions", "process", "step",
        )
    }  # fmt: skip
    rework = WorkPackage(
        refit_id=failed.refit_id,
        code=f"{failed.code}-R{number}",
        title=f"Rework: {failed.title}"[:160],
        scope=locked.sentence,
        low_minutes=minutes,
        likely_minutes=minutes,
        high_minutes=minutes,
        **kept,
    )
    rework.full_clean()
    rework.save()
    rework.people.set(failed.people.all())
    rework.zones.set(failed.zones.all())
    PieceUse.objects.bulk_create(
        PieceUse(package=rework, piece_id=use.piece_id, effect="needs")
        for use in failed.piece_uses.all()
    )
    reason = f"what failed is put right: {locked.sentence}"[:240]
    waiting = list(
        Dependency.objects.filter(
            before=failed, after__started_at=None, relation=RelationChoice.FINISH_TO_START
        )
    )
    for link in waiting:
        Dependency.objects.create(
            refit_id=failed.refit_id, before=rework, after_id=link.after_id,
            min_lag_minutes=link.min_lag_minutes, lag_in=link.lag_in, reason=link.reason,
        )  # fmt: skip
    Dependency.objects.create(refit_id=failed.refit_id, before=failed, after=rework, reason=reason)
    locked.rework = rework
    locked.save(update_fields=["rework"])
    record(
        refit=failed.refit, actor=actor, now=now, verb="added", subject=rework,
        after={"code": rework.code, "title": rework.title}, note=locked.sentence,
    )  # fmt: skip
    return rework

"""Computing plans and storing them.

A plan is stored only if the refit is still what it was computed from. So nothing is locked while
it is computed; the transaction that stores it

1. locks the pieces of the refit, without waiting: somebody who is moving one is changing the refit;
2. sets the current plan aside, brings the handoffs in line, writes the plan;
3. locks the refit last, as everybody who changes one does, and compares its version; if it has
   moved on, everything is rolled back and computed anew.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from datetime import datetime
from time import perf_counter

from django.db import DatabaseError, transaction

from refit.interchange.export import export_refit
from refit.nudges import nudge
from refit.work.models import Piece, Place, Refit, WorkPackage

from .handoffs import Ids, sync_handoffs
from .history import forget_old_plans
from .ledger import Booked
from .ledger_book import book, prepare_booking
from .models import Plan, PlannedMove, PlannedPackage, PlanState, PlanTrouble
from .risk import queue_risk
from .solve import NoPlan, Solved, solve

log = logging.getLogger(__name__)

QUICK_SECONDS = 0.2
"""A plan that takes less is made while the person who changed something waits for the page."""
TRIES = 3


class Overtaken(Exception):
    """The refit was changed while its plan was being computed or stored."""


def settle(*, refit: Refit, now: datetime) -> bool:
    """Call after every change: replan at once if that is quick, else leave it to the worker.

    True if the plan that is shown is the one of the refit as it is now. False if a newer one is on
    its way, or if none can be made (see `PlanTrouble`).
    """
    refit.refresh_from_db(fields=["version"])
    current = Plan.objects.current(refit)
    if current is not None and current.refit_version == refit.version:
        return True
    if PlanTrouble.objects.filter(refit=refit, refit_version=refit.version).exists():
        return False
    if current is None or current.seconds < QUICK_SECONDS:
        try:
            return replan(refit=refit, now=now) is not None
        except Exception:  # what was changed is saved; a fault in planning must not hide that
            log.exception("refit %s could not be planned", refit.pk)
            return False
    queue_replan(refit)
    return False


def replan(*, refit: Refit, now: datetime) -> Plan | None:
    """Compute and store the plan of ``refit`` as of ``now``.

    None if there is none (the reason is stored as `PlanTrouble` and the last good plan stays), or
    if the refit kept changing meanwhile: then the worker is asked to try again.
    """
    for _ in range(TRIES):
        try:
            return _replan_once(refit, now)
        except Overtaken:
            continue
    log.info("refit %s changes faster than it can be planned; queued", refit.pk)
    queue_replan(refit)
    return None


def queue_replan(refit: Refit) -> None:
    """Ask the worker, once this transaction is over. Without a broker the sweep finds it later."""
    from .tasks import replan_refit

    nudge(replan_refit, refit.pk)


def _replan_once(refit: Refit, now: datetime) -> Plan | None:
    began = perf_counter()
    version = Refit.objects.values_list("version", flat=True).get(pk=refit.pk)
    current = Plan.objects.current(refit)
    previous = (
        []
        if current is None
        else list(current.packages.values_list("package__code", "start", "work_finish", "finish"))
    )
    document = export_refit(refit, for_planning=True)
    try:
        solved = solve(document, now, previous)
    except NoPlan as reason:
        store_trouble(refit=refit, version=version, reason=reason, now=now)
        return None
    seconds = perf_counter() - began
    booked = prepare_booking(refit=refit, before=current, solved=solved, now=now)
    return store_plan(
        refit=refit,
        version=version,
        solved=solved,
        now=now,
        began=perf_counter() - seconds,  # the ledger's part is not the plan's
        booked=booked,
    )


def store_plan(
    *,
    refit: Refit,
    version: int,
    solved: Solved,
    now: datetime,
    began: float,
    booked: Sequence[Booked] = (),
    instead_of: Plan | None = None,
) -> Plan:
    """Make ``solved``, computed from ``version``, the current plan. Raises Overtaken.

    ``began``: reading of `perf_counter` when computing began. ``booked``: what moved the launch,
    if that was told apart already. ``instead_of``: only if that plan is the current one still.
    """
    try:
        with transaction.atomic():
            pieces = dict(
                Piece.objects.select_for_update(nowait=True)
                .filter(refit=refit)
                .order_by("pk")
                .values_list("tag", "pk")
            )
            ids = Ids(
                packages=dict(WorkPackage.objects.filter(refit=refit).values_list("code", "pk")),
                pieces=pieces,
                places=dict(Place.objects.filter(refit=refit).values_list("name", "pk")),
            )
            _check_names(solved, ids)
            if instead_of is not None and Plan.objects.current(refit) != instead_of:
                raise Overtaken
            plan = _write(refit, version, solved, ids, now)
            book(refit=refit, plan=plan, solved=solved, booked=booked)
            PlanTrouble.objects.filter(refit=refit).delete()
            forget_old_plans(refit=refit)
            plan.seconds = perf_counter() - began - solved.build_seconds
            plan.save(update_fields=["seconds"])
            _check_version(refit, version)
    except DatabaseError as error:  # a lock we did not wait for, a row gone, another plan current
        log.info("plan of refit %s not stored: %s", refit.pk, error)
        raise Overtaken from error
    queue_risk(plan)
    return plan


def _check_version(refit: Refit, version: int) -> None:
    """Nobody can change the refit from here to the end of the transaction."""
    if not Refit.objects.select_for_update().filter(pk=refit.pk, version=version).exists():
        raise Overtaken


def _check_names(solved: Solved, ids: Ids) -> None:
    """Something renamed or deleted meanwhile shows here first."""
    known = (
        solved.answers.keys() <= ids.packages.keys()
        and {move.piece for move in solved.moves} <= ids.pieces.keys()
        and solved.built.place_vendors.keys() <= ids.places.keys()
    )
    if not known:
        raise Overtaken


def _write(refit: Refit, version: int, solved: Solved, ids: Ids, now: datetime) -> Plan:
    moment = solved.built.clock.moment
    handoffs = sync_handoffs(refit=refit, built=solved.built, moves=solved.moves, ids=ids, now=now)
    Plan.objects.filter(refit=refit, state=PlanState.CURRENT).update(state=PlanState.EARLIER)
    plan = Plan.objects.create(
        refit=refit,
        refit_version=version,
        computed_at=now,
        seconds=0,
        launch_at=solved.launch_at,
        finish_at=solved.finish_at,
        driving=solved.driving,
        because=solved.because,
        notes=solved.notes,
        shortfalls=solved.shortfalls,
    )
    PlannedPackage.objects.bulk_create(
        PlannedPackage(
            plan=plan,
            package_id=ids.packages[code],
            start=moment(answer.planned.start),
            work_finish=moment(answer.planned.work_finish),
            finish=moment(answer.planned.finish),
            slip_minutes=answer.slip,
            slip_note=answer.slip_note,
            drives=answer.drives,
            cause_kind=answer.cause_kind,
            cause=answer.cause,
            behind=answer.behind,
        )
        for code, answer in solved.answers.items()
    )
    PlannedMove.objects.bulk_create(
        PlannedMove(
            plan=plan,
            piece_id=ids.pieces[move.piece],
            origin_id=ids.places[move.origin],
            destination_id=ids.places[move.destination],
            after_package_id=ids.package(move.after_package),
            for_package_id=ids.package(move.for_package),
            free_at=moment(move.free_at),
            depart=moment(move.depart),
            arrive=moment(move.arrive),
            leave_by=None if move.leave_by is None else moment(move.leave_by),
            needed_at=None if move.needed_at is None else moment(move.needed_at),
            handoff=handoff,
        )
        for move, handoff in zip(solved.moves, handoffs, strict=True)
    )
    return plan


def store_trouble(*, refit: Refit, version: int, reason: NoPlan, now: datetime) -> None:
    """Remember why there is no plan. Raises Overtaken if the refit has changed meanwhile."""
    with transaction.atomic():
        _check_version(refit, version)
        PlanTrouble.objects.update_or_create(
            refit=refit,
            defaults={
                "refit_version": version,
                "at": now,
                "sentence": " ".join(reason.sentences),
                "codes": reason.codes,
            },
        )

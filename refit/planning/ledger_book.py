"""Writing the delay ledger: with each plan that is stored, in the same transaction.

What moved the launch is told apart before the plan is stored if that is quick. Otherwise one entry
of kind `PENDING` keeps the chain whole until the worker has replaced it (`tell_pending`).
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from refit.nudges import nudge
from refit.work.models import JournalEntry, Refit, WorkPackage
from refit.work.wording import say_count

from .ledger import A_WINDOW, Booked, Cause, Window, plans_needed, tell_apart
from .ledger_changes import Deed, steps_between
from .ledger_deeds import deeds_between
from .ledger_sources import keep_source, source_of
from .models import LedgerEntry, LedgerKind, Plan
from .solve import Solved

log = logging.getLogger(__name__)

INLINE_SECONDS = 0.2
"""Planning for the ledger while somebody waits for the page takes no longer than this."""
NAMED = 4
"""Entries of the journal that are named when they could not be told apart."""


def window_of(before: Plan | None, solved: Solved, now: datetime) -> Window | None:
    """The window that a new plan closes; None if the launch stands or nothing can be replayed."""
    launch = solved.launch_at
    if before is None or before.launch_at is None or launch is None or launch == before.launch_at:
        return None
    document = source_of(before)
    if document is None:
        return None
    return Window(
        document_before=document,
        dates_before=_dates(before),
        at_before=before.computed_at,
        launch_before=before.launch_at,
        document_after=solved.built.document,
        at_after=now,
        launch_after=launch,
        driving_after=solved.driving,
    )


def _dates(plan: Plan) -> list[tuple[str, datetime, datetime, datetime]]:
    return list(plan.packages.values_list("package__code", "start", "work_finish", "finish"))


def prepare_booking(
    *, refit: Refit, before: Plan | None, solved: Solved, now: datetime
) -> list[Booked]:
    """What moved the launch, if it did and that is found quickly; else nothing. Writes nothing.

    Never fails: a fault in telling causes apart must not keep anybody from a plan.
    """
    try:
        window = window_of(before, solved, now)
        if window is None or before is None:
            return []
        steps = steps_between(
            window.document_before, window.document_after, _deeds(refit, window), at=now
        )
        if plans_needed(window, steps) * before.seconds > INLINE_SECONDS:
            return []
        return tell_apart(window, steps)
    except Exception:
        log.exception("what moved the launch of refit %s could not be told at once", refit.pk)
        return []


def _deeds(refit: Refit, window: Window) -> list[Deed]:
    return deeds_between(
        refit, window.at_before, window.at_after, window.document_before, window.document_after
    )


def book(*, refit: Refit, plan: Plan, solved: Solved, booked: Iterable[Booked]) -> None:
    """Keep what ``plan`` was computed from, and write what moved the launch. In the transaction
    that stores the plan; ``booked`` is what `prepare_booking` found. Three queries if nothing
    moved."""
    keep_source(plan, solved.built.document)
    if plan.launch_at is None:
        return
    last = LedgerEntry.objects.last_of(refit) or _open(refit, plan)
    if last.launch_after == plan.launch_at:
        return
    found = list(booked)
    fits = found and (found[0].launch_before, found[-1].launch_after) == (
        last.launch_after,
        plan.launch_at,
    )
    if not fits:
        cause = Cause(LedgerKind.PENDING, "being told apart")
        found = [Booked(cause, last.launch_after, plan.launch_at, plan.computed_at)]
    position = (last.position // A_WINDOW + 1) * A_WINDOW
    entries = _write(refit, plan, found, position)
    if not fits:
        from .tasks import tell_ledger_apart

        nudge(tell_ledger_apart, entries[0].pk)


def _open(refit: Refit, plan: Plan) -> LedgerEntry:
    """The first entry: the launch of the first plan that is known."""
    first = Plan.objects.earlier(refit).exclude(launch_at=None).first() or plan
    assert first.launch_at is not None
    return LedgerEntry.objects.create(
        refit=refit,
        plan=first,
        position=0,
        at=first.computed_at,
        kind=LedgerKind.OPENED,
        launch_before=first.launch_at,
        launch_after=first.launch_at,
        said="the first plan",
    )


def _write(refit: Refit, plan: Plan, found: list[Booked], position: int) -> list[LedgerEntry]:
    if len(found) >= A_WINDOW:  # more than anybody reads: the rest as one
        cause = Cause(LedgerKind.SEVERAL, say_count(len(found) - A_WINDOW + 2, "more change"))
        rest = found[A_WINDOW - 2 :]
        one = Booked(cause, rest[0].launch_before, rest[-1].launch_after, rest[-1].at)
        found = [*found[: A_WINDOW - 2], one]
    codes = {one.cause.package for one in found if one.cause.package}
    packages = (
        dict(WorkPackage.objects.filter(refit=refit, code__in=codes).values_list("code", "pk"))
        if codes
        else {}
    )
    return LedgerEntry.objects.bulk_create(
        LedgerEntry(
            refit=refit,
            plan=plan,
            position=position + number,
            at=one.at,
            kind=one.cause.kind,
            launch_before=one.launch_before,
            launch_after=one.launch_after,
            said=one.cause.said,
            party=one.cause.party,
            actor=one.cause.actor,
            package_id=packages.get(one.cause.package or ""),
            journal_id=one.cause.entry,
        )
        for number, one in enumerate(found)
    )


def tell_pending(entry: LedgerEntry) -> None:
    """Replace an entry of kind `PENDING` by what can be told apart. Can run twice without harm."""
    window = _window_again(entry)
    found: list[Booked] = []
    if window is not None:
        try:
            deeds = _deeds(entry.refit, window)
            steps = steps_between(
                window.document_before, window.document_after, deeds, at=window.at_after
            )
            found = tell_apart(window, steps)
        except Exception:
            log.exception("what moved the launch of refit %s cannot be told apart", entry.refit_id)
    if not found:
        found = list(_untold(entry))
    pending = LedgerEntry.objects.filter(pk=entry.pk, kind=LedgerKind.PENDING)
    if entry.plan is None:
        pending.update(kind=LedgerKind.SEVERAL, said=found[0].cause.said)
        return
    with transaction.atomic():
        deleted, _ = pending.delete()
        if deleted:
            _write(entry.refit, entry.plan, found, entry.position)


def _window_again(entry: LedgerEntry) -> Window | None:
    """The window that a pending entry stands for, if both plans and their documents are kept."""
    after = entry.plan
    before = None if after is None else _before(entry, after)
    if after is None or before is None:
        return None
    document_before, document_after = source_of(before), source_of(after)
    if document_before is None or document_after is None:
        return None
    return Window(
        document_before=document_before,
        dates_before=_dates(before),
        at_before=before.computed_at,
        launch_before=entry.launch_before,
        document_after=document_after,
        at_after=after.computed_at,
        launch_after=entry.launch_after,
        driving_after=after.driving,
    )


def _before(entry: LedgerEntry, after: Plan) -> Plan | None:
    """The plan that ``after`` replaced."""
    earlier = Plan.objects.filter(refit=entry.refit, pk__lt=after.pk)
    return earlier.filter(launch_at=entry.launch_before).order_by("-pk").first()


def _untold(entry: LedgerEntry) -> Iterable[Booked]:
    """One entry for the whole window, naming what the journal has in it."""
    last = (
        LedgerEntry.objects.filter(refit=entry.refit, position__lt=entry.position)
        .order_by("-position")
        .first()
    )
    since = entry.at if last is None else last.at
    rows = JournalEntry.objects.filter(refit=entry.refit, at__gt=since, at__lte=entry.at)
    names = [str(row) for row in rows.order_by("at", "id")[: NAMED + 1]]
    more = rows.count() - NAMED
    said = "; ".join(names[:NAMED]) or "time passed"
    if more > 0:
        said += f"; and {say_count(more, 'more entry', 'more entries')} of the journal"
    yield Booked(Cause(LedgerKind.SEVERAL, said), entry.launch_before, entry.launch_after, entry.at)

"""Earlier plans: how the launch moved and what changed meanwhile, and which of them are kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time

from django.db.models import QuerySet

from refit.work.models import JournalEntry, Refit

from .models import Plan

KEPT = 30
"""Earlier plans kept whatever their day; the last one of each day is kept beyond that."""
MENTIONED = 20
"""Journal entries between two plans that are handed out at most."""


@dataclass(frozen=True, slots=True)
class LaunchStep:
    """From one plan to a later one. ``days``: local calendar days, positive if the launch is later.

    ``changed`` says the first thing that was done to the refit in between; empty if nothing was
    (time has passed). ``entries`` are the changes that a plan depends on, the first one first.
    """

    days: int
    launch_before: datetime
    launch_after: datetime
    since: datetime
    changed: str
    entries: tuple[JournalEntry, ...]


@dataclass(frozen=True, slots=True)
class LaunchMoved:
    """Against the plan before this one, and against the last plan of an earlier day; either may
    be missing."""

    last: LaunchStep | None
    today: LaunchStep | None


def launch_moved(plan: Plan, *, now: datetime | None = None) -> LaunchMoved:
    """How the launch moved to where ``plan`` has it. ``now`` says which day is today; without it
    the day on which the plan was computed. At most four queries."""
    refit = plan.refit
    earlier = Plan.objects.earlier(refit).filter(computed_at__lte=plan.computed_at)
    earlier = earlier.exclude(pk=plan.pk).exclude(launch_at=None)
    before = earlier.first()
    midnight = _midnight(refit, refit.today(now or plan.computed_at))
    if plan.computed_at < midnight:
        return LaunchMoved(last=_step(before, plan), today=None)
    at_midnight = earlier.filter(computed_at__lt=midnight).first()
    last = _step(before, plan)
    if before is not None and at_midnight is not None and before.pk == at_midnight.pk:
        return LaunchMoved(last, last)
    return LaunchMoved(last, _step(at_midnight, plan))


def moved_today(plan: Plan, *, now: datetime) -> LaunchStep | None:
    """The ``today`` of `launch_moved` alone, at most two queries: all that the day's page tells."""
    midnight = _midnight(plan.refit, plan.refit.today(now))
    if plan.computed_at < midnight:
        return None
    earlier = Plan.objects.earlier(plan.refit).filter(computed_at__lt=midnight)
    return _step(earlier.exclude(pk=plan.pk).exclude(launch_at=None).first(), plan)


def _midnight(refit: Refit, day: date) -> datetime:
    return datetime.combine(day, time(), refit.zone)


def _step(before: Plan | None, after: Plan) -> LaunchStep | None:
    if before is None or before.launch_at is None or after.launch_at is None:
        return None
    refit = after.refit
    days = (refit.local(after.launch_at).date() - refit.local(before.launch_at).date()).days
    entries = tuple(_entries_between(before, after)[:MENTIONED])
    return LaunchStep(
        days=days,
        launch_before=before.launch_at,
        launch_after=after.launch_at,
        since=before.computed_at,
        changed=_say(entries[0]) if entries else "",
        entries=entries,
    )


def _entries_between(before: Plan, after: Plan) -> QuerySet[JournalEntry]:
    """What was done after the first plan was computed, the second included."""
    return JournalEntry.objects.filter(
        refit_id=after.refit_id, at__gt=before.computed_at, at__lte=after.computed_at
    ).order_by("at", "id")


def _say(entry: JournalEntry) -> str:
    return f"{entry.actor_name} {entry.verb} {entry.subject_name}".rstrip()


def forget_old_plans(*, refit: Refit) -> int:
    """Delete earlier plans beyond `KEPT`, except the last of each local day; how many."""
    rows = list(Plan.objects.earlier(refit).values_list("pk", "computed_at"))
    days: set[date] = set()
    old: list[int] = []
    for position, (pk, computed_at) in enumerate(rows):
        day = refit.today(computed_at)
        if position >= KEPT and day in days:
            old.append(pk)
        days.add(day)
    if old:
        Plan.objects.filter(pk__in=old).delete()
    return len(old)

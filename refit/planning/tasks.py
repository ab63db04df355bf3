"""Planning in the background. Each task can run twice without harm."""

from __future__ import annotations

import logging
from datetime import datetime, time, timedelta

from celery import shared_task
from django.conf import settings
from django.db.models import F, Q
from django.utils import timezone

from refit.contracts.models import Inquiry, QuoteState
from refit.work.models import Actor, Refit

from .ledger_book import tell_pending
from .models import LedgerEntry, LedgerKind, Plan, PlanState, PlanTrouble, WhatIf
from .prospects import known_prospects
from .prospects import work_out_now as work_out_now_of_quotes
from .risk import store_risk
from .search_child import carry_out_in_child
from .searching import bury_dead_searches, carry_out
from .services import replan
from .whatif import is_current, work_out_now

log = logging.getLogger(__name__)

FRESH_FOR = timedelta(hours=3)
"""How old a plan gets before it is made again because time has passed: what is late and not
reported as finished pushes everything behind it a little further every hour."""

A_MINUTE = timedelta(minutes=1)
"""How long an entry of the ledger may wait for its own task before the sweep sees to it."""


WEIGHED_WITHIN = timedelta(minutes=10)
"""How long after a plan was made the sweep still looks whether somebody said how sure it is."""


@shared_task(ignore_result=True)
def replan_refit(refit_id: int) -> None:
    """Replan one refit, unless its plan has caught up in the meantime."""
    refit = Refit.objects.filter(pk=refit_id).first()
    now = timezone.now()
    if refit is not None and is_stale(refit, Plan.objects.current(refit), now):
        replan(refit=refit, now=now)


@shared_task(ignore_result=True)
def replan_stale() -> int:
    """Replan every refit in work whose plan is behind; how many. To be run every minute or so."""
    now = timezone.now()
    plans = {
        plan.refit_id: plan
        for plan in Plan.objects.filter(state=PlanState.CURRENT, refit__closed_at=None)
    }
    stuck = PlanTrouble.objects.filter(refit_version=F("refit__version"))
    in_trouble = set(stuck.filter(at__gte=now - FRESH_FOR).values_list("refit_id", flat=True))
    stale = [
        refit
        for refit in Refit.objects.filter(Q(closed_at=None))
        if refit.pk not in in_trouble and is_stale(refit, plans.get(refit.pk), now)
    ]
    for refit in stale:
        try:
            replan(refit=refit, now=now)
        except Exception:  # one refit must not keep the others from being planned
            log.exception("refit %s could not be planned", refit.pk)
    for entry in LedgerEntry.objects.filter(kind=LedgerKind.PENDING, at__lt=now - A_MINUTE):
        tell_pending(entry)
    bury_dead_searches(now=now)
    return len(stale)


@shared_task(ignore_result=True)
def tell_ledger_apart(entry_id: int) -> None:
    """Tell apart what moved the launch in one window, unless that was done in the meantime."""
    entry = LedgerEntry.objects.filter(pk=entry_id, kind=LedgerKind.PENDING).first()
    if entry is not None:
        tell_pending(entry)


def is_stale(refit: Refit, plan: Plan | None, now: datetime) -> bool:
    """Whether the refit has changed, a new local day has begun, or some hours have passed."""
    if plan is None or plan.refit_version < refit.version:
        return True
    midnight = datetime.combine(refit.today(now), time(), refit.zone)
    return plan.computed_at < midnight or plan.computed_at <= now - FRESH_FOR


@shared_task(ignore_result=True)
def search_plan(search_id: int) -> None:
    """Look for a better plan: here, if this is a worker of its own; else in a child process."""
    if settings.REDIS_URL:
        carry_out(search_id)
    else:
        carry_out_in_child(search_id)


@shared_task(ignore_result=True)
def work_out_what_if(sandbox_id: int) -> None:
    """Compare the plans with and without what somebody tries, for refits that take long to plan."""
    sandbox = WhatIf.objects.select_related("refit", "user").filter(pk=sandbox_id).first()
    now = timezone.now()
    if sandbox is not None and not is_current(sandbox, now):
        actor = Actor(sandbox.user.name or sandbox.user.email, "manager", sandbox.user.pk)
        work_out_now(sandbox, actor=actor, now=now)


@shared_task(ignore_result=True)
def work_out_quotes(inquiry_id: int) -> None:
    """Plan with each quote of an inquiry, for refits that take long to plan."""
    inquiry = Inquiry.objects.select_related("refit").filter(pk=inquiry_id, closed_at=None).first()
    if inquiry is None:
        return
    now, refit = timezone.now(), inquiry.refit
    quotes = list(inquiry.quotes.filter(state=QuoteState.ANSWERED))
    known = known_prospects(refit, quotes, now)
    if missing := [quote for quote in quotes if quote.pk not in known]:
        work_out_now_of_quotes(refit, missing, now=now)


@shared_task(ignore_result=True)
def weigh_plan(plan_id: int) -> None:
    """Say how sure the launch of a plan is, unless it has been replaced in the meantime."""
    plan = Plan.objects.select_related("refit").filter(pk=plan_id).first()
    if plan is not None:
        store_risk(plan)


@shared_task(ignore_result=True)
def weigh_unweighed() -> int:
    """Say it for current plans of which nobody has yet; how many. To be run every minute or so.

    One that cannot be weighed is tried for `WEIGHED_WITHIN` and then left alone: it will be
    replaced within hours.
    """
    plans = Plan.objects.filter(
        state=PlanState.CURRENT,
        risk=None,
        launch_at__isnull=False,
        refit__closed_at=None,
        computed_at__gte=timezone.now() - WEIGHED_WITHIN,
    )
    weighed = 0
    for plan in plans.select_related("refit"):
        try:
            weighed += store_risk(plan) is not None
        except Exception:  # one refit must not keep the others waiting
            log.exception("plan %s could not be weighed", plan.pk)
    return weighed

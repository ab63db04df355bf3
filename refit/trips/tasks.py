"""Planning trips in the background. Each task can run twice without harm."""

from __future__ import annotations

import logging

from celery import shared_task
from django.db.models import F
from django.utils import timezone

from refit.planning.models import Plan
from refit.work.models import Driving, Refit

from .services import replan_trips

log = logging.getLogger(__name__)


@shared_task(ignore_result=True)
def think_trips_over(refit_id: int) -> None:
    refit = Refit.objects.filter(pk=refit_id, closed_at=None).first()
    if refit is not None:
        replan_trips(refit=refit, now=timezone.now(), thoroughly=True)


@shared_task(ignore_result=True)
def follow_plans() -> int:
    """Plan trips anew where the refit's plan has changed since; how many. For every minute or so.

    Only of refits that have planned trips once, and only when their plan is up to date.
    """
    stale = Driving.objects.filter(
        planned_at__isnull=False, planned_version__lt=F("refit__version"), refit__closed_at=None
    ).select_related("refit")
    number = 0
    for driving in stale:
        plan = Plan.objects.current(driving.refit)
        if plan is None or plan.refit_version < driving.refit.version:
            continue
        try:
            replan_trips(refit=driving.refit, now=timezone.now(), by_itself=True)
            number += 1
        except Exception:  # one refit must not keep the others from being planned
            log.exception("trips of refit %s could not be planned", driving.refit_id)
    return number

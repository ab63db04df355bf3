"""What the schedule calls. Each may run twice, late, or at the same time as another."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from refit.nudges import nudge

from . import sending, services, tidying


@shared_task(name="refit.notices.tasks.sweep_outbox")
def sweep_outbox() -> None:
    services.note_heartbeat(name="schedule", now=timezone.now())
    sending.sweep()


@shared_task(name="refit.notices.tasks.plan_reminders")
def plan_reminders() -> None:
    if services.plan_all(now=timezone.now()):
        # Robust: without a broker the next sweep sends it.
        nudge(sweep_outbox)


@shared_task(name="refit.notices.tasks.tidy")
def tidy() -> None:
    tidying.tidy(now=timezone.now())

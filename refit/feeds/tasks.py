"""What the schedule calls; may run twice without harm."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from . import services


@shared_task(name="refit.feeds.tasks.refresh_feeds")
def refresh_feeds() -> None:
    services.refresh_feeds(now=timezone.now())

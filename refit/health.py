"""``/health``: whether the parts of an installation answer, as JSON, for a monitor to ask.

Says nothing about whose refits are in it, and takes no sign-in. 200 if all is well, 503 if not.

* ``database``: answers a query.
* ``broker``: takes a connection ("in this process" where there is none to take).
* ``schedule``: beat reached the worker within the last minutes. Beat asks every half minute for
  the outbox to be swept, and the worker notes when it did: one row proves both. "starting" until
  the first time.
"""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.db import DatabaseError, connection
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from refit.background import Background
from refit.celery import app
from refit.notices.models import Heartbeat

LATE_AFTER = timedelta(minutes=3)
WELL = ("ok", "starting", "in this process")


@require_safe
def health(request: HttpRequest) -> JsonResponse:
    database = _database()
    parts = {
        "database": database,
        "broker": _broker(),
        "schedule": schedule_answer() if database == "ok" else "unknown",
    }
    if not settings.REDIS_URL:
        parts["worker"] = _worker()
    well = all(answer in WELL for answer in parts.values())
    return JsonResponse(
        {"status": "ok" if well else "trouble", **parts}, status=200 if well else 503
    )


def _database() -> str:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return "does not answer"
    return "ok"


def _broker() -> str:
    if not settings.REDIS_URL:
        return "in this process"
    try:
        with app.connection_for_write() as broker:
            broker.ensure_connection(max_retries=1, timeout=2)
    except Exception:  # whatever the transport raises, the answer is the same
        return "does not answer"
    return "ok"


def _worker() -> str:
    """Of this process. Without one nothing is sent and planning waits."""
    running = Background.running
    return "ok" if running is not None and running.works else "does not run"


def schedule_answer() -> str:
    last = Heartbeat.objects.filter(name="schedule").first()
    if last is not None and last.at > timezone.now() - LATE_AFTER:
        return "ok"
    running = Background.running
    if running is not None and running.started_at > timezone.now() - LATE_AFTER:
        return "starting"
    return "late" if last else "has not run"

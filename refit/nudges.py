"""Waking the worker. The database is the queue: a nudge that is lost costs time, never work."""

from __future__ import annotations

import logging
import time
from typing import Any, Protocol

from django.db import transaction

log = logging.getLogger(__name__)

SLOW_SECONDS = 1.0
LEFT_ALONE_SECONDS = 30.0
"""How long a broker that did not even refuse is not asked again: each question costs the person
who waits for the page five seconds (see the time-outs in the settings)."""
_away_until = 0.0


class Queued(Protocol):
    """A Celery task, as far as a nudge knows it."""

    def delay(self, *args: Any, **kwargs: Any) -> Any: ...


def nudge(task: Queued, *args: int) -> None:
    """Queue ``task`` with these ids once the transaction is committed.

    A broker that is down is logged and no more: what was committed stays, the sweep finds it.
    (A plain function, because Django logs a failing callback by its name and a partial has none.)
    """

    def wake() -> None:
        global _away_until
        began = time.monotonic()
        if began < _away_until:
            log.warning("%s is left to the sweep: the broker did not answer just now.", task)
            return
        try:
            task.delay(*args)
        except Exception:
            if time.monotonic() - began > SLOW_SECONDS:
                _away_until = time.monotonic() + LEFT_ALONE_SECONDS
            raise

    wake.__qualname__ = f"nudge of {task}"  # the name under which a failure is logged
    transaction.on_commit(wake, robust=True)

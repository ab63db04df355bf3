"""Waking the worker. The database is the queue: a nudge that is lost costs time, never work."""

from __future__ import annotations

from typing import Any, Protocol

from django.db import transaction


class Queued(Protocol):
    """A Celery task, as far as a nudge knows it."""

    def delay(self, *args: Any, **kwargs: Any) -> Any: ...


def nudge(task: Queued, *args: int) -> None:
    """Queue ``task`` with these ids once the transaction is committed.

    A broker that is down is logged and no more: what was committed stays, the sweep finds it.
    (A plain function, because Django logs a failing callback by its name and a partial has none.)
    """

    def wake() -> None:
        task.delay(*args)

    wake.__qualname__ = f"nudge of {task}"  # the name under which a failure is logged
    transaction.on_commit(wake, robust=True)

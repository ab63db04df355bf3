"""Closing a refit when everything is done and handed over, and opening it again.

A closed refit is not planned any more and nobody is reminded of anything; its pages stay. Private
links end some days later (`Refit.link_days`).
"""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from refit.work.models import Actor, Refit, record


@transaction.atomic
def close_refit(*, refit: Refit, at: datetime, actor: Actor, now: datetime) -> bool:
    """Closed as of ``at``, which is not in the future. False if it was closed already."""
    if at > now:
        raise ValueError("A refit is closed when it is over, not before.")
    if not Refit.objects.filter(pk=refit.pk, closed_at=None).update(closed_at=at):
        return False
    refit.refresh_from_db(fields=["closed_at"])
    record(
        refit=refit, actor=actor, now=now, verb="closed", subject=refit,
        before={"closed_at": None}, after={"closed_at": at}, replan=False,
    )  # fmt: skip
    return True


@transaction.atomic
def reopen_refit(*, refit: Refit, actor: Actor, now: datetime) -> bool:
    """Take the closing back. False if it is open. The plan is computed anew: a day has passed."""
    closed_at = refit.closed_at
    if not Refit.objects.filter(pk=refit.pk, closed_at__isnull=False).update(closed_at=None):
        return False
    refit.refresh_from_db(fields=["closed_at"])
    record(
        refit=refit, actor=actor, now=now, verb="opened again", subject=refit,
        before={"closed_at": closed_at}, after={"closed_at": None},
    )  # fmt: skip
    return True

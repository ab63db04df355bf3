"""Findings: noting one, and deciding what becomes of it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from refit.quality.models import Decision, Finding
from refit.work.models import Actor, record


class AlreadyDecided(Exception):
    """Somebody else decided first; the message is a sentence for the user."""


@transaction.atomic
def decide_finding(
    *, finding: Finding, decision: Decision, actor: Actor, now: datetime, note: str = ""
) -> None:
    """Settle an open finding. Asking the owner keeps it open; waiting again is no decision.

    Does not touch the plan: a package made of the finding does. Raises `AlreadyDecided`.
    """
    locked = Finding.objects.select_for_update().get(pk=finding.pk)
    if not locked.is_open:
        raise AlreadyDecided(
            f"{locked.code} was decided already: {locked.get_decision_display()},"
            f" by {locked.decided_by}."
        )
    before = {"decision": locked.decision, "note": locked.note}
    locked.decision = decision
    locked.note = note or locked.note
    if not locked.is_open:
        locked.decided_at, locked.decided_by = now, actor.name
    locked.save()
    record(
        refit=locked.refit, actor=actor, now=now, verb="decided", subject=locked,
        before=before, after={"decision": locked.decision, "note": locked.note}, replan=False,
    )  # fmt: skip

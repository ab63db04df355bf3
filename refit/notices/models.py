"""The outbox: what is to be told, to whom, when. The database is the queue; Celery only nudges."""

from __future__ import annotations

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.utils import timezone

from refit.work.models import Refit, Vendor


class NoticeKind(models.TextChoices):
    DUE_SOON = "due soon", "due back soon"
    OVERDUE = "overdue", "overdue"
    READY = "ready", "ready to collect"
    BOOKING = "booking", "booking tomorrow"
    HOLD_ENDED = "hold ended", "hold ended"
    DECISION = "decision", "decision waiting"
    PROMISE = "promise", "promise changed"
    LAUNCH = "launch", "launch moved"
    NO_PLAN = "no plan", "no plan could be made"


class NoticeState(models.TextChoices):
    WAITING = "waiting", "waits to be sent"
    CLAIMED = "claimed", "being sent"
    SENT = "sent", "sent"
    DROPPED = "dropped", "no longer true when its time came"
    PARKED = "parked", "given up after several tries"


class Notice(models.Model):
    """One thing told to one address. ``key`` is unique: the same thing is never told twice.

    ``payload`` holds what the sentence needs; ``urgent`` ones go alone, the others in one digest
    a recipient and local day. Claimed by a conditional UPDATE on state and lease.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="notices")
    key = models.CharField(max_length=200, unique=True)
    kind = models.CharField(max_length=12, choices=NoticeKind)
    recipient = models.EmailField()
    recipient_name = models.CharField(max_length=120, blank=True)
    side = models.CharField(max_length=10)
    """Whose page the mail leads to: manager, owner or vendor."""
    vendor = models.ForeignKey(Vendor, on_delete=models.CASCADE, null=True, related_name="notices")
    urgent = models.BooleanField(default=False)
    sentence = models.TextField()
    path = models.CharField(max_length=200, blank=True)
    payload = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    due_at = models.DateTimeField()
    created_at = models.DateTimeField(default=timezone.now)
    state = models.CharField(max_length=10, choices=NoticeState, default=NoticeState.WAITING)
    claimed_until = models.DateTimeField(null=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    next_try_at = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)
    message_id = models.CharField(max_length=200, blank=True)
    last_error = models.TextField(blank=True)

    class Meta:
        ordering = ["-due_at", "-id"]
        indexes = [models.Index(fields=["state", "due_at"])]

    def __str__(self) -> str:
        return f"{self.kind} to {self.recipient}"

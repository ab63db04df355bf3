"""Notices and letters: what is to be told, to whom, when; and the outbox of mails that tell it.

The database is the queue; Celery only nudges. A notice is one thing told to one person, once. A
letter is one mail: an urgent notice alone, or everything else of a person's local day together.
"""

from __future__ import annotations

from datetime import datetime

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from refit.work.models import Refit, Vendor

from .models_requests import BookingRequest as BookingRequest
from .models_requests import RequestStatus as RequestStatus


class NoticeKind(models.TextChoices):
    DUE_SOON = "due soon", "due back soon"
    OVERDUE = "overdue", "overdue"
    READY = "ready", "ready to collect"
    COMING = "coming", "coming to you"
    BOOKING = "booking", "booking tomorrow"
    CONFIRM = "confirm", "booking to confirm"
    REQUEST = "request", "invitation to a booking"
    HOLD_ENDED = "hold ended", "hold ended"
    DECISION = "decision", "decision waiting"
    PROMISE = "promise", "promise changed"
    LAUNCH = "launch", "launch moved"
    NO_PLAN = "no plan", "no plan could be made"
    PAPERS = "papers", "insurance running out"
    QUOTE = "quote", "quote running out"
    ORDER_BY = "order by", "goods to order"
    CHANGE = "change", "change order waiting"


class Side(models.TextChoices):
    """Whose page the mail leads to."""

    MANAGER = "manager", "refit manager"
    CREW = "crew", "crew"
    OWNER = "owner", "owner"
    VENDOR = "vendor", "vendor"


class NoticeState(models.TextChoices):
    WAITING = "waiting", "waits to be sent"
    SENT = "sent", "sent"
    DROPPED = "dropped", "no longer true when its time came"
    PARKED = "parked", "could not be sent"


class LetterState(models.TextChoices):
    WAITING = "waiting", "waits to be sent"
    CLAIMED = "claimed", "being sent"
    SENT = "sent", "sent"
    DROPPED = "dropped", "nothing left to tell when its time came"
    PARKED = "parked", "could not be sent"


class Letters(models.QuerySet["Letter"]):
    def due(self, now: datetime) -> Letters:
        """To be sent now: waiting and due, or claimed by somebody who did not come back."""
        waiting = Q(state=LetterState.WAITING, due_at__lte=now) & (
            Q(next_try_at=None) | Q(next_try_at__lte=now)
        )
        left_behind = Q(state=LetterState.CLAIMED, claimed_until__lte=now)
        return self.filter(waiting | left_behind).order_by("due_at", "id")

    def claim(self, letter_id: int, *, now: datetime, until: datetime) -> bool:
        """Take one due letter; False if somebody else has it. One conditional UPDATE decides."""
        taken = (
            self.due(now)
            .order_by()
            .filter(pk=letter_id)
            .update(
                state=LetterState.CLAIMED,
                claimed_until=until,
                attempts=F("attempts") + 1,
            )
        )
        return taken == 1

    def of_message(self, message_id: str) -> Letter | None:
        return self.filter(message_id=message_id).exclude(message_id="").first()

    def could_not_be_sent(self) -> Letters:
        return self.filter(state=LetterState.PARKED)


class Letter(models.Model):
    """One mail in the outbox, written before anything is sent.

    ``key`` is unique: one digest a refit, recipient and local day, one letter an urgent notice.
    ``claimed_until`` is the lease of whoever sends it and stays as the mark of that claim.
    ``opened_at``: somebody came by its door and did something, or a browser that runs scripts did;
    a mail scanner that only fetches leaves no mark. ``returned_at``: another mail server gave it
    back later (RFC 3464).
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="letters")
    key = models.CharField(max_length=320, unique=True)
    recipient = models.EmailField()
    recipient_name = models.CharField(max_length=120, blank=True)
    side = models.CharField(max_length=10, choices=Side)
    vendor = models.ForeignKey(
        Vendor, on_delete=models.CASCADE, null=True, blank=True, related_name="letters"
    )
    is_digest = models.BooleanField(default=False)
    due_at = models.DateTimeField()
    created_at = models.DateTimeField(default=timezone.now)
    state = models.CharField(max_length=10, choices=LetterState, default=LetterState.WAITING)
    claimed_until = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    first_try_at = models.DateTimeField(null=True, blank=True)
    next_try_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    subject = models.CharField(max_length=200, blank=True)
    message_id = models.CharField(max_length=200, blank=True)
    last_error = models.TextField(blank=True)
    opened_at = models.DateTimeField(null=True, blank=True)
    returned_at = models.DateTimeField(null=True, blank=True)

    objects = Letters.as_manager()

    class Meta:
        ordering = ["-due_at", "-id"]
        indexes = [
            models.Index(fields=["state", "due_at"]),
            models.Index(fields=["refit", "-due_at"]),
        ]

    def __str__(self) -> str:
        return f"letter to {self.recipient}, {self.due_at:%Y-%m-%d %H:%M}"


class Notice(models.Model):
    """One thing told to one person. ``key`` is unique: the same thing is never told twice.

    ``sentence`` is what was told, or would be; it is written anew when the letter goes. ``payload``
    holds what a later notice compares with.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="notices")
    key = models.CharField(max_length=320, unique=True)
    kind = models.CharField(max_length=12, choices=NoticeKind)
    recipient = models.EmailField()
    side = models.CharField(max_length=10, choices=Side)
    vendor = models.ForeignKey(
        Vendor, on_delete=models.CASCADE, null=True, blank=True, related_name="notices"
    )
    urgent = models.BooleanField(default=False)
    sentence = models.TextField()
    payload = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    tell_at = models.DateTimeField()
    created_at = models.DateTimeField(default=timezone.now)
    state = models.CharField(max_length=10, choices=NoticeState, default=NoticeState.WAITING)
    letter = models.ForeignKey(
        Letter, on_delete=models.SET_NULL, null=True, blank=True, related_name="notices"
    )

    class Meta:
        ordering = ["tell_at", "id"]
        indexes = [models.Index(fields=["refit", "recipient", "state"])]

    def __str__(self) -> str:
        return f"{self.kind} to {self.recipient}"


class How(models.TextChoices):
    """How a person wants to be told of one kind."""

    USUAL = "usual", "as usual"
    AT_ONCE = "at once", "at once"
    DAILY = "daily", "once a day"
    NEVER = "never", "not at all"


class KindWish(models.Model):
    """How one person wants to be told of one kind, where that is not as usual.

    ``person``: `refit.notices.wishes.person_key`.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="kind_wishes")
    person = models.CharField(max_length=270)
    kind = models.CharField(max_length=12, choices=NoticeKind)
    how = models.CharField(max_length=8, choices=How)
    since = models.DateTimeField()

    class Meta:
        ordering = ["person", "id"]
        constraints = [
            models.UniqueConstraint(fields=["refit", "person", "kind"], name="one_wish_a_kind")
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.kind}: {self.how}"


class HoursWish(models.Model):
    """When one person is left alone, where that is not as usual. The night is between."""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="hours_wishes")
    person = models.CharField(max_length=270)
    starts = models.TimeField()
    ends = models.TimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["refit", "person"], name="one_night_a_person"),
            models.CheckConstraint(name="quiet_over_midnight", condition=Q(starts__gt=F("ends"))),
        ]

    def __str__(self) -> str:
        return f"{self.person}, quiet {self.starts:%H:%M} to {self.ends:%H:%M}"


class DatesWish(models.Model):
    """In which language one person reads dates, where that is not as usual.

    ``language``: a code of Django's (`refit.work.dates.LANGUAGES`).
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="dates_wishes")
    person = models.CharField(max_length=270)
    language = models.CharField(max_length=10)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["refit", "person"], name="one_language_a_person")
        ]

    def __str__(self) -> str:
        return f"{self.person}, dates in {self.language}"


class DeadAddress(models.Model):
    """An e-mail address that a mail server called unknown: nothing more is written to it, until
    the manager says that it is good again."""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="dead_addresses")
    email = models.EmailField()
    """In small letters."""
    since = models.DateTimeField()
    said = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["email"]
        constraints = [
            models.UniqueConstraint(fields=["refit", "email"], name="an_address_dies_once")
        ]

    def __str__(self) -> str:
        return f"{self.email}, dead since {self.since:%Y-%m-%d}"


class Heartbeat(models.Model):
    """When the schedule last reached the worker. One row a name."""

    name = models.CharField(max_length=40, primary_key=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.name}, {self.at:%Y-%m-%d %H:%M:%S}"

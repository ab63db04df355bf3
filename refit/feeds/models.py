"""Calendars as they were last written, and the events in them.

An event keeps its UID for life and remembers what it said, so that a calendar program sees a
change as a change. The text that is served is kept too: a reader who has it already costs one
comparison, and no look at the plan.
"""

from __future__ import annotations

from django.db import models

from refit.accounts.models import PrivateLink


class Feed(models.Model):
    """What one private calendar address serves.

    ``refit_version`` and ``plan_id`` say what it was written from. ``modified_at`` is when the
    text last changed.
    """

    link = models.OneToOneField(PrivateLink, on_delete=models.CASCADE, related_name="feed")
    body = models.TextField()
    etag = models.CharField(max_length=64)
    modified_at = models.DateTimeField()
    written_at = models.DateTimeField()
    refit_version = models.PositiveIntegerField()
    plan_id = models.BigIntegerField(null=True)

    def __str__(self) -> str:
        return f"calendar of {self.link}"


class FeedEvent(models.Model):
    """One event in one calendar. ``source`` names what it tells of: "package 12", "due 34".

    All-day events have ``first_day`` and ``last_day``, both included; the others ``starts_at`` and
    ``ends_at``. ``sequence`` rises when the dates or the status change, and only then.
    """

    feed = models.ForeignKey(Feed, on_delete=models.CASCADE, related_name="events")
    source = models.CharField(max_length=60)
    uid = models.CharField(max_length=120, unique=True)
    sequence = models.PositiveIntegerField(default=0)
    summary = models.CharField(max_length=320)
    description = models.TextField(blank=True)
    location = models.CharField(max_length=400, blank=True)
    address = models.CharField(max_length=300, blank=True)
    first_day = models.DateField(null=True)
    last_day = models.DateField(null=True)
    starts_at = models.DateTimeField(null=True)
    ends_at = models.DateTimeField(null=True)
    takes_time = models.BooleanField(default=False)
    """Whether the reader is busy then: an appointment, not a span of somebody's work."""
    relations = models.JSONField(default=list)
    """What it is tied to: kind of relation (RFC 9253), minutes between or None, source there."""
    created_at = models.DateTimeField()
    modified_at = models.DateTimeField()
    cancelled_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["first_day", "starts_at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["feed", "source"], name="one_event_a_source"),
            models.CheckConstraint(
                name="event_is_all_day_or_timed",
                condition=models.Q(
                    first_day__isnull=False,
                    last_day__gte=models.F("first_day"),
                    starts_at=None,
                    ends_at=None,
                )
                | models.Q(
                    first_day=None,
                    last_day=None,
                    starts_at__isnull=False,
                    ends_at__gt=models.F("starts_at"),
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.summary

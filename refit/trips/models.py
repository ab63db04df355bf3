"""The trips that were planned: what is driven when, with what aboard, and what was ticked."""

from __future__ import annotations

from datetime import datetime

from django.db import models

from refit.custody.models import Handoff
from refit.work.models import Place, Refit, Rig


class TripState(models.TextChoices):
    PLANNED = "planned", "planned"
    UNDER_WAY = "under way", "under way"
    DONE = "done", "done"


class Trip(models.Model):
    """One drive. ``pinned``: planning anew leaves its day, rig and moves as they are."""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="trips")
    rig = models.ForeignKey(Rig, on_delete=models.SET_NULL, null=True, related_name="trips")
    day = models.DateField()
    state = models.CharField(max_length=10, choices=TripState, default=TripState.PLANNED)
    pinned = models.BooleanField(default=False)
    depart_at = models.DateTimeField()
    back_at = models.DateTimeField()
    metres = models.PositiveIntegerField()
    minutes = models.PositiveIntegerField()
    cost = models.DecimalField(max_digits=9, decimal_places=2)
    tows = models.BooleanField(default=False)
    nights = models.PositiveSmallIntegerField(default=0)
    checked = models.JSONField(default=list, help_text="What was ticked before driving.")

    class Meta:
        ordering = ["depart_at", "id"]
        indexes = [models.Index(fields=["refit", "day"])]

    def __str__(self) -> str:
        return f"trip of {self.day:%Y-%m-%d}"


class TripStop(models.Model):
    """``ticked_at``: when the handoffs of this stop were done."""

    trip = models.ForeignKey(Trip, on_delete=models.CASCADE, related_name="stops")
    number = models.PositiveSmallIntegerField()
    place = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="+")
    arrive_at = models.DateTimeField()
    begin_at = models.DateTimeField()
    leave_at = models.DateTimeField()
    ticked_at = models.DateTimeField(null=True)
    ticked_by = models.CharField(max_length=120, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["trip", "number"], name="one_stop_a_number")]

    def __str__(self) -> str:
        return f"stop {self.number} at {self.place}"


class Load(models.Model):
    """A handoff that a trip carries, from one of its stops to a later one. ``late``: it will be
    there after it is needed, because no trip could do better."""

    trip = models.ForeignKey(Trip, on_delete=models.CASCADE, related_name="loads")
    handoff = models.ForeignKey(Handoff, on_delete=models.CASCADE, related_name="loads")
    on = models.ForeignKey(TripStop, on_delete=models.CASCADE, related_name="loaded")
    off = models.ForeignKey(TripStop, on_delete=models.CASCADE, related_name="unloaded")
    late = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["handoff"], name="a_handoff_is_on_one_trip")]

    def __str__(self) -> str:
        return f"{self.handoff} on {self.trip}"


class StopReport(models.Model):
    """A tick that arrived from a phone. ``key`` is made there, so that what is sent twice is one
    tick; the database lets no second one in."""

    stop = models.ForeignKey(TripStop, on_delete=models.CASCADE, related_name="reports")
    key = models.CharField(max_length=64, unique=True)
    at: models.DateTimeField[datetime, datetime] = models.DateTimeField()

    def __str__(self) -> str:
        return f"tick of {self.stop}"

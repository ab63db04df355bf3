"""Rigs, how we drive, and the trips that were planned: what is driven when, with what aboard."""

from __future__ import annotations

from datetime import datetime, time
from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from refit.custody.models import Handoff
from refit.work.models import Place, Refit
from refit.work.models.measures import kilograms, metres


class Rig(models.Model):
    """A vehicle, and the trailer it tows if it can take the boat. Limits are the user's own."""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="rigs")
    name = models.CharField(max_length=120)
    tows_boat = models.BooleanField("it can tow the boat on its trailer", default=False)
    bed_length_m = metres("length of the bed")
    bed_width_m = metres("width of the bed")
    bed_load_kg = kilograms("load of the bed")
    per_km = models.DecimalField(
        "cost of a kilometre",
        max_digits=6,
        decimal_places=2,
        default=Decimal("0.60"),
        validators=[MinValueValidator(0)],
    )
    tow_limit_kg = kilograms("may tow")
    tongue_limit_kg = kilograms("hitch may carry")
    tongue_low = models.DecimalField(
        "tongue at least, % of the whole", max_digits=4, decimal_places=1, default=5,
        validators=[MinValueValidator(0), MaxValueValidator(50)],
        help_text="Makers disagree: 5–10 % for boats, 10–15 % for ball hitches.",
    )  # fmt: skip
    tongue_high = models.DecimalField(
        "tongue at most, % of the whole", max_digits=4, decimal_places=1, default=15,
        validators=[MinValueValidator(0), MaxValueValidator(50)],
    )  # fmt: skip
    country = models.CharField(
        "country of the roads", max_length=2, blank=True, help_text="Two letters, like US or PT."
    )
    width_limit_m = metres("own limit of width")
    height_limit_m = metres("own limit of height")
    tie_downs_direct = models.PositiveSmallIntegerField("tie-downs from trailer to boat", default=0)
    tie_downs_over = models.PositiveSmallIntegerField("tie-downs over the top", default=0)
    tie_limit_kg = kilograms("working load limit of the weakest tie-down")
    blocked_forward = models.BooleanField(
        "the bow is blocked against moving forward", default=False
    )
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["refit", "name"], name="one_rig_a_name")]

    def __str__(self) -> str:
        return self.name


class Driving(models.Model):
    """How this refit drives, and how far its trips have been planned.

    ``planned_version`` is the version of the refit that the trips were planned from; ``saved``
    compares them with one trip a move.
    """

    refit = models.OneToOneField(Refit, on_delete=models.CASCADE, related_name="driving")
    day_starts = models.TimeField("leaves home from", default=time(8))
    day_ends = models.TimeField("is back by", default=time(17))
    saturdays = models.BooleanField("drives on Saturdays", default=False)
    drivers = models.PositiveSmallIntegerField(
        "drivers", default=1, validators=[MinValueValidator(1), MaxValueValidator(5)]
    )
    nights = models.PositiveSmallIntegerField(
        "nights away at most", default=0, validators=[MaxValueValidator(2)]
    )
    per_hour = models.DecimalField(
        "an hour of the driver costs", max_digits=7, decimal_places=2, default=35,
        validators=[MinValueValidator(0)],
    )  # fmt: skip
    per_trip = models.DecimalField(
        "each trip costs besides", max_digits=7, decimal_places=2, default=10,
        validators=[MinValueValidator(0)],
    )  # fmt: skip
    per_night = models.DecimalField(
        "a night away costs", max_digits=7, decimal_places=2, default=120,
        validators=[MinValueValidator(0)],
    )  # fmt: skip
    tow_speed = models.PositiveSmallIntegerField(
        "towing speed, % of road speed", default=80,
        validators=[MinValueValidator(20), MaxValueValidator(100)],
    )  # fmt: skip
    weeks = models.PositiveSmallIntegerField(
        "weeks ahead", default=8, validators=[MinValueValidator(1), MaxValueValidator(26)]
    )
    use_float = models.BooleanField(
        "packages may start later inside their float, where that saves a drive", default=True
    )
    planned_version = models.PositiveIntegerField(default=0, editable=False)
    planned_at = models.DateTimeField(null=True, editable=False)
    saved = models.JSONField(default=dict, editable=False)

    def __str__(self) -> str:
        return f"driving of {self.refit}"


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


class MovePin(models.Model):
    """The manager wants this move on this day and no other."""

    handoff = models.OneToOneField(Handoff, on_delete=models.CASCADE, related_name="pin")
    day = models.DateField()

    def __str__(self) -> str:
        return f"{self.handoff} on {self.day}"


class StopReport(models.Model):
    """A tick that arrived from a phone. ``key`` is made there, so that what is sent twice is one
    tick; the database lets no second one in."""

    stop = models.ForeignKey(TripStop, on_delete=models.CASCADE, related_name="reports")
    key = models.CharField(max_length=64, unique=True)
    at: models.DateTimeField[datetime, datetime] = models.DateTimeField()

    def __str__(self) -> str:
        return f"tick of {self.stop}"

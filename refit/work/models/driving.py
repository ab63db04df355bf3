"""What a refit drives with, and how it drives."""

from __future__ import annotations

from datetime import time
from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from .measures import kilograms, metres
from .refits import Refit


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
        "an hour of the driver costs", max_digits=7, decimal_places=2, default=Decimal(35),
        validators=[MinValueValidator(0)],
    )  # fmt: skip
    per_trip = models.DecimalField(
        "each trip costs besides", max_digits=7, decimal_places=2, default=Decimal(10),
        validators=[MinValueValidator(0)],
    )  # fmt: skip
    per_night = models.DecimalField(
        "a night away costs", max_digits=7, decimal_places=2, default=Decimal(120),
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

"""Places, when they are open, and how far apart they are."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from .parties import Vendor
from .refits import Refit

END_OF_DAY = time(17)
"""When a day ends at a place that told no hours (common practice, no source)."""


class PlaceKind(models.TextChoices):
    HOME = "home", "home"
    SHOP = "shop", "shop"
    RAMP = "ramp", "ramp or slip"
    OTHER = "other", "other"


class Place(models.Model):
    """Somewhere work is done or a piece can be. ``vendor`` is whose it is; None is our own.

    ``bays``: how many packages that need the bay fit at once (0: as many as you like).
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="places")
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=6, choices=PlaceKind, default=PlaceKind.SHOP)
    vendor = models.ForeignKey(
        Vendor, on_delete=models.SET_NULL, null=True, blank=True, related_name="places"
    )
    address = models.CharField(max_length=240, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    latitude = models.DecimalField(
        max_digits=8,
        decimal_places=5,
        null=True,
        blank=True,
        validators=[MinValueValidator(-90), MaxValueValidator(90)],
    )
    longitude = models.DecimalField(
        max_digits=8,
        decimal_places=5,
        null=True,
        blank=True,
        validators=[MinValueValidator(-180), MaxValueValidator(180)],
    )
    bays = models.PositiveSmallIntegerField(default=0)
    holiday_country = models.CharField(
        max_length=2, blank=True, help_text="ISO 3166 country whose public holidays close it."
    )
    holiday_region = models.CharField(max_length=10, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["refit", "name"], name="one_place_a_name")]

    def __str__(self) -> str:
        return self.name

    def closing_moment(self, day: date) -> datetime:
        """The end of its opening hours on ``day``, in the zone of the refit. One query."""
        spans = list(self.hours.filter(weekday=day.weekday()))
        hours = max(spans, key=lambda span: span.opens, default=None)
        closes = hours.closes if hours else END_OF_DAY
        if closes == time(0):
            day += timedelta(days=1)
        return datetime.combine(day, closes, tzinfo=self.refit.zone)


class Weekday(models.IntegerChoices):
    MONDAY = 0, "Monday"
    TUESDAY = 1, "Tuesday"
    WEDNESDAY = 2, "Wednesday"
    THURSDAY = 3, "Thursday"
    FRIDAY = 4, "Friday"
    SATURDAY = 5, "Saturday"
    SUNDAY = 6, "Sunday"


class OpeningHours(models.Model):
    """One span of one weekday, local time. ``closes`` 00:00 means midnight at its end."""

    place = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="hours")
    weekday = models.PositiveSmallIntegerField(choices=Weekday)
    opens = models.TimeField()
    closes = models.TimeField()

    class Meta:
        ordering = ["weekday", "opens"]
        verbose_name_plural = "opening hours"

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.opens:%H:%M}–{self.closes:%H:%M}"

    def clean(self) -> None:
        if self.closes.isoformat() != "00:00:00" and self.closes <= self.opens:
            raise ValidationError({"closes": "Closing time must come after opening time."})


class Closure(models.Model):
    """Days on which a place is shut, both included."""

    place = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="closures")
    first_day = models.DateField()
    last_day = models.DateField()
    reason = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["first_day"]
        constraints = [
            models.CheckConstraint(
                name="closure_ends_after_it_begins",
                condition=models.Q(last_day__gte=models.F("first_day")),
                violation_error_message="The last day of a closure must not come before the first.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.first_day} to {self.last_day}"


class Distance(models.Model):
    """What the manager knows better than a straight line: road distance or time of a pair."""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="distances")
    origin = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="+")
    destination = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="+")
    kilometres = models.DecimalField(
        max_digits=7, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    minutes = models.PositiveIntegerField("driving time, minutes", null=True, blank=True)

    class Meta:
        ordering = ["origin__name", "destination__name"]
        constraints = [
            models.UniqueConstraint(
                fields=["refit", "origin", "destination"], name="one_distance_a_pair"
            )
        ]

    def __str__(self) -> str:
        return f"{self.origin} to {self.destination}"

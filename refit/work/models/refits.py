"""The boat and the project on it."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone

from .measures import kilograms, metres

if TYPE_CHECKING:
    from refit.accounts.models import User


def check_time_zone(value: str) -> None:
    try:
        ZoneInfo(value)
    except (KeyError, ValueError, OSError):
        raise ValidationError(
            f"“{value}” is not a time zone; write it like Europe/Lisbon or America/Halifax."
        ) from None


class Boat(models.Model):
    name = models.CharField(max_length=120)
    type = models.CharField("type of boat", max_length=120, blank=True)
    built = models.PositiveSmallIntegerField("year built", null=True, blank=True)
    length_m = metres("length over all")
    waterline_m = metres("length of the waterline")
    beam_m = metres("beam")
    draft_m = metres("draft")
    freeboard_m = metres("mean freeboard")
    height_on_trailer_m = metres("height on the trailer")
    weight_kg = kilograms("weight of the boat")
    trailer_kg = kilograms("weight of the trailer")
    tongue_kg = kilograms("weight on the tongue")

    def __str__(self) -> str:
        return self.name


class Units(models.TextChoices):
    METRIC = "metric", "metres, kilograms, kilometres"
    US = "us", "feet, pounds, miles"


class OwnerSees(models.TextChoices):
    """How much of the money stands on the owner's page."""

    NOTHING = "nothing", "no money, except of change orders"
    TOTALS = "totals", "totals"
    PACKAGES = "packages", "totals and each package"


class Refits(models.QuerySet["Refit"]):
    def visible_to(self, user: User) -> Refits:
        return self.filter(memberships__user=user)


class Refit(models.Model):
    """One project on one boat. ``version`` rises with every change that a plan depends on."""

    boat = models.ForeignKey(Boat, on_delete=models.PROTECT, related_name="refits")
    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=60, unique=True)
    start = models.DateField("first day")
    wanted_launch = models.DateField("wanted launch date", null=True, blank=True)
    time_zone = models.CharField(max_length=64, default="UTC", validators=[check_time_zone])
    currency = models.CharField(max_length=3, default="EUR")
    units = models.CharField(max_length=6, choices=Units, default=Units.METRIC)
    hours_a_day = models.DecimalField(
        "hours in a working day",
        max_digits=4,
        decimal_places=2,
        default=8,
        validators=[MinValueValidator(1), MaxValueValidator(24)],
        help_text="Only turns “days” that people type into working time; opening hours rule.",
    )
    road_factor = models.DecimalField(
        "road factor",
        max_digits=4,
        decimal_places=2,
        default="1.30",
        validators=[MinValueValidator(1), MaxValueValidator(5)],
        help_text="Road distance as a multiple of the straight line, where no distance is given.",
    )
    road_speed_kmh = models.PositiveSmallIntegerField(
        "speed on the road, km/h", default=50, validators=[MinValueValidator(5)]
    )
    loading_minutes = models.PositiveSmallIntegerField("loading and unloading, minutes", default=30)
    contingency = models.DecimalField(
        "set aside for what is found",
        max_digits=12,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text="15 to 25 % of the budget is common practice.",
    )
    crew_rate = models.DecimalField(
        "an hour of our crew costs",
        max_digits=12,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    goods_margin_days = models.PositiveSmallIntegerField(
        "days to spare when ordering goods", default=3
    )
    owner_sees = models.CharField(
        "of the money the owner sees", max_length=8, choices=OwnerSees, default=OwnerSees.TOTALS
    )
    owner_name = models.CharField(max_length=120, blank=True)
    owner_email = models.EmailField(blank=True)
    owner_phone = models.CharField(max_length=40, blank=True)
    link_days = models.PositiveSmallIntegerField(
        "days that private links open after the close-out",
        default=60,
        validators=[MaxValueValidator(3650)],
    )
    note = models.TextField(blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    closed_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = Refits.as_manager()

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)

    def local(self, moment: datetime) -> datetime:
        return moment.astimezone(self.zone)

    def today(self, now: datetime) -> date:
        return self.local(now).date()

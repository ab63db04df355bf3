"""What is to be done: work packages, what waits for what, and dates agreed with shops."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models

from .parties import CrewMember, Vendor
from .pieces import Piece, Zone
from .places import Place
from .refits import Refit


class QuantityUnit(models.TextChoices):
    AREA = "m2", "area"
    LENGTH = "m", "length"
    COUNT = "count", "count"


class WorkPackage(models.Model):
    """The unit that is planned.

    Done by ``vendor``, or by our own crew: the named ``people`` and ``helpers`` more hands,
    whoever is free. Working time in minutes of the open hours of whoever does it; the hold is
    elapsed minutes. ``promised`` is the end of the work as its vendor last promised it.
    ``process`` and ``step`` say which way of doing it the package came from, by their keys, and
    ``quantity`` of which ``unit`` it covers: that is how estimates learn from what it took.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="packages")
    code = models.CharField(max_length=20, help_text="Short and unique: H04.")
    title = models.CharField(max_length=160)
    scope = models.TextField(blank=True)
    vendor = models.ForeignKey(
        Vendor, on_delete=models.PROTECT, null=True, blank=True, related_name="packages"
    )
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="packages")
    takes_bay = models.BooleanField("takes a bay of the place", default=False)
    people = models.ManyToManyField(CrewMember, blank=True, related_name="packages")
    helpers = models.PositiveSmallIntegerField("more hands", default=0)
    zones = models.ManyToManyField(Zone, blank=True, related_name="packages")
    pieces = models.ManyToManyField(Piece, through="PieceUse", related_name="packages")

    low_minutes = models.PositiveIntegerField("working time, low")
    likely_minutes = models.PositiveIntegerField("working time, likely")
    high_minutes = models.PositiveIntegerField("working time, high")
    unbroken = models.BooleanField(
        "in one go",
        default=False,
        help_text="It cannot pause over a night or a closure: a launch, a coat of paint.",
    )
    hold_minutes = models.PositiveIntegerField("hold", default=0)
    hold_reason = models.CharField(max_length=160, blank=True)

    budget = models.DecimalField(
        max_digits=12, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    agreed_price = models.DecimalField(
        max_digits=12, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    acceptance = models.TextField(blank=True)
    cautions = models.TextField(blank=True)

    process = models.CharField("process", max_length=60, blank=True)
    step = models.CharField("step of the process", max_length=60, blank=True)
    quantity = models.DecimalField(
        max_digits=10, decimal_places=3, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    unit = models.CharField(
        "unit of the quantity", max_length=5, choices=QuantityUnit, blank=True, default=""
    )

    is_agreed = models.BooleanField(
        "in the agreed scope",
        default=True,
        help_text="If not, it is neither planned nor begun before a change order is approved.",
    )
    is_launch = models.BooleanField("this is the launch", default=False)
    deadline = models.DateTimeField("must be finished by", null=True, blank=True)
    deadline_reason = models.CharField(max_length=160, blank=True)
    promised = models.DateTimeField("promised finish", null=True, blank=True)

    started_at = models.DateTimeField("actual start", null=True, blank=True)
    remaining_minutes = models.PositiveIntegerField("working time left", null=True, blank=True)
    finished_at = models.DateTimeField("actual finish", null=True, blank=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(fields=["refit", "code"], name="one_package_a_code"),
            models.UniqueConstraint(
                fields=["refit"], condition=models.Q(is_launch=True), name="one_launch_a_refit"
            ),
            models.CheckConstraint(
                name="low_likely_high_in_order",
                condition=models.Q(low_minutes__lte=models.F("likely_minutes"))
                & models.Q(likely_minutes__lte=models.F("high_minutes")),
                violation_error_message="Working time must rise from low over likely to high.",
            ),
            models.CheckConstraint(
                name="finished_only_after_started",
                condition=models.Q(finished_at=None)
                | models.Q(started_at__isnull=False, finished_at__gte=models.F("started_at")),
                violation_error_message="The actual finish needs an actual start before it.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"

    def clean(self) -> None:
        if self.vendor_id and self.place_id and self.place.vendor_id not in (None, self.vendor_id):
            raise ValidationError(
                {"place": f"{self.place} belongs to another vendor than {self.vendor}."}
            )

    @property
    def is_started(self) -> bool:
        return self.started_at is not None

    @property
    def is_finished(self) -> bool:
        return self.finished_at is not None


class PieceEffect(models.TextChoices):
    """What a package does with a piece that it needs."""

    NEEDS = "needs", "works on it"
    TAKES_OFF = "takes off", "takes it off the boat"
    FITS = "fits", "fits it to the boat"


class PieceUse(models.Model):
    package = models.ForeignKey(WorkPackage, on_delete=models.CASCADE, related_name="piece_uses")
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="uses")
    effect = models.CharField(max_length=10, choices=PieceEffect, default=PieceEffect.NEEDS)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["package", "piece"], name="one_use_of_a_piece")
        ]

    def __str__(self) -> str:
        return f"{self.package.code} {self.effect} {self.piece.tag}"


class RelationChoice(models.TextChoices):
    """The four relations; the values are those of ``refit.scheduling``."""

    FINISH_TO_START = "finish-to-start", "starts after it is finished"
    START_TO_START = "start-to-start", "starts after it has started"
    FINISH_TO_FINISH = "finish-to-finish", "finishes after it is finished"
    START_TO_FINISH = "start-to-finish", "finishes after it has started"


class LagIn(models.TextChoices):
    ELAPSED = "elapsed", "elapsed time"
    WORKING = "working", "working time"


class Dependency(models.Model):
    """``after`` waits for ``before``, for a stated physical reason.

    Working lags count in the open hours of the place of ``after``.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="dependencies")
    before = models.ForeignKey(WorkPackage, on_delete=models.CASCADE, related_name="unlocks")
    after = models.ForeignKey(WorkPackage, on_delete=models.CASCADE, related_name="waits_for")
    relation = models.CharField(
        max_length=20, choices=RelationChoice, default=RelationChoice.FINISH_TO_START
    )
    min_lag_minutes = models.IntegerField("at least", default=0)
    max_lag_minutes = models.IntegerField("at most", null=True, blank=True)
    lag_in = models.CharField(max_length=8, choices=LagIn, default=LagIn.ELAPSED)
    reason = models.CharField(max_length=240)

    class Meta:
        ordering = ["before__code", "after__code"]
        verbose_name_plural = "dependencies"
        constraints = [
            models.UniqueConstraint(
                fields=["before", "after", "relation"], name="one_dependency_a_relation"
            ),
            models.CheckConstraint(
                name="dependency_joins_two_packages",
                condition=~models.Q(before=models.F("after")),
                violation_error_message="A package cannot wait for itself.",
            ),
            models.CheckConstraint(
                name="lags_in_order",
                condition=models.Q(max_lag_minutes=None)
                | models.Q(max_lag_minutes__gte=models.F("min_lag_minutes")),
                violation_error_message="The longest wait must not be shorter than the shortest.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.after.code} waits for {self.before.code}"


class BookingKind(models.TextChoices):
    STARTS = "starts", "starts then"
    NOT_BEFORE = "not before", "not before then"


BOOKED_FOR = timedelta(hours=1)
"""How long a booking takes in a calendar: the hour to be there. Common practice, no source."""


class Booking(models.Model):
    """A date agreed with a shop for one package."""

    package = models.OneToOneField(WorkPackage, on_delete=models.CASCADE, related_name="booking")
    kind = models.CharField(max_length=10, choices=BookingKind, default=BookingKind.STARTS)
    at = models.DateTimeField("date and time")
    agreed_with = models.CharField(max_length=120, blank=True)
    note = models.CharField(max_length=240, blank=True)

    def __str__(self) -> str:
        return f"{self.package.code} {self.kind} {self.at:%Y-%m-%d %H:%M}"

    @property
    def ends_at(self) -> datetime:
        return self.at + BOOKED_FOR

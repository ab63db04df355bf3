"""Inspections: looked at, judged, with the numbers; and the punch list."""

from __future__ import annotations

from datetime import date
from typing import ClassVar, Self

from django.core.validators import MinValueValidator
from django.db import models

from refit.work.models import CrewMember, Piece, Refit, Vendor, WorkPackage

from .readings import Criterion


class Outcome(models.TextChoices):
    PASSED = "passed", "passed"
    FAILED = "failed", "failed"


class Inspection(models.Model):
    """One look at one package. ``sentence`` keeps what the numbers said then; ``rework`` is the
    package that came of a failure."""

    beside_the_plan: ClassVar[bool] = True

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="inspections")
    package = models.ForeignKey(WorkPackage, on_delete=models.CASCADE, related_name="inspections")
    criterion = models.ForeignKey(
        Criterion, on_delete=models.SET_NULL, null=True, blank=True, related_name="inspections"
    )
    outcome = models.CharField(max_length=6, choices=Outcome)
    sentence = models.TextField()
    inspected_at = models.DateTimeField("inspected")
    inspected_by = models.CharField(max_length=120)
    rework = models.ForeignKey(
        WorkPackage, on_delete=models.SET_NULL, null=True, blank=True, related_name="reworks"
    )
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["-inspected_at", "-id"]

    def __str__(self) -> str:
        return f"{self.package.code} {self.outcome}"


class PunchState(models.TextChoices):
    OPEN = "open", "open"
    DONE = "done", "done, to be looked at"
    ACCEPTED = "accepted", "accepted"


class PunchItems(models.QuerySet["PunchItem"]):
    def open(self) -> Self:
        return self.filter(state=PunchState.OPEN)

    def due_by(self, day: date) -> Self:
        """Open, and due on ``day`` or before; the oldest first."""
        return self.open().filter(due__lte=day).order_by("due", "code")


class PunchItem(models.Model):
    """What is left to put right. Its owner is one of the crew or a vendor."""

    beside_the_plan: ClassVar[bool] = True

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="punch_items")
    code = models.CharField(max_length=20)
    title = models.CharField(max_length=160)
    description = models.TextField(blank=True)
    package = models.ForeignKey(
        WorkPackage, on_delete=models.SET_NULL, null=True, blank=True, related_name="punch_items"
    )
    piece = models.ForeignKey(
        Piece, on_delete=models.SET_NULL, null=True, blank=True, related_name="punch_items"
    )
    person = models.ForeignKey(
        CrewMember, on_delete=models.SET_NULL, null=True, blank=True, related_name="punch_items"
    )
    vendor = models.ForeignKey(
        Vendor, on_delete=models.SET_NULL, null=True, blank=True, related_name="punch_items"
    )
    due = models.DateField("due", null=True, blank=True)
    cost = models.DecimalField(
        max_digits=12, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    state = models.CharField(max_length=10, choices=PunchState, default=PunchState.OPEN)
    found_at = models.DateTimeField("found")
    done_at = models.DateTimeField("done", null=True, blank=True)
    note = models.TextField(blank=True)

    objects = PunchItems.as_manager()

    class Meta:
        ordering = ["code"]
        constraints = [models.UniqueConstraint(fields=["refit", "code"], name="one_punch_a_code")]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"

    @property
    def whose(self) -> str:
        return str(self.vendor or self.person or "nobody yet")

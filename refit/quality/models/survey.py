"""The survey of the boat, system by system: candidates for packages."""

from __future__ import annotations

from typing import ClassVar

from django.core.validators import MinValueValidator
from django.db import models

from refit.work.models import Piece, Refit, WorkPackage, Zone


class Proposal(models.TextChoices):
    WAITING = "waiting", "not decided"
    DO = "do", "do"
    QUOTES = "ask for quotes", "ask for quotes"
    LEAVE = "leave", "leave"


class SurveyItem(models.Model):
    """One thing of one system: how it is, what was read, and what shall become of it."""

    beside_the_plan: ClassVar[bool] = True

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="survey_items")
    code = models.CharField(max_length=20)
    system = models.CharField(max_length=80)
    title = models.CharField("what", max_length=160)
    condition = models.TextField(blank=True)
    reading = models.CharField("read", max_length=160, blank=True)
    piece = models.ForeignKey(
        Piece, on_delete=models.SET_NULL, null=True, blank=True, related_name="survey_items"
    )
    zone = models.ForeignKey(
        Zone, on_delete=models.SET_NULL, null=True, blank=True, related_name="survey_items"
    )
    process = models.CharField("would be done as", max_length=60, blank=True)
    quantity = models.DecimalField(
        max_digits=10, decimal_places=3, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    price = models.DecimalField(
        max_digits=12, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    surveyed_at = models.DateTimeField("looked at")
    surveyed_by = models.CharField(max_length=120, blank=True)
    proposal = models.CharField(
        "becomes", max_length=14, choices=Proposal, default=Proposal.WAITING
    )
    package = models.ForeignKey(
        WorkPackage, on_delete=models.SET_NULL, null=True, blank=True, related_name="survey_items"
    )
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["system", "code"]
        constraints = [models.UniqueConstraint(fields=["refit", "code"], name="one_survey_a_code")]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"

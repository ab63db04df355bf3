"""Findings: what is discovered on opening up, and what was decided about it."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models

from refit.work.models import Piece, Refit, WorkPackage, Zone


class Severity(models.TextChoices):
    COSMETIC = "cosmetic", "cosmetic"
    REPAIR = "repair", "needs repair"
    SAFETY = "safety", "touches safety"


class Decision(models.TextChoices):
    WAITING = "waiting", "waits for a decision"
    FIX_NOW = "fix now", "fix now"
    ASK_OWNER = "ask the owner", "ask the owner"
    WATCH = "watch", "watch"
    LEAVE = "leave", "leave"


class Finding(models.Model):
    """``days`` and ``price`` are the manager's estimate of fixing it now."""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="findings")
    code = models.CharField(max_length=20)
    title = models.CharField(max_length=160)
    description = models.TextField(blank=True)
    severity = models.CharField(max_length=10, choices=Severity, default=Severity.REPAIR)
    found_at = models.DateTimeField()
    found_in = models.ForeignKey(
        WorkPackage, on_delete=models.SET_NULL, null=True, blank=True, related_name="findings"
    )
    piece = models.ForeignKey(
        Piece, on_delete=models.SET_NULL, null=True, blank=True, related_name="findings"
    )
    zone = models.ForeignKey(
        Zone, on_delete=models.SET_NULL, null=True, blank=True, related_name="findings"
    )
    work_minutes = models.PositiveIntegerField("working time to fix", null=True, blank=True)
    price = models.DecimalField(
        max_digits=12, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    decide_by = models.DateTimeField(null=True, blank=True)
    decision = models.CharField(max_length=14, choices=Decision, default=Decision.WAITING)
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_by = models.CharField(max_length=120, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["code"]
        constraints = [models.UniqueConstraint(fields=["refit", "code"], name="one_finding_a_code")]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"

    @property
    def is_open(self) -> bool:
        return self.decision in (Decision.WAITING, Decision.ASK_OWNER)

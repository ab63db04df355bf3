"""The climate log: air, humidity and surface where and when something is coated or glued."""

from __future__ import annotations

from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from refit.work.models import Place, Refit, WorkPackage


class ClimateEntry(models.Model):
    """Temperatures in °C, relative humidity in per cent."""

    beside_the_plan: ClassVar[bool] = True

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="climate")
    place = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="climate")
    package = models.ForeignKey(
        WorkPackage, on_delete=models.SET_NULL, null=True, blank=True, related_name="climate"
    )
    read_at = models.DateTimeField("read")
    air_c = models.DecimalField(
        "air",
        max_digits=5,
        decimal_places=2,
        validators=[MinValueValidator(-40), MaxValueValidator(60)],
    )
    humidity = models.DecimalField(
        "relative humidity",
        max_digits=5,
        decimal_places=2,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
    )
    surface_c = models.DecimalField(
        "surface",
        max_digits=5,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(-40), MaxValueValidator(90)],
    )
    read_by = models.CharField(max_length=120, blank=True)
    note = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering = ["-read_at", "-id"]
        verbose_name_plural = "climate entries"

    def __str__(self) -> str:
        return f"climate at {self.place.name}, {self.read_at:%Y-%m-%d %H:%M}"

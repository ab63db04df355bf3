"""Columns for lengths and weights: stored metric, shown in the refit's choice of units."""

from __future__ import annotations

from typing import Any

from django.core.validators import MinValueValidator
from django.db import models


def metres(label: str) -> models.DecimalField[Any, Any]:
    return models.DecimalField(
        label,
        max_digits=6,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )


def kilograms(label: str) -> models.DecimalField[Any, Any]:
    return models.DecimalField(
        label,
        max_digits=9,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )

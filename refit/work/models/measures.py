"""Columns for lengths and weights: stored metric, shown in the refit's choice of units."""

from __future__ import annotations

from typing import Any

from django.core.validators import MinValueValidator
from django.db import models


def metres(label: str) -> models.DecimalField[Any, Any]:
    return _measure(label, max_digits=6, decimal_places=3)


def kilograms(label: str) -> models.DecimalField[Any, Any]:
    return _measure(label, max_digits=9, decimal_places=2)


def _measure(label: str, max_digits: int, decimal_places: int) -> models.DecimalField[Any, Any]:
    return models.DecimalField(
        label,
        max_digits=max_digits,
        decimal_places=decimal_places,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )

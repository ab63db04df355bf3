"""Columns for money: exact decimals in the one currency of the refit."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.core.validators import MinValueValidator
from django.db import models


def money(label: str = "", **options: Any) -> models.DecimalField[Any, Any]:
    """An amount that may not be known yet."""
    options = {"null": True, "blank": True} | options
    return models.DecimalField(
        label or None,
        max_digits=12,
        decimal_places=2,
        validators=[MinValueValidator(Decimal(0))],
        **options,
    )

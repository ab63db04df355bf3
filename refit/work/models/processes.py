"""Processes that users add to those of the library, and the surfaces that quantities come from."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, ClassVar

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models

from refit.work.processes import Process, ProcessError, read_process

from .refits import Refit


def check_content(value: Any) -> None:
    try:
        read_process(value)
    except ProcessError as error:
        raise ValidationError(error.problems) from None


class OwnProcess(models.Model):
    """A process of one refit, in the same shape as the files of the library.

    One with the key of a library process stands in its place.
    """

    beside_the_plan: ClassVar[bool] = True

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="processes")
    key = models.SlugField(max_length=60)
    content = models.JSONField(validators=[check_content])

    class Meta:
        ordering = ["key"]
        verbose_name_plural = "own processes"
        constraints = [models.UniqueConstraint(fields=["refit", "key"], name="one_process_a_key")]

    def __str__(self) -> str:
        content = self.content
        return str(content.get("name", self.key)) if isinstance(content, dict) else self.key

    def clean(self) -> None:
        if isinstance(self.content, dict) and self.content.get("key") != self.key:
            raise ValidationError({"content": f"The key inside must be {self.key}."})

    def read_as_own(self) -> Process:
        return replace(read_process(self.content), is_own=True)


class Shape(models.TextChoices):
    """How the measures of a surface make its area; the formulas: `refit.work.quantities`."""

    RECTANGLE = "rectangle", "rectangle: length x width"
    TRIANGLE = "triangle", "triangle: half of base x height"
    TRAPEZIUM = "trapezium", "trapezium: half of (base + top) x height"
    CIRCLE = "circle", "circle: across"
    ELLIPSE = "ellipse", "ellipse: length x width"
    BAND = "band", "band: length x height"
    AREA = "area", "area as measured"


def _measure(label: str) -> models.DecimalField[Any, Any]:
    return models.DecimalField(
        label, max_digits=9, decimal_places=3, null=True, blank=True,
        validators=[MinValueValidator(0)],
    )  # fmt: skip


class Surface(models.Model):
    """One area that is worked on, ``count`` times: a side, a hatch, a panel. Measures in metres;
    ``first`` of the shape "area" is in square metres."""

    beside_the_plan: ClassVar[bool] = True

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="surfaces")
    name = models.CharField(max_length=120)
    shape = models.CharField(max_length=10, choices=Shape, default=Shape.RECTANGLE)
    first = _measure("first measure")
    second = _measure("second measure")
    third = _measure("third measure")
    count = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    process = models.CharField("worked on by", max_length=60, blank=True)
    note = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["refit", "name"], name="one_surface_a_name")]

    def __str__(self) -> str:
        return self.name

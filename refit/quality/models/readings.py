"""Readings by method, station and geometry, and the criteria they are judged by.

How a judgement comes about: `refit.quality.acceptance`.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any, ClassVar

from django.core.exceptions import ValidationError
from django.db import models

from refit.work.models import Piece, Refit, WorkPackage
from refit.work.numbers import UnreadableNumber, read_number


class Method(models.TextChoices):
    GLOSS = "gloss", "gloss (ISO 2813, ASTM D523)"
    FILM = "film", "dry film thickness (SSPC-PA 2, ISO 19840)"
    MOISTURE = "moisture", "moisture"
    TORQUE = "torque", "torque"
    INSULATION = "insulation", "insulation resistance"
    SCALE = "scale", "by eye, on a scale of your own"
    OTHER = "other", "something else"


UNITS: dict[str, str] = {
    "gloss": "GU",
    "film": "µm",
    "moisture": "%",
    "torque": "N·m",
    "insulation": "MΩ",
    "scale": "",
    "other": "",
}
"""What the numbers of a method are in, unless the criterion says otherwise."""


class Geometry(models.TextChoices):
    """The angle of a gloss meter: readings at one angle say nothing about another."""

    TWENTY = "20", "20°"
    SIXTY = "60", "60°"
    EIGHTY_FIVE = "85", "85°"


class Rule(models.TextChoices):
    AT_LEAST = "at least", "at least"
    AT_MOST = "at most", "at most"
    BETWEEN = "between", "from … to …"
    SPOTS = "spots", "every spot 80 to 120 % of the nominal, the mean as specified"


class Stage(models.TextChoices):
    BEFORE = "before", "before the work"
    AFTER = "after", "after the work"


def check_numbers(value: Any) -> None:
    """A list of at least one number, each as text."""
    if not isinstance(value, list) or not value:
        raise ValidationError("Give at least one number.")
    for one in value:
        try:
            read_number(str(one))
        except UnreadableNumber as error:
            raise ValidationError(str(error)) from None


def check_words(value: Any) -> None:
    """A list of at least two lines, best first."""
    words = [one for one in value if isinstance(one, str) and one.strip()] if value else []
    if not isinstance(value, list) or len(words) != len(value) or len(words) < 2:
        raise ValidationError("Describe at least two steps, one a line, the best first.")


class VisualScale(models.Model):
    """Described steps for judging by eye: the first is step 1, the best."""

    beside_the_plan: ClassVar[bool] = True

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="scales")
    name = models.CharField(max_length=120)
    steps = models.JSONField(default=list, validators=[check_words])
    note = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["refit", "name"], name="one_scale_a_name")]

    def __str__(self) -> str:
        return self.name


class Criterion(models.Model):
    """When a package is good, so that it can be computed.

    ``low`` and ``high``: the limits of the rule, in ``unit``; for spots ``low`` is the nominal film
    and ``high`` the highest mean that is specified. ``stations``: how many must have been read.
    """

    beside_the_plan: ClassVar[bool] = True

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="criteria")
    package = models.ForeignKey(WorkPackage, on_delete=models.CASCADE, related_name="criteria")
    name = models.CharField(max_length=160)
    method = models.CharField(max_length=10, choices=Method)
    geometry = models.CharField(max_length=2, choices=Geometry, blank=True)
    scale = models.ForeignKey(
        VisualScale, on_delete=models.PROTECT, null=True, blank=True, related_name="criteria"
    )
    rule = models.CharField(max_length=10, choices=Rule)
    low = models.DecimalField("at least", max_digits=12, decimal_places=4, null=True, blank=True)
    high = models.DecimalField("at most", max_digits=12, decimal_places=4, null=True, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    stations = models.PositiveSmallIntegerField(default=1)
    standing = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "criteria"
        constraints = [
            models.UniqueConstraint(fields=["refit", "name"], name="one_criterion_a_name")
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        if self.method == Method.GLOSS and not self.geometry:
            raise ValidationError({"geometry": "Gloss needs its angle: 20°, 60° or 85°."})
        if self.method != Method.GLOSS and self.geometry:
            raise ValidationError({"geometry": "Only gloss has an angle."})
        if self.method == Method.SCALE and self.scale is None:
            raise ValidationError({"scale": "Choose the scale that is used."})
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValidationError({"high": "The highest must not be below the lowest."})

    @property
    def shown_unit(self) -> str:
        return self.unit or UNITS[self.method]


class Reading(models.Model):
    """What one instrument said at one station: several numbers make one reading."""

    beside_the_plan: ClassVar[bool] = True

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="readings")
    package = models.ForeignKey(
        WorkPackage, on_delete=models.SET_NULL, null=True, blank=True, related_name="readings"
    )
    piece = models.ForeignKey(
        Piece, on_delete=models.SET_NULL, null=True, blank=True, related_name="readings"
    )
    method = models.CharField(max_length=10, choices=Method)
    geometry = models.CharField(max_length=2, choices=Geometry, blank=True)
    scale = models.ForeignKey(
        VisualScale, on_delete=models.PROTECT, null=True, blank=True, related_name="readings"
    )
    station = models.CharField(max_length=80, help_text="The same name before and after: P1.")
    stage = models.CharField(max_length=6, choices=Stage, default=Stage.AFTER)
    values = models.JSONField("numbers", validators=[check_numbers])
    unit = models.CharField(max_length=12, blank=True)
    instrument = models.CharField(max_length=120, blank=True)
    read_at = models.DateTimeField("read")
    read_by = models.CharField(max_length=120, blank=True)
    note = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering = ["read_at", "station"]
        indexes = [models.Index(fields=["refit", "package"])]

    def __str__(self) -> str:
        return f"{self.get_method_display()} at {self.station}"

    def clean(self) -> None:
        if self.method == Method.GLOSS and not self.geometry:
            raise ValidationError({"geometry": "Gloss needs its angle: 20°, 60° or 85°."})
        if self.method != Method.GLOSS and self.geometry:
            raise ValidationError({"geometry": "Only gloss has an angle."})
        if self.method == Method.SCALE and self.scale is None:
            raise ValidationError({"scale": "Choose the scale that is used."})

    @property
    def numbers(self) -> list[Decimal]:
        return [read_number(str(one)) for one in self.values]

    @property
    def shown_unit(self) -> str:
        return self.unit or UNITS[self.method]

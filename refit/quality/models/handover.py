"""What the owner keeps afterwards: batches of material, warranties, lists of wires and parts."""

from __future__ import annotations

from datetime import date
from typing import ClassVar

from django.core.exceptions import ValidationError
from django.db import models

from refit.work.models import Refit, WorkPackage


class BatchUse(models.Model):
    """Material that went into a package, with the batch on its tin."""

    beside_the_plan: ClassVar[bool] = True

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="batches")
    package = models.ForeignKey(WorkPackage, on_delete=models.CASCADE, related_name="batches")
    material = models.CharField(max_length=120)
    batch = models.CharField("batch or lot", max_length=80, blank=True)
    amount = models.CharField(max_length=60, blank=True)
    mix = models.CharField("mix", max_length=120, blank=True)
    used_on = models.DateField("used on", null=True, blank=True)
    note = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering = ["package__code", "material", "batch"]

    def __str__(self) -> str:
        return f"{self.material} {self.batch}".strip()


class Warranty(models.Model):
    beside_the_plan: ClassVar[bool] = True

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="warranties")
    of = models.CharField("what", max_length=160)
    given_by = models.CharField("given by", max_length=120)
    package = models.ForeignKey(
        WorkPackage, on_delete=models.SET_NULL, null=True, blank=True, related_name="warranties"
    )
    starts = models.DateField("from")
    ends = models.DateField("until")
    terms = models.TextField(blank=True)

    class Meta:
        ordering = ["ends", "of"]
        verbose_name_plural = "warranties"

    def __str__(self) -> str:
        return f"{self.of}, until {self.ends}"

    def clean(self) -> None:
        if (
            isinstance(self.starts, date)
            and isinstance(self.ends, date)
            and (self.ends < self.starts)
        ):
            raise ValidationError({"ends": "The end must not come before the beginning."})


class FittedKind(models.TextChoices):
    WIRE = "wire", "wire"
    PART = "part", "part"


class FittedItem(models.Model):
    """A line of the wiring list or of the part list."""

    beside_the_plan: ClassVar[bool] = True

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="fitted_items")
    kind = models.CharField(max_length=4, choices=FittedKind, default=FittedKind.PART)
    label = models.CharField("number or label", max_length=60)
    name = models.CharField("what", max_length=160)
    goes_from = models.CharField("from, or where", max_length=120, blank=True)
    goes_to = models.CharField("to", max_length=120, blank=True)
    size = models.CharField("size, fuse or number", max_length=120, blank=True)
    package = models.ForeignKey(
        WorkPackage, on_delete=models.SET_NULL, null=True, blank=True, related_name="fitted_items"
    )
    note = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering = ["kind", "label"]
        constraints = [
            models.UniqueConstraint(fields=["refit", "kind", "label"], name="one_fitted_a_label")
        ]

    def __str__(self) -> str:
        return f"{self.label} {self.name}"

"""Papers of a vendor: what it showed us about its insurance and what it is certified for.

Whether a cover lasts as long as a piece stays with the vendor is asked by ``refit.custody.cover``.
"""

from __future__ import annotations

from datetime import date

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from .parties import Vendor
from .refits import Refit


class PaperKind(models.TextChoices):
    LIABILITY = "liability", "liability insurance"
    CUSTOMERS_PROPERTY = "customers' property", "cover for customers' property"
    WORKERS = "workers' compensation", "workers' compensation"
    CERTIFICATE = "certificate", "certificate"
    OTHER = "other", "other paper"


COVERS_PIECES = (PaperKind.LIABILITY, PaperKind.CUSTOMERS_PROPERTY)
"""What a piece in the vendor's shop hangs on. General liability often leaves out what is in the
insured's own care, so cover for customers' property is asked for by its own name (common practice,
no source)."""


class Paper(models.Model):
    """One paper of one vendor, as it was shown to us. Both days of validity are included."""

    beside_the_plan = True

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="papers")
    vendor = models.ForeignKey(Vendor, on_delete=models.CASCADE, related_name="papers")
    kind = models.CharField(max_length=24, choices=PaperKind)
    issuer = models.CharField("insurer or issuer", max_length=120, blank=True)
    number = models.CharField(max_length=60, blank=True)
    covers = models.DecimalField(
        "covers up to",
        max_digits=12,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    valid_from = models.DateField(null=True, blank=True)
    valid_until = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["vendor_id", "kind", "valid_until", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["vendor", "kind", "number"], name="one_paper_a_kind_and_number"
            ),
            models.CheckConstraint(
                name="paper_ends_after_it_begins",
                condition=Q(valid_from=None)
                | Q(valid_until=None)
                | Q(valid_until__gte=F("valid_from")),
                violation_error_message="The last day must not come before the first.",
            ),
        ]

    def __str__(self) -> str:
        number = f" {self.number}" if self.number else ""
        return f"{self.get_kind_display()}{number} of {self.vendor}"

    def holds_on(self, day: date) -> bool:
        """Valid on that day. A day that nobody wrote down is no bound."""
        return (self.valid_from is None or self.valid_from <= day) and (
            self.valid_until is None or day <= self.valid_until
        )

"""Money that went out, and hours that cost money."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from refit.work.models import CrewMember, Refit, Vendor, WorkPackage

from .goods import Goods
from .orders import Instalment


class Payment(models.Model):
    """Money that was paid, once. What it was paid for is one thing: an instalment, goods, or else
    a package. ``key`` makes sure that a form sent twice pays once."""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="payments")
    key = models.CharField(max_length=40)
    paid_on = models.DateField("paid")
    amount = models.DecimalField(max_digits=12, decimal_places=2, validators=[MinValueValidator(0)])
    instalment = models.OneToOneField(
        Instalment, on_delete=models.PROTECT, null=True, blank=True, related_name="payment"
    )
    goods = models.OneToOneField(
        Goods, on_delete=models.PROTECT, null=True, blank=True, related_name="payment"
    )
    package = models.ForeignKey(
        WorkPackage, on_delete=models.PROTECT, null=True, blank=True, related_name="payments"
    )
    vendor = models.ForeignKey(
        Vendor, on_delete=models.PROTECT, null=True, blank=True, related_name="payments"
    )
    reference = models.CharField(max_length=80, blank=True)
    note = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering = ["paid_on", "id"]
        constraints = [
            models.UniqueConstraint(fields=["refit", "key"], name="a_payment_is_made_once"),
            models.CheckConstraint(
                name="a_payment_is_for_one_thing",
                condition=(
                    Q(instalment__isnull=False, goods=None, package=None)
                    | Q(instalment=None, goods__isnull=False, package=None)
                    | Q(instalment=None, goods=None, package__isnull=False)
                ),
                violation_error_message="Say what it was paid for: one thing.",
            ),
        ]

    def __str__(self) -> str:
        return f"payment of {self.amount} on {self.paid_on}"


class LoggedHours(models.Model):
    """Working time at a rate: our own crew's, or a vendor's that works for time and material.

    ``rate`` is an hour's; the cost is rounded to the cent, half a cent up.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="hours")
    key = models.CharField(max_length=40)
    package = models.ForeignKey(WorkPackage, on_delete=models.PROTECT, related_name="hours")
    person = models.ForeignKey(
        CrewMember, on_delete=models.PROTECT, null=True, blank=True, related_name="hours"
    )
    vendor = models.ForeignKey(
        Vendor, on_delete=models.PROTECT, null=True, blank=True, related_name="hours"
    )
    worked_on = models.DateField("day")
    minutes = models.PositiveIntegerField("working time")
    rate = models.DecimalField(
        "rate an hour", max_digits=12, decimal_places=2, validators=[MinValueValidator(0)]
    )
    note = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering = ["worked_on", "id"]
        verbose_name_plural = "logged hours"
        constraints = [
            models.UniqueConstraint(fields=["refit", "key"], name="hours_are_logged_once"),
            models.CheckConstraint(
                name="hours_are_somebodys",
                condition=Q(person__isnull=False, vendor=None)
                | Q(person=None, vendor__isnull=False),
                violation_error_message="Say who worked: one of the crew, or a vendor.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.minutes} min on {self.package.code}, {self.worked_on}"

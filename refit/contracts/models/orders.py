"""Work orders: what a vendor is to do for how much by when, and that it agreed to just that."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from refit.work.models import Refit, Vendor, WorkPackage

from .quotes import Inquiry


class WorkOrder(models.Model):
    """One order to one vendor. Its text is composed of it and its packages (`order_text`), so that
    a package that changes makes it another text, which has to be agreed again."""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="work_orders")
    code = models.CharField(max_length=20)
    title = models.CharField(max_length=160)
    vendor = models.ForeignKey(Vendor, on_delete=models.PROTECT, related_name="work_orders")
    inquiry = models.ForeignKey(
        Inquiry, on_delete=models.PROTECT, null=True, blank=True, related_name="work_orders"
    )
    """The one whose quote was accepted; None for an order made without one."""
    packages = models.ManyToManyField(WorkPackage, related_name="work_orders")
    price = models.DecimalField(max_digits=12, decimal_places=2, validators=[MinValueValidator(0)])
    not_before = models.DateField("begins not before", null=True, blank=True)
    due_on = models.DateField("to be finished by", null=True, blank=True)
    leaves_out = models.TextField("left out", blank=True)
    terms = models.TextField("what else is agreed", blank=True)
    made_at = models.DateTimeField()
    made_by = models.CharField(max_length=120)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_why = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(fields=["refit", "code"], name="one_work_order_a_code")
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"


class Basis(models.TextChoices):
    """What makes an instalment due."""

    ORDER = "order", "when the order is agreed"
    START = "start", "when the work begins"
    FINISH = "finish", "when the work is finished"
    BACK = "back", "when everything is back"
    DAY = "day", "on a day"


class Instalment(models.Model):
    """A part of the price of an order. ``days_after``: time to pay, on the calendar."""

    order = models.ForeignKey(WorkOrder, on_delete=models.CASCADE, related_name="instalments")
    number = models.PositiveSmallIntegerField()
    label = models.CharField(max_length=80, blank=True)
    basis = models.CharField(max_length=6, choices=Basis, default=Basis.FINISH)
    day = models.DateField(null=True, blank=True)
    days_after = models.PositiveSmallIntegerField("days to pay", default=0)
    amount = models.DecimalField(max_digits=12, decimal_places=2, validators=[MinValueValidator(0)])

    class Meta:
        ordering = ["order", "number"]
        constraints = [
            models.UniqueConstraint(fields=["order", "number"], name="one_instalment_a_number"),
            models.CheckConstraint(
                name="an_instalment_on_a_day_has_one",
                condition=~Q(basis="day") | Q(day__isnull=False),
                violation_error_message="Say on which day it is due.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order.code}, instalment {self.number}"


class Agreement(models.Model):
    """A party said yes to the text of an order. Never altered, never removed: the database refuses.

    ``digest`` is the SHA-256 of ``text``; ``link`` the public id of the private link it came by,
    empty if the manager noted it.
    """

    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="agreements")
    agreed_at = models.DateTimeField()
    name = models.CharField(max_length=120)
    side = models.CharField(max_length=10)
    link = models.CharField(max_length=16, blank=True)
    note = models.CharField(max_length=240, blank=True)
    digest = models.CharField(max_length=64)
    text = models.TextField()

    class Meta:
        ordering = ["agreed_at", "id"]

    def __str__(self) -> str:
        return f"{self.name} agreed to {self.order.code}"

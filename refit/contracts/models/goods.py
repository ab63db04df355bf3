"""Goods that must be there before a package can begin: ordered in time, or late."""

from __future__ import annotations

from datetime import date, timedelta

from django.db import models

from refit.work.models import Refit, WorkPackage

from .amounts import money


class Goods(models.Model):
    """Something bought for one package. ``lead_days``: days on the calendar from order to arrival,
    as the supplier says; until something is promised the goods are expected so long after the
    order. Late ones delay the package in the plan."""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="goods")
    code = models.CharField(max_length=20)
    title = models.CharField(max_length=160)
    quantity = models.CharField(max_length=60, blank=True)
    package = models.ForeignKey(WorkPackage, on_delete=models.PROTECT, related_name="goods")
    supplier = models.CharField(max_length=120, blank=True)
    price = money("price")
    lead_days = models.PositiveSmallIntegerField("lead time in days", default=0)
    ordered_on = models.DateField("ordered", null=True, blank=True)
    promised_on = models.DateField("promised for", null=True, blank=True)
    arrived_on = models.DateField("arrived", null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["code"]
        verbose_name_plural = "goods"
        constraints = [models.UniqueConstraint(fields=["refit", "code"], name="one_goods_a_code")]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"

    @property
    def is_there(self) -> bool:
        return self.arrived_on is not None

    def expected_on(self) -> date | None:
        """The day they arrive as far as is known; None while nobody has said or ordered."""
        if self.arrived_on or self.promised_on:
            return self.arrived_on or self.promised_on
        return self.ordered_on + timedelta(days=self.lead_days) if self.ordered_on else None

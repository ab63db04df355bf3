"""One of everything that is asked, agreed, bought and paid."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from refit.contracts.models import (
    ChangeOrder,
    Goods,
    Inquiry,
    Instalment,
    LoggedHours,
    Payment,
    Quote,
    QuoteState,
    WorkOrder,
)
from refit.work.models import Refit, Vendor, WorkPackage


def a_money_scene(
    refit: Refit, vendor: Vendor, package: WorkPackage, now: datetime
) -> dict[str, Any]:
    """By the names that `tests.access_table` uses."""
    inquiry = Inquiry.objects.create(refit=refit, code="Q1", title="Sewing", asked_at=now)
    inquiry.packages.add(package)
    quote = Quote.objects.create(
        inquiry=inquiry, vendor=vendor, asked_at=now, price=Decimal("120.50"),
        state=QuoteState.ANSWERED,
    )  # fmt: skip
    order = WorkOrder.objects.create(
        refit=refit, code="WO1", title="Sewing", vendor=vendor, price=Decimal(100), made_at=now,
        made_by="Runa",
    )  # fmt: skip
    order.packages.add(package)
    Instalment.objects.create(order=order, number=1, amount=Decimal(100))
    outside = WorkPackage.objects.create(
        refit=refit, code="N9", title="Repair", place=package.place, low_minutes=60,
        likely_minutes=60, high_minutes=60, is_agreed=False,
    )  # fmt: skip
    goods = Goods.objects.create(refit=refit, code="G1", title="Cloth", package=package)
    return {
        "inquiry": inquiry,
        "quote": quote,
        "order": order,
        "change": ChangeOrder.objects.create(
            refit=refit, code="CO1", title="Repair", reason="It is soft", package=outside,
            price=Decimal(640), made_at=now,
        ),
        "goods": goods,
        "payment": Payment.objects.create(
            refit=refit, key="p1", paid_on=date(2026, 11, 2), amount=Decimal(20), package=package
        ),
        "hours": LoggedHours.objects.create(
            refit=refit, key="h1", package=package, vendor=vendor, worked_on=date(2026, 11, 2),
            minutes=60, rate=Decimal(50),
        ),
    }  # fmt: skip

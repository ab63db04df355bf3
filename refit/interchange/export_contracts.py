"""From the database to the rows of `document_contracts`. The rest: `export`."""

from __future__ import annotations

from collections import defaultdict
from typing import Any, cast

from refit.contracts.models import (
    Agreement,
    ChangeOrder,
    Consent,
    Goods,
    Inquiry,
    Instalment,
    LoggedHours,
    Payment,
    Quote,
    WorkOrder,
)
from refit.work.models import Refit

from .columns_of_rows import Names, names_of, row_of, rows_of
from .document_contracts import (
    AgreementRow,
    ChangeOrderRow,
    ConsentRow,
    ContractRows,
    GoodsRow,
    InquiryRow,
    InstalmentRow,
    LoggedHoursRow,
    PaymentRow,
    QuoteRow,
    WorkOrderRow,
)


def export_contracts(
    refit: Refit,
    *,
    vendors: Names,
    places: Names,
    crew: Names,
    packages: Names,
    findings: Names,
    for_planning: bool = False,
) -> ContractRows:
    """Everything of the refit that was asked, agreed, bought or paid, by the names given for the
    ids. Twelve queries at any size; one ``for_planning``: plans wait for goods and nothing else.
    """
    if for_planning:
        rows: dict[str, list[Any]] = {name: [] for name in ContractRows.__annotations__}
        rows["goods"] = [
            row_of(row, GoodsRow, package=packages)
            for row in rows_of(Goods.objects.filter(refit=refit))
        ]
        return cast(ContractRows, rows)
    asked = rows_of(Inquiry.objects.filter(refit=refit))
    ordered = rows_of(WorkOrder.objects.filter(refit=refit))
    parts = rows_of(Instalment.objects.filter(order__refit=refit))
    changed = rows_of(ChangeOrder.objects.filter(refit=refit))
    bought = rows_of(Goods.objects.filter(refit=refit))
    inquiries, orders, changes, goods = (
        names_of(rows, "code") for rows in (asked, ordered, changed, bought)
    )
    asked_for = _codes(Inquiry, "inquiry", refit, packages)
    in_order = _codes(WorkOrder, "workorder", refit, packages)
    parts_by_id = {row["id"]: row for row in parts}
    payments = []
    for row in rows_of(Payment.objects.filter(refit=refit)):
        part = parts_by_id.get(row["instalment_id"])
        row["order_id"] = part["order_id"] if part else None
        row["number"] = part["number"] if part else None
        payments.append(
            row_of(row, PaymentRow, order=orders, goods=goods, package=packages, vendor=vendors)
        )
    rows = {
        "inquiries": [row_of(row, InquiryRow, packages=asked_for) for row in asked],
        "quotes": [
            row_of(row, QuoteRow, inquiry=inquiries, vendor=vendors, place=places)
            for row in rows_of(Quote.objects.filter(inquiry__refit=refit))
        ],
        "work_orders": [
            row_of(row, WorkOrderRow, vendor=vendors, inquiry=inquiries, packages=in_order)
            for row in ordered
        ],
        "instalments": [row_of(row, InstalmentRow, order=orders) for row in parts],
        "agreements": [
            row_of(row, AgreementRow, order=orders)
            for row in rows_of(Agreement.objects.filter(order__refit=refit))
        ],
        "change_orders": [
            row_of(row, ChangeOrderRow, finding=findings, package=packages) for row in changed
        ],
        "consents": [
            row_of(row, ConsentRow, change=changes)
            for row in rows_of(Consent.objects.filter(change__refit=refit))
        ],
        "goods": [row_of(row, GoodsRow, package=packages) for row in bought],
        "payments": payments,
        "logged_hours": [
            row_of(row, LoggedHoursRow, package=packages, person=crew, vendor=vendors)
            for row in rows_of(LoggedHours.objects.filter(refit=refit))
        ],
    }
    return cast(ContractRows, rows)


def _codes(model: Any, name: str, refit: Refit, packages: Names) -> dict[int, list[str]]:
    """The codes of the packages that each inquiry or order is about."""
    found: dict[int, list[str]] = defaultdict(list)
    through = model.packages.through.objects.filter(**{f"{name}__refit": refit})
    for owner, package in through.values_list(f"{name}_id", "workpackage_id"):
        found[owner].append(packages[package])
    return found

"""From the rows of `document_contracts` to the database. The rest: `store`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

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
from refit.quality.models import Finding
from refit.work.models import CrewMember, Place, Refit, Vendor, WorkPackage

from .document_contracts import ContractRows
from .rows_to_columns import stored


def store_contracts(
    document: ContractRows,
    *,
    refit: Refit,
    vendors: dict[str, Vendor],
    places: dict[str, Place],
    crew: dict[str, CrewMember],
    packages: dict[str, WorkPackage],
    findings: dict[str, Finding],
) -> None:
    """Insert all of it; the rows of the other lists are there already, by their names."""
    inquiries = stored(Inquiry, document["inquiries"], "code", refit=refit)
    _join(Inquiry, "inquiry", document["inquiries"], inquiries, packages)
    stored(Quote, document["quotes"], inquiry=inquiries, vendor=vendors, place=places)
    orders = stored(
        WorkOrder,
        document["work_orders"],
        "code",
        refit=refit,
        vendor=vendors,
        inquiry=inquiries,
    )
    _join(WorkOrder, "workorder", document["work_orders"], orders, packages)
    stored(Instalment, document["instalments"], order=orders)
    stored(Agreement, document["agreements"], order=orders)
    changes = stored(
        ChangeOrder,
        document["change_orders"],
        "code",
        refit=refit,
        finding=findings,
        package=packages,
    )
    stored(Consent, document["consents"], change=changes)
    goods = stored(Goods, document["goods"], "code", refit=refit, package=packages)
    parts: dict[Any, Instalment] = {
        (part.order.code, part.number): part
        for part in Instalment.objects.filter(order__refit=refit).select_related("order")
    }
    stored(
        Payment,
        [
            row | {"instalment": (row["order"], row["number"]) if row["order"] else None}
            for row in document["payments"]
        ],
        refit=refit,
        instalment=parts,
        goods=goods,
        package=packages,
        vendor=vendors,
    )
    stored(
        LoggedHours,
        document["logged_hours"],
        refit=refit,
        package=packages,
        person=crew,
        vendor=vendors,
    )


def _join(
    model: Any, name: str, rows: Any, made: Mapping[str, Any], packages: Mapping[str, WorkPackage]
) -> None:
    through = model.packages.through
    through.objects.bulk_create(
        through(**{f"{name}_id": made[row["code"]].pk, "workpackage_id": packages[code].pk})
        for row in rows
        for code in row["packages"]
    )

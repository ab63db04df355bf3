"""Rows of the refit document about money and what was agreed. The rest: `document`."""

from __future__ import annotations

from typing import Literal, TypedDict


class InquiryRow(TypedDict):
    code: str
    title: str
    packages: list[str]
    scope: str
    answer_by: str | None
    asked_at: str
    closed_at: str | None


class QuoteRow(TypedDict):
    inquiry: str
    vendor: str
    place: str | None
    state: Literal["asked", "answered", "passed", "accepted", "not taken"]
    price: str | None
    lead_days: int | None
    promised_on: str | None
    work_minutes: int | None
    leaves_out: str
    remarks: str
    valid_until: str | None
    asked_at: str
    answered_at: str | None
    answered_by: str


class WorkOrderRow(TypedDict):
    code: str
    title: str
    vendor: str
    inquiry: str | None
    packages: list[str]
    price: str
    not_before: str | None
    due_on: str | None
    leaves_out: str
    terms: str
    made_at: str
    made_by: str
    ended_at: str | None
    ended_why: str


class InstalmentRow(TypedDict):
    order: str
    number: int
    label: str
    basis: Literal["order", "start", "finish", "back", "day"]
    day: str | None
    days_after: int
    amount: str


class AgreementRow(TypedDict):
    order: str
    agreed_at: str
    name: str
    side: str
    link: str
    note: str
    digest: str
    text: str


class ChangeOrderRow(TypedDict):
    code: str
    title: str
    reason: str
    finding: str | None
    package: str
    extra_minutes: int | None
    price: str
    price_basis: str
    state: Literal["draft", "asked", "approved", "declined", "withdrawn"]
    made_at: str
    decide_by: str | None
    asked_at: str | None
    launch_before: str | None
    launch_after: str | None
    days: int | None
    bill_before: str | None
    bill_after: str | None


class ConsentRow(TypedDict):
    change: str
    is_yes: bool
    given_at: str
    way: Literal["page", "telephone", "in person", "writing"]
    name: str
    phone: str
    noted_by: str
    link: str
    what: str
    price: str
    days: int | None
    launch_after: str | None
    bill_after: str | None
    note: str
    digest: str


class GoodsRow(TypedDict):
    code: str
    title: str
    quantity: str
    package: str
    supplier: str
    price: str | None
    lead_days: int
    ordered_on: str | None
    promised_on: str | None
    arrived_on: str | None
    note: str


class PaymentRow(TypedDict):
    key: str
    paid_on: str
    amount: str
    order: str | None
    number: int | None
    goods: str | None
    package: str | None
    vendor: str | None
    reference: str
    note: str


class LoggedHoursRow(TypedDict):
    key: str
    package: str
    person: str | None
    vendor: str | None
    worked_on: str
    minutes: int
    rate: str
    note: str


class ContractRows(TypedDict):
    """The lists that a refit document has beside those of `document.RefitDocument`."""

    inquiries: list[InquiryRow]
    quotes: list[QuoteRow]
    work_orders: list[WorkOrderRow]
    instalments: list[InstalmentRow]
    agreements: list[AgreementRow]
    change_orders: list[ChangeOrderRow]
    consents: list[ConsentRow]
    goods: list[GoodsRow]
    payments: list[PaymentRow]
    logged_hours: list[LoggedHoursRow]


ORDER_OF_ROWS: dict[str, tuple[str, ...]] = {
    "inquiries": ("code",),
    "quotes": ("inquiry", "vendor"),
    "work_orders": ("code",),
    "instalments": ("order", "number"),
    "agreements": ("order", "agreed_at", "digest"),
    "change_orders": ("code",),
    "consents": ("change",),
    "goods": ("code",),
    "payments": ("paid_on", "key"),
    "logged_hours": ("worked_on", "key"),
}
"""By which properties each of these lists is sorted."""


def no_contracts() -> ContractRows:
    """Nothing asked, agreed, bought or paid yet."""
    return {
        "inquiries": [],
        "quotes": [],
        "work_orders": [],
        "instalments": [],
        "agreements": [],
        "change_orders": [],
        "consents": [],
        "goods": [],
        "payments": [],
        "logged_hours": [],
    }

"""Work orders: made, agreed, called off; and what they are paid in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction

from refit.contracts.codes import next_code
from refit.contracts.models import Agreement, Basis, Inquiry, Instalment, WorkOrder
from refit.contracts.order_text import digest_of, order_text
from refit.work.models import Actor, Refit, Vendor, WorkPackage, record
from refit.work.services import Refused
from refit.work.wording import say_money


@dataclass(frozen=True)
class Part:
    """One instalment to be: what makes it due, and how much it is. See `Instalment`."""

    basis: str
    amount: Decimal
    label: str = ""
    days_after: int = 0
    day: date | None = None


@dataclass(frozen=True)
class Terms:
    """``parts``: all but what is left of the price; that is due by ``rest``."""

    parts: Sequence[Part] = field(default_factory=tuple)
    rest: str = Basis.FINISH
    terms: str = ""


class TextMoved(Exception):
    """The text is not the one that was shown. Nothing is stored; look at the new one first."""


@transaction.atomic
def make_order(
    *,
    refit: Refit,
    title: str,
    vendor: Vendor,
    packages: Sequence[WorkPackage],
    price: Decimal,
    terms: Terms,
    actor: Actor,
    now: datetime,
    inquiry: Inquiry | None = None,
    not_before: date | None = None,
    due_on: date | None = None,
    leaves_out: str = "",
) -> WorkOrder:
    """Raises ValidationError if the instalments come to more than the price."""
    order = WorkOrder(
        refit=refit, code=next_code(WorkOrder, refit, "WO"), title=title, vendor=vendor,
        inquiry=inquiry, price=price, not_before=not_before, due_on=due_on,
        leaves_out=leaves_out, terms=terms.terms, made_at=now, made_by=actor.name,
    )  # fmt: skip
    order.full_clean()
    order.save()
    order.packages.set(packages)
    _write_parts(order, terms)
    record(
        refit=refit, actor=actor, now=now, verb="ordered", subject=order,
        after={"price": price, "vendor": vendor.name}, replan=False,
    )  # fmt: skip
    return order


@transaction.atomic
def change_terms(*, order: WorkOrder, terms: Terms, actor: Actor, now: datetime) -> None:
    """Other instalments or words: another text, to be agreed again. Refused once one is paid."""
    locked = WorkOrder.objects.select_for_update().select_related("refit").get(pk=order.pk)
    _refuse_ended(locked)
    if locked.instalments.filter(payment__isnull=False).exists():
        raise Refused(f"An instalment of {locked.code} is paid already: they stay as they are.")
    before = {"terms": locked.terms}
    locked.terms = terms.terms
    locked.save(update_fields=["terms"])
    locked.instalments.all().delete()
    _write_parts(locked, terms)
    record(
        refit=locked.refit, actor=actor, now=now, verb="changed", subject=locked,
        before=before, after={"terms": terms.terms}, replan=False,
    )  # fmt: skip


def _write_parts(order: WorkOrder, terms: Terms) -> None:
    known = [part for part in terms.parts if part.amount]
    left = order.price - sum((part.amount for part in known), Decimal(0))
    if left < 0:
        said = say_money(order.price, order.refit.currency)
        raise ValidationError(f"The instalments come to more than the price, {said}.")
    if left:
        known.append(Part(terms.rest, left))
    for number, part in enumerate(known, 1):
        row = Instalment(
            order=order, number=number, basis=part.basis, amount=part.amount, label=part.label,
            days_after=part.days_after, day=part.day,
        )  # fmt: skip
        row.full_clean()
        row.save()


def agreement_of(order: WorkOrder) -> Agreement | None:
    """The vendor's yes to the order as it reads now; None if it never gave one, or to another
    text."""
    given = order.agreements.order_by("-agreed_at", "-pk").first()
    if given is None or given.digest != digest_of(order_text(order)):
        return None
    return given


@transaction.atomic
def agree_order(
    *,
    order: WorkOrder,
    seen: str,
    name: str,
    actor: Actor,
    now: datetime,
    link: str = "",
    note: str = "",
) -> Agreement:
    """Say yes to the text with digest ``seen``; twice is once. Raises `TextMoved`, `Refused`."""
    locked = (
        WorkOrder.objects.select_for_update(of=("self",))
        .select_related("refit__boat", "vendor")
        .get(pk=order.pk)
    )
    _refuse_ended(locked)
    text = order_text(locked)
    if digest_of(text) != seen:
        raise TextMoved
    if (given := agreement_of(locked)) is not None:
        return given
    agreement = Agreement.objects.create(
        order=locked, agreed_at=now, name=name[:120], side=actor.side, link=link, note=note,
        digest=seen, text=text,
    )  # fmt: skip
    record(
        refit=locked.refit, actor=actor, now=now, verb="agreed", subject=locked,
        after={"name": name, "digest": seen}, note=note, replan=False,
    )  # fmt: skip
    return agreement


@transaction.atomic
def end_order(*, order: WorkOrder, why: str, actor: Actor, now: datetime) -> None:
    """Call it off. What was agreed and paid stays on record; its packages keep their vendor."""
    locked = WorkOrder.objects.select_for_update().select_related("refit").get(pk=order.pk)
    _refuse_ended(locked)
    locked.ended_at, locked.ended_why = now, why
    locked.save(update_fields=["ended_at", "ended_why"])
    record(
        refit=locked.refit, actor=actor, now=now, verb="called off", subject=locked, note=why,
        replan=False,
    )  # fmt: skip


def _refuse_ended(order: WorkOrder) -> None:
    if order.ended_at is not None:
        raise Refused(f"{order.code} was called off.")

"""Noting what was paid and who worked how long. The same form twice is noted once."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from refit.contracts.models import Goods, Instalment, LoggedHours, Payment
from refit.work.models import Actor, CrewMember, Refit, Vendor, WorkPackage, record
from refit.work.services import Refused


@transaction.atomic
def note_payment(
    *,
    refit: Refit,
    key: str,
    paid_on: date,
    amount: Decimal,
    instalment: Instalment | None = None,
    goods: Goods | None = None,
    package: WorkPackage | None = None,
    vendor: Vendor | None = None,
    reference: str = "",
    note: str = "",
    actor: Actor,
    now: datetime,
) -> Payment:
    """Note a payment; the one that is there already if ``key`` was used. Raises ValidationError,
    `Refused` if the instalment or the goods were paid before, or the amount is another."""
    Refit.objects.select_for_update().get(pk=refit.pk)
    if known := Payment.objects.filter(refit=refit, key=key).first():
        return known
    if paid_on > refit.today(now):
        raise Refused("A payment cannot lie in the future.")
    paid = None
    if instalment is not None:
        paid = Payment.objects.filter(instalment=instalment).first()
        vendor = instalment.order.vendor
        if amount != instalment.amount:
            raise Refused(
                f"The instalment is {instalment.amount}, not {amount}: change the order first, or"
                " note the rest as another payment."
            )
    elif goods is not None:
        paid = Payment.objects.filter(goods=goods).first()
    elif package is not None and vendor is None:
        vendor = package.vendor
    if paid is not None:
        raise Refused(f"It was paid already, on {paid.paid_on:%Y-%m-%d}.")
    payment = Payment(
        refit=refit, key=key, paid_on=paid_on, amount=amount, instalment=instalment, goods=goods,
        package=package, vendor=vendor, reference=reference, note=note,
    )  # fmt: skip
    payment.full_clean()
    payment.save()
    record(
        refit=refit, actor=actor, now=now, verb="paid", subject=payment,
        after={"amount": amount, "reference": reference}, note=note, replan=False,
    )  # fmt: skip
    return payment


@transaction.atomic
def take_back_payment(*, payment: Payment, actor: Actor, now: datetime) -> None:
    """It was noted by mistake. The journal keeps it."""
    refit, said = payment.refit, str(payment)
    before = {
        "amount": payment.amount, "paid_on": payment.paid_on, "reference": payment.reference,
    }  # fmt: skip
    payment.delete()
    record(
        refit=refit, actor=actor, now=now, verb="removed", subject_name=said, before=before,
        replan=False,
    )  # fmt: skip


@transaction.atomic
def log_hours(
    *,
    refit: Refit,
    key: str,
    package: WorkPackage,
    worked_on: date,
    minutes: int,
    rate: Decimal,
    person: CrewMember | None = None,
    vendor: Vendor | None = None,
    note: str = "",
    actor: Actor,
    now: datetime,
) -> LoggedHours:
    """Note working time; what is there already if ``key`` was used. Raises ValidationError."""
    Refit.objects.select_for_update().get(pk=refit.pk)
    if known := LoggedHours.objects.filter(refit=refit, key=key).first():
        return known
    if worked_on > refit.today(now):
        raise Refused("Hours cannot lie in the future.")
    hours = LoggedHours(
        refit=refit, key=key, package=package, worked_on=worked_on, minutes=minutes, rate=rate,
        person=person, vendor=vendor, note=note,
    )  # fmt: skip
    hours.full_clean()
    hours.save()
    record(
        refit=refit, actor=actor, now=now, verb="logged", subject=hours,
        after={"minutes": minutes, "package": package.code}, replan=False,
    )  # fmt: skip
    return hours

"""Change orders: made, announced with what they do, decided by the owner, and then carried out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from refit.contracts.change_text import change_text
from refit.contracts.codes import next_code
from refit.contracts.models import ChangeOrder, ChangeState, Consent, ConsentWay
from refit.contracts.order_text import digest_of
from refit.quality.models import Decision, Finding
from refit.quality.services import decide_finding
from refit.work.models import Actor, Refit, WorkPackage, record
from refit.work.services import Facts, Refused, change_row

from .orders import TextMoved


@dataclass(frozen=True)
class Announcement:
    """What a change order does to the launch and the bill, planned for a version of the refit."""

    version: int
    launch_before: datetime | None
    launch_after: datetime | None
    days: int | None
    bill_before: Decimal
    bill_after: Decimal


@dataclass(frozen=True)
class Word:
    """How the owner's word reached us. ``phone``: the number called."""

    way: ConsentWay
    name: str
    at: datetime
    phone: str = ""
    noted_by: str = ""
    link: str = ""
    note: str = ""


@transaction.atomic
def make_change(
    *,
    refit: Refit,
    title: str,
    reason: str,
    package: WorkPackage,
    price: Decimal,
    extra_minutes: int | None = None,
    finding: Finding | None = None,
    price_basis: str = "",
    decide_by: datetime | None = None,
    actor: Actor,
    now: datetime,
) -> ChangeOrder:
    """A change order that nobody was asked about yet. Raises ValidationError, `Refused`.

    A package outside the scope comes into it; one inside takes ``extra_minutes`` longer.
    """
    if package.is_agreed and extra_minutes is None:
        raise Refused(f"{package} is in the agreed scope: say how much longer it takes.")
    if not package.is_agreed:
        extra_minutes = None
    change = ChangeOrder(
        refit=refit, code=next_code(ChangeOrder, refit, "CO"), title=title, reason=reason,
        package=package, price=price, extra_minutes=extra_minutes, finding=finding,
        price_basis=price_basis, decide_by=decide_by, made_at=now,
    )  # fmt: skip
    change.full_clean()
    change.save()
    record(
        refit=refit, actor=actor, now=now, verb="added", subject=change,
        after={"package": package.code, "price": price}, replan=False,
    )  # fmt: skip
    return change


@transaction.atomic
def ask_owner(
    *, change: ChangeOrder, announcement: Announcement, actor: Actor, now: datetime
) -> None:
    """Put it on the owner's page, or put other figures there. Raises `Refused`."""
    locked = _locked(change)
    if not locked.is_open:
        raise Refused(f"{locked.code} is {locked.get_state_display()} already.")
    was_asked = locked.state == ChangeState.ASKED
    locked.state, locked.asked_at = ChangeState.ASKED, locked.asked_at or now
    locked.announced_version = announcement.version
    for name in ("launch_before", "launch_after", "days", "bill_before", "bill_after"):
        setattr(locked, name, getattr(announcement, name))
    locked.save()
    if locked.finding is not None and locked.finding.decision == Decision.WAITING:
        decide_finding(finding=locked.finding, decision=Decision.ASK_OWNER, actor=actor, now=now)
    record(
        refit=locked.refit, actor=actor, now=now,
        verb="announced again" if was_asked else "asked the owner", subject=locked,
        after={"price": locked.price, "days": locked.days}, replan=False,
    )  # fmt: skip


@transaction.atomic
def decide_change(
    *, change: ChangeOrder, is_yes: bool, seen: str, word: Word, actor: Actor, now: datetime
) -> Consent:
    """Keep the owner's word for good and, if it is yes, carry the change out.

    ``seen`` is the digest of the words that were shown. Raises `TextMoved` if they are other words
    by now, `Refused` if it was decided, or cannot be done any more.
    """
    locked = _locked(change)
    if locked.state != ChangeState.ASKED:
        raise Refused(f"{locked.code} is not waiting for a word: {locked.get_state_display()}.")
    if word.at > now:
        raise Refused("The owner's word cannot lie in the future.")
    text = change_text(locked)
    if digest_of(text) != seen:
        raise TextMoved
    consent = Consent(
        change=locked, is_yes=is_yes, given_at=word.at, way=word.way, name=word.name[:120],
        phone=word.phone, noted_by=word.noted_by, link=word.link, what=text, price=locked.price,
        days=locked.days, launch_after=locked.launch_after, bill_after=locked.bill_after,
        note=word.note, digest=seen,
    )  # fmt: skip
    consent.full_clean()
    consent.save(force_insert=True)
    if is_yes:
        carry_out(change=locked, actor=actor, now=now)
    locked.state = ChangeState.APPROVED if is_yes else ChangeState.DECLINED
    locked.save(update_fields=["state"])
    finding = locked.finding
    if finding is not None and finding.is_open:
        decision = Decision.FIX_NOW if is_yes else Decision.LEAVE
        note = f"{locked.code} {locked.get_state_display()}."
        decide_finding(finding=finding, decision=decision, actor=actor, now=now, note=note)
    record(
        refit=locked.refit, actor=actor, now=now,
        verb="approved" if is_yes else "declined", subject=locked,
        after={"price": locked.price, "days": locked.days}, note=word.note, replan=False,
    )  # fmt: skip
    return consent


def carry_out(*, change: ChangeOrder, actor: Actor, now: datetime) -> None:
    """Write into the package what the change order says. The only way to do it, also to try it."""
    package = WorkPackage.objects.select_for_update(of=("self",)).get(pk=change.package_id)
    facts: Facts = {}
    if change.extra_minutes is None:
        if package.is_agreed:
            raise Refused(f"{package} is in the agreed scope already.")
        facts["is_agreed"] = True
        facts["budget"] = change.price
        if package.vendor_id is not None:
            facts["agreed_price"] = change.price
    else:
        if package.is_finished:
            raise Refused(f"{package} is finished already: make another package of it.")
        facts["low_minutes"] = package.low_minutes + change.extra_minutes
        facts["likely_minutes"] = package.likely_minutes + change.extra_minutes
        facts["high_minutes"] = package.high_minutes + change.extra_minutes
        if package.remaining_minutes is not None:
            facts["remaining_minutes"] = package.remaining_minutes + change.extra_minutes
        facts["budget"] = _not_below_zero(package, (package.budget or Decimal(0)) + change.price)
        if package.agreed_price is not None:
            facts["agreed_price"] = _not_below_zero(package, package.agreed_price + change.price)
    change_row(
        refit=change.refit, row=package, facts=facts, actor=actor, now=now,
        note=f"Change order {change.code}.",
    )  # fmt: skip


def _not_below_zero(package: WorkPackage, amount: Decimal) -> Decimal:
    if amount < 0:
        raise Refused(f"{package} costs less than is taken off it.")
    return amount


@transaction.atomic
def withdraw_change(*, change: ChangeOrder, actor: Actor, now: datetime, note: str = "") -> None:
    locked = _locked(change)
    if not locked.is_open:
        raise Refused(f"{locked.code} is {locked.get_state_display()} already.")
    locked.state = ChangeState.WITHDRAWN
    locked.save(update_fields=["state"])
    record(
        refit=locked.refit, actor=actor, now=now, verb="withdrew", subject=locked, note=note,
        replan=False,
    )  # fmt: skip


def _locked(change: ChangeOrder) -> ChangeOrder:
    return (
        ChangeOrder.objects.select_for_update(of=("self",))
        .select_related("refit", "package", "finding")
        .get(pk=change.pk)
    )

"""Asking vendors, noting what they answer, and giving the work to one of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction

from refit.contracts.codes import next_code
from refit.contracts.models import Inquiry, Quote, QuoteState, WorkOrder
from refit.contracts.sharing import shares
from refit.work.models import Actor, Booking, BookingKind, Place, Refit, WorkPackage, record
from refit.work.services import Refused, change_row
from refit.work.wording import say_day, say_list, say_money

from .orders import Terms, make_order


@dataclass(frozen=True)
class Answer:
    """What a vendor says. See `Quote` for the fields."""

    price: Decimal
    lead_days: int | None = None
    promised_on: date | None = None
    work_minutes: int | None = None
    leaves_out: str = ""
    remarks: str = ""
    valid_until: date | None = None
    place: Place | None = None


@transaction.atomic
def ask_for_quotes(
    *,
    refit: Refit,
    title: str,
    packages: Sequence[WorkPackage],
    vendors: Sequence[object],
    scope: str = "",
    answer_by: date | None = None,
    actor: Actor,
    now: datetime,
) -> Inquiry:
    """Put the same question to several vendors. Raises ValidationError, `Refused`."""
    if not packages:
        raise ValidationError({"packages": "Choose at least one package."})
    if not vendors:
        raise ValidationError({"vendors": "Choose at least one vendor."})
    begun = [str(package) for package in packages if package.is_started]
    if begun:
        raise ValidationError({"packages": f"{say_list(begun)} has begun already."})
    inquiry = Inquiry(
        refit=refit, code=next_code(Inquiry, refit, "Q"), title=title, scope=scope,
        answer_by=answer_by, asked_at=now,
    )  # fmt: skip
    inquiry.full_clean()
    inquiry.save()
    inquiry.packages.set(packages)
    Quote.objects.bulk_create(
        Quote(inquiry=inquiry, vendor=vendor, asked_at=now)  # type: ignore[misc]
        for vendor in vendors
    )
    record(
        refit=refit, actor=actor, now=now, verb="asked", subject=inquiry,
        after={"vendors": [str(vendor) for vendor in vendors]}, replan=False,
    )  # fmt: skip
    return inquiry


@transaction.atomic
def answer_inquiry(*, quote: Quote, answer: Answer, actor: Actor, now: datetime) -> None:
    """Note an answer, or another one in place of it, as long as the work is to be had."""
    locked = _locked(quote)
    _refuse_closed(locked)
    before = {"price": locked.price, "promised_on": locked.promised_on}
    for name in (
        "price", "lead_days", "promised_on", "work_minutes", "leaves_out", "remarks",
        "valid_until",
    ):  # fmt: skip
        setattr(locked, name, getattr(answer, name))
    if answer.place is not None:
        locked.place = answer.place
    locked.state, locked.answered_at, locked.answered_by = QuoteState.ANSWERED, now, actor.name
    locked.full_clean()
    locked.save()
    record(
        refit=locked.inquiry.refit, actor=actor, now=now, verb="quoted", subject=locked,
        before=before, after={"price": locked.price, "promised_on": locked.promised_on},
        replan=False,
    )  # fmt: skip


@transaction.atomic
def pass_on_inquiry(*, quote: Quote, actor: Actor, now: datetime, remarks: str = "") -> None:
    """The vendor does not want the work."""
    locked = _locked(quote)
    _refuse_closed(locked)
    locked.state, locked.answered_at, locked.answered_by = QuoteState.PASSED, now, actor.name
    locked.price, locked.remarks = None, remarks
    locked.save()
    record(
        refit=locked.inquiry.refit, actor=actor, now=now, verb="passed", subject=locked,
        note=remarks, replan=False,
    )  # fmt: skip


@transaction.atomic
def close_inquiry(*, inquiry: Inquiry, actor: Actor, now: datetime, note: str = "") -> None:
    """Nobody gets the work."""
    locked = Inquiry.objects.select_for_update().get(pk=inquiry.pk)
    if locked.closed_at is not None:
        raise Refused(f"{locked.code} is closed already.")
    _close(locked, now)
    record(
        refit=locked.refit, actor=actor, now=now, verb="closed", subject=locked, note=note,
        replan=False,
    )  # fmt: skip


def _close(inquiry: Inquiry, now: datetime) -> None:
    inquiry.closed_at = now
    inquiry.save(update_fields=["closed_at"])
    inquiry.quotes.filter(state__in=[QuoteState.ASKED, QuoteState.ANSWERED]).update(
        state=QuoteState.NOT_TAKEN
    )


@transaction.atomic
def accept_quote(
    *, quote: Quote, actor: Actor, now: datetime, terms: Terms | None = None
) -> WorkOrder:
    """Give the work to this vendor: its packages get vendor, place, price and dates, and a work
    order is made. Raises `Refused` if the quote has run out or the packages have begun.

    The price is shared among several packages as their budgets are to each other. The lead time
    holds back the packages that wait for none of the others; the promise is one for those that
    none of the others wait for.
    """
    locked = _locked(quote)
    refit, inquiry = locked.inquiry.refit, locked.inquiry
    _refuse_closed(locked)
    if locked.state != QuoteState.ANSWERED or locked.price is None:
        raise Refused(f"{locked.vendor} has not said a price for {inquiry.code}.")
    if locked.has_run_out(refit.today(now)):
        assert locked.valid_until is not None
        raise Refused(
            f"The quote of {locked.vendor} was valid until {say_day(locked.valid_until)}: ask for"
            " it again."
        )
    packages = list(inquiry.packages.select_related("place", "refit").order_by("code"))
    for package in packages:
        if package.is_started:
            raise Refused(f"{package} has begun already: it cannot be given away any more.")
    parts = shares(locked.price, [package.budget or Decimal(0) for package in packages])
    first, last = _ends(packages)
    not_before = None
    if locked.lead_days:
        not_before = refit.today(now) + timedelta(days=locked.lead_days)
    for package, part in zip(packages, parts, strict=True):
        place = _place_of(locked, package)
        facts: dict[str, object] = {
            "vendor": locked.vendor_id,
            "place": place.pk,
            "people": [],
            "helpers": 0,
            "agreed_price": part,
        }
        if place.pk != package.place_id:
            facts["takes_bay"] = place.bays > 0
        if locked.work_minutes and len(packages) == 1:
            minutes = locked.work_minutes
            facts |= {
                "low_minutes": min(package.low_minutes, minutes),
                "likely_minutes": minutes,
                "high_minutes": max(package.high_minutes, minutes),
            }
        if package in last:
            promised = locked.promised_on
            facts["promised"] = None if promised is None else place.closing_moment(promised)
        if package in first:
            facts["booking"] = _booking(locked, not_before, refit, package)
        change_row(
            refit=refit, row=package, facts=facts, actor=actor, now=now,
            note=f"{locked.vendor} has the work for {say_money(locked.price, refit.currency)}.",
        )  # fmt: skip
    order = make_order(
        refit=refit, title=inquiry.title, vendor=locked.vendor, inquiry=inquiry,
        packages=packages, price=locked.price, not_before=not_before, due_on=locked.promised_on,
        leaves_out=locked.leaves_out, terms=terms or Terms(), actor=actor, now=now,
    )  # fmt: skip
    locked.state = QuoteState.ACCEPTED
    locked.save(update_fields=["state"])
    _close(inquiry, now)
    return order


def _booking(
    quote: Quote, not_before: date | None, refit: Refit, package: WorkPackage
) -> dict[str, object] | None:
    kept = Booking.objects.filter(package=package).first()
    if not_before is None:
        if kept is None or package.vendor_id != quote.vendor_id:
            return None  # what was agreed with somebody else does not hold for this vendor
        return {"kind": kept.kind, "at": kept.at, "agreed_with": kept.agreed_with,
                "note": kept.note}  # fmt: skip
    at = datetime.combine(not_before, datetime.min.time(), refit.zone)
    return {
        "kind": str(BookingKind.NOT_BEFORE),
        "at": at,
        "agreed_with": quote.answered_by[:120],
        "note": f"lead time of the quote for {quote.inquiry.code}",
    }


def _ends(packages: list[WorkPackage]) -> tuple[list[WorkPackage], list[WorkPackage]]:
    """Those that wait for none of the others, and those that none of the others wait for."""
    keys = {package.pk for package in packages}
    links = [
        (before, after)
        for package in packages
        for before, after in package.waits_for.values_list("before_id", "after_id")
        if before in keys
    ]
    later, earlier = {after for _, after in links}, {before for before, _ in links}
    first = [package for package in packages if package.pk not in later]
    last = [package for package in packages if package.pk not in earlier]
    return first or packages, last or packages


def _place_of(quote: Quote, package: WorkPackage) -> Place:
    """Where this vendor would do it: as it said, at its own place, or where it is done now."""
    if package.place.vendor_id is None:  # on our boat, in our shed: everybody comes to us
        return package.place if quote.place is None else quote.place
    own = quote.place or Place.objects.filter(vendor=quote.vendor).order_by("pk").first()
    if own is None:
        raise Refused(
            f"{quote.vendor} has no place of its own yet, and {package} is done at"
            f" {package.place}: add its place first."
        )
    return own


def _locked(quote: Quote) -> Quote:
    return (
        Quote.objects.select_for_update(of=("self",))
        .select_related("inquiry__refit", "vendor", "place")
        .get(pk=quote.pk)
    )


def _refuse_closed(quote: Quote) -> None:
    if quote.inquiry.closed_at is not None:
        raise Refused(f"The work of {quote.inquiry.code} is not to be had any more.")

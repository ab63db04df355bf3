"""What a vendor is asked for, and its work orders. Only its own: no other vendor or price."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from refit.accounts.access import link_page
from refit.accounts.models import LinkKind, PrivateLink
from refit.contracts.models import Agreement, Quote, QuoteState, WorkOrder
from refit.contracts.order_paper import order_pdf
from refit.contracts.order_text import OrderWords, digest_of, order_text, order_words
from refit.contracts.services import (
    Answer,
    TextMoved,
    agree_order,
    agreement_of,
    answer_inquiry,
    pass_on_inquiry,
)
from refit.planning.prospects import work_out
from refit.work.models import Refit, Vendor, WorkPackage
from refit.work.services import Refused

from .pages import actor_of, manager_contact

DAY = {"type": "date"}


class OfferForm(forms.Form):
    """What the vendor says to a question."""

    price = forms.DecimalField(
        label="Your price for all of it", max_digits=12, decimal_places=2, min_value=0,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
        error_messages={"required": "Write your price."},
    )  # fmt: skip
    lead_days = forms.IntegerField(
        label="Days from the order until you begin", required=False, min_value=0, max_value=1000,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip
    promised_on = forms.DateField(
        label="Ready to collect on", required=False, widget=forms.DateInput(attrs=DAY)
    )
    leaves_out = forms.CharField(
        label="What the price leaves out", required=False, max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip
    valid_until = forms.DateField(
        label="The price holds until", required=False, widget=forms.DateInput(attrs=DAY)
    )
    remarks = forms.CharField(
        label="Anything else", required=False, max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip

    def __init__(self, data: Any = None, *, quote: Quote, today: date) -> None:
        names = (
            "price", "lead_days", "promised_on", "leaves_out", "valid_until", "remarks"
        )  # fmt: skip
        initial = {name: getattr(quote, name) for name in names}
        super().__init__(data, prefix=f"quote-{quote.pk}", initial=initial, label_suffix="")
        self.today = today

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name in ("promised_on", "valid_until"):
            day = cleaned.get(name)
            if day is not None and day < self.today:
                self.add_error(name, "That day is past. Choose today or a later one.")
        return cleaned


@dataclass
class Asked:
    quote: Quote
    packages: list[WorkPackage]
    form: OfferForm
    is_open: bool


@dataclass
class Ordered:
    order: WorkOrder
    words: OrderWords
    digest: str
    agreement: Agreement | None
    was_agreed: bool


def waiting_for(vendor: Vendor) -> int:
    """How many questions and orders wait for this vendor's word, as far as is known cheaply: an
    order that was agreed in another text is found on the page itself. Two queries."""
    asked = Quote.objects.waiting().filter(vendor=vendor).count()
    new = WorkOrder.objects.filter(vendor=vendor, ended_at=None, agreements=None).count()
    return asked + new


def _page(
    request: HttpRequest, link: PrivateLink, refused: tuple[Quote, OfferForm] | None = None
) -> HttpResponse:
    assert isinstance(link.vendor, Vendor)
    refit, today = link.refit, link.refit.today(timezone.now())
    quotes = (
        Quote.objects.filter(inquiry__refit=refit, vendor=link.vendor)
        .select_related("inquiry")
        .prefetch_related("inquiry__packages__pieces", "inquiry__packages__place")
        .order_by("-inquiry__asked_at")
    )
    asked = []
    for quote in quotes:
        form = OfferForm(quote=quote, today=today)
        if refused is not None and refused[0].pk == quote.pk:
            form = refused[1]
        is_open = quote.inquiry.closed_at is None
        if is_open or quote.state == QuoteState.ACCEPTED:
            asked.append(Asked(quote, list(quote.inquiry.packages.all()), form, is_open))
    context = {
        "link": link,
        "page": {
            "refit": refit,
            "contact": manager_contact(refit),
            "headline": "Quotes and orders",
        },
        "vendor": link.vendor,
        "asked": asked,
        "orders": [_ordered(order, refit) for order in _orders(link)],
    }
    return render(request, "portal/offers_page.html", context)


def _orders(link: PrivateLink) -> list[WorkOrder]:
    return list(
        WorkOrder.objects.filter(refit=link.refit, vendor=link.vendor)
        .select_related("vendor")
        .order_by("-made_at", "-pk")
    )


def _ordered(order: WorkOrder, refit: Refit) -> Ordered:
    order.refit = refit
    return Ordered(
        order, order_words(order), digest_of(order_text(order)), agreement_of(order),
        order.agreements.exists(),
    )  # fmt: skip


@require_safe
@link_page(LinkKind.VENDOR)
def offers(request: HttpRequest, link: PrivateLink) -> HttpResponse:
    return _page(request, link)


def _quote(link: PrivateLink, pk: int) -> Quote:
    """A question to the link's vendor; to anybody else it does not exist."""
    row = (
        Quote.objects.select_related("inquiry")
        .filter(pk=pk, vendor=link.vendor, inquiry__refit=link.refit)
        .first()
    )
    if row is None:
        raise Http404
    return row


@require_POST
@link_page(LinkKind.VENDOR)
def offer(request: HttpRequest, link: PrivateLink, pk: int) -> HttpResponse:
    quote, now = _quote(link, pk), timezone.now()
    form = OfferForm(request.POST, quote=quote, today=link.refit.today(now))
    if not form.is_valid():
        return _page(request, link, (quote, form))
    try:
        answer_inquiry(
            quote=quote, answer=Answer(**form.cleaned_data, work_minutes=quote.work_minutes),
            actor=actor_of(link), now=now,
        )  # fmt: skip
    except Refused as why:
        messages.warning(request, str(why))
    except ValidationError as wrong:
        form.add_error(None, " ".join(wrong.messages))
        return _page(request, link, (quote, form))
    else:
        work_out(link.refit, list(quote.inquiry.quotes.select_related("inquiry")), now=now)
        name = manager_contact(link.refit).name
        messages.success(request, f"Thank you. {name} has your price.")
    return redirect("portal:offers", link.public_id)


@require_POST
@link_page(LinkKind.VENDOR)
def offer_pass(request: HttpRequest, link: PrivateLink, pk: int) -> HttpResponse:
    quote = _quote(link, pk)
    try:
        pass_on_inquiry(quote=quote, actor=actor_of(link), now=timezone.now())
    except Refused as why:
        messages.warning(request, str(why))
    else:
        messages.success(request, "Noted: you do not want this work. Thank you for saying so.")
    return redirect("portal:offers", link.public_id)


def _order(link: PrivateLink, pk: int) -> WorkOrder:
    row = (
        WorkOrder.objects.select_related("vendor")
        .filter(pk=pk, refit=link.refit, vendor=link.vendor)
        .first()
    )
    if row is None:
        raise Http404
    row.refit = link.refit
    return row


@require_POST
@link_page(LinkKind.VENDOR)
def order_agree(request: HttpRequest, link: PrivateLink, pk: int) -> HttpResponse:
    """A click that is kept: who, when, by which link, to which text."""
    order = _order(link, pk)
    name = request.POST.get("name", "").strip()[:80]
    if not name:
        messages.error(request, "Write your name, then agree again.")
        return redirect("portal:offers", link.public_id)
    assert isinstance(link.vendor, Vendor)
    try:
        agree_order(
            order=order, seen=request.POST.get("seen", ""), name=f"{name}, {link.vendor.name}",
            actor=actor_of(link), now=timezone.now(), link=link.public_id,
        )  # fmt: skip
    except TextMoved:
        messages.warning(request, "The order has been changed since. Read it again, please.")
    except Refused as why:
        messages.warning(request, str(why))
    else:
        messages.success(request, f"Thank you. {order.code} is agreed.")
    return redirect("portal:offers", link.public_id)


@require_safe
@link_page(LinkKind.VENDOR)
def order_paper(request: HttpRequest, link: PrivateLink, pk: int) -> HttpResponse:
    order = _order(link, pk)
    pdf = order_pdf(order, agreement_of(order), now=timezone.now())
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="order-{order.pk}.pdf"'
    return answer

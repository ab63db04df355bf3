"""Quotes: asking several vendors, comparing what they say with what it does, taking one."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from refit.contracts.models import Inquiry, Quote, QuoteState
from refit.contracts.services import (
    accept_quote,
    answer_inquiry,
    ask_for_quotes,
    close_inquiry,
)
from refit.planning.prospects import known_prospects, work_out
from refit.work.models import Refit
from refit.work.services import Refused

from .acts import settle_and_say
from .forms_money import AnswerForm, InquiryForm, TermsForm
from .pages import DeskRequest, actor_of, manager_page


@require_safe
@manager_page(only=True)
def quotes(request: DeskRequest, refit: Refit) -> HttpResponse:
    rows = list(
        Inquiry.objects.filter(refit=refit)
        .prefetch_related("quotes__vendor", "packages")
        .order_by("-asked_at", "-pk")
    )
    context = {
        "refit": refit,
        "open": [row for row in rows if row.closed_at is None],
        "closed": [row for row in rows if row.closed_at is not None],
    }
    return render(request, "desk/quotes.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def quote_ask(request: DeskRequest, refit: Refit) -> HttpResponse:
    initial = {}
    if (pk := request.GET.get("package", "")).isdecimal():
        package = refit.packages.filter(pk=pk).first()
        initial = {"packages": [pk], "title": package.title if package else ""}
    form = InquiryForm(request.POST or None, refit=refit, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            row = ask_for_quotes(
                refit=refit, **form.cleaned_data, actor=actor_of(request), now=request.desk.now
            )
        except ValidationError as wrong:
            form.add_error(None, wrong)
        else:
            messages.success(request, f"{row.code} stands on the vendors' private pages.")
            return redirect("desk:quote", refit.slug, row.pk)
    return render(request, "desk/quote_ask.html", {"refit": refit, "form": form})


def inquiry_of(refit: Refit, pk: int) -> Inquiry:
    row = get_object_or_404(Inquiry.objects.prefetch_related("packages"), refit=refit, pk=pk)
    row.refit = refit
    return row


@require_safe
@manager_page(only=True)
def quote(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """The answers side by side, with what each would do to the launch."""
    row = inquiry_of(refit, pk)
    found = list(row.quotes.select_related("vendor", "place"))
    prospects = known_prospects(refit, found, request.desk.now)
    launches = [one.launch_after for one in prospects.values() if one.launch_after]
    answers = [(one, prospects.get(one.pk)) for one in found]
    context = {
        "refit": refit,
        "inquiry": row,
        "answers": answers,
        "missing": row.closed_at is None
        and any(one.state == QuoteState.ANSWERED and not known for one, known in answers),
        "order": row.work_orders.first(),
        "cheapest": min((one.price for one in found if one.price is not None), default=None),
        "soonest": min(launches, default=None),
        "today": request.desk.today,
    }
    return render(request, "desk/quote.html", context)


@require_POST
@manager_page()
def quote_work_out(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """Plan with each of the quotes."""
    row = inquiry_of(refit, pk)
    if not work_out(refit, list(row.quotes.select_related("inquiry")), now=request.desk.now):
        messages.success(request, "The launch dates are being worked out; look again in a moment.")
    return redirect("desk:quote", refit.slug, pk)


def _quote_of(refit: Refit, pk: int, quote: int) -> Quote:
    rows = Quote.objects.select_related("inquiry", "vendor", "place")
    return get_object_or_404(rows, inquiry__refit=refit, inquiry=pk, pk=quote)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def quote_answer(request: DeskRequest, refit: Refit, pk: int, quote: int) -> HttpResponse:
    """Type in what a vendor said."""
    row = _quote_of(refit, pk, quote)
    form = AnswerForm(request.POST or None, refit=refit, quote=row)
    if request.method == "POST" and form.is_valid():
        try:
            answer_inquiry(
                quote=row, answer=form.answer(), actor=actor_of(request), now=request.desk.now
            )
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            work_out(
                refit, list(row.inquiry.quotes.select_related("inquiry")), now=request.desk.now
            )
            messages.success(request, f"What {row.vendor} says is noted.")
            return redirect("desk:quote", refit.slug, pk)
    context = {"refit": refit, "form": form, "quote": row}
    return render(request, "desk/quote_answer.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def quote_accept(request: DeskRequest, refit: Refit, pk: int, quote: int) -> HttpResponse:
    """Take a quote: what is paid when, and then the work order."""
    row = _quote_of(refit, pk, quote)
    if row.price is None or row.inquiry.closed_at is not None:
        messages.error(request, f"{row.vendor} cannot be given this work any more.")
        return redirect("desk:quote", refit.slug, pk)
    form = TermsForm(request.POST or None, price=row.price)
    if request.method == "POST" and form.is_valid():
        try:
            order = accept_quote(
                quote=row, terms=form.result(), actor=actor_of(request), now=request.desk.now
            )
        except Refused as refused:
            form.add_error(None, str(refused))
        except ValidationError as wrong:
            form.add_error(None, wrong)
        else:
            settle_and_say(request, refit, f"{row.vendor} has the work: {order.code}.")
            return redirect("desk:order", refit.slug, order.pk)
    context: dict[str, Any] = {"refit": refit, "form": form, "quote": row}
    context["prospect"] = known_prospects(refit, [row], request.desk.now).get(row.pk)
    return render(request, "desk/quote_accept.html", context)


@require_POST
@manager_page()
def quote_close(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = inquiry_of(refit, pk)
    try:
        close_inquiry(inquiry=row, actor=actor_of(request), now=request.desk.now)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"{row.code} is closed: nobody gets the work.")
    return redirect("desk:quotes", refit.slug)

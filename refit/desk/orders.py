"""Work orders: what reads how, who agreed to it, and its paper."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from refit.contracts.models import WorkOrder
from refit.contracts.order_paper import order_pdf
from refit.contracts.order_text import digest_of, order_text, order_words
from refit.contracts.services import (
    TextMoved,
    agree_order,
    agreement_of,
    change_terms,
    end_order,
)
from refit.work.models import Refit
from refit.work.services import Refused

from .forms_money import NotedForm, TermsForm
from .pages import DeskRequest, actor_of, manager_page


@require_safe
@manager_page(only=True)
def orders(request: DeskRequest, refit: Refit) -> HttpResponse:
    rows = (
        WorkOrder.objects.filter(refit=refit)
        .select_related("vendor")
        .prefetch_related("agreements")
        .order_by("-made_at", "-pk")
    )
    return render(request, "desk/orders.html", {"refit": refit, "orders": list(rows)})


def order_of(refit: Refit, pk: int) -> WorkOrder:
    row = get_object_or_404(WorkOrder.objects.select_related("vendor"), refit=refit, pk=pk)
    row.refit = refit
    return row


@require_safe
@manager_page(only=True)
def order(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    return _show(request, refit, order_of(refit, pk), NotedForm())


def _show(request: DeskRequest, refit: Refit, row: WorkOrder, form: NotedForm) -> HttpResponse:
    context = {
        "refit": refit,
        "order": row,
        "words": order_words(row),
        "agreement": agreement_of(row),
        "agreements": list(row.agreements.all()),
        "digest": digest_of(order_text(row)),
        "form": form,
    }
    return render(request, "desk/order.html", context)


@require_safe
@manager_page(only=True)
def order_paper(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = order_of(refit, pk)
    pdf = order_pdf(row, agreement_of(row), now=request.desk.now)
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{refit.slug}-order-{row.pk}.pdf"'
    return answer


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def order_terms(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = order_of(refit, pk)
    initial = {"terms": row.terms}
    form = TermsForm(request.POST or None, price=row.price, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            change_terms(
                order=row, terms=form.result(), actor=actor_of(request), now=request.desk.now
            )
        except Refused as refused:
            form.add_error(None, str(refused))
        except ValidationError as wrong:
            form.add_error(None, wrong)
        else:
            messages.success(request, "Saved. It is another text now: ask for agreement again.")
            return redirect("desk:order", refit.slug, pk)
    return render(request, "desk/order_terms.html", {"refit": refit, "form": form, "order": row})


@require_POST
@manager_page()
def order_agreed(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """Note an agreement that came another way than by the private page."""
    row = order_of(refit, pk)
    form = NotedForm(request.POST)
    if not form.is_valid():
        return _show(request, refit, row, form)
    try:
        agree_order(
            order=row, seen=request.POST.get("seen", ""), name=form.cleaned_data["name"],
            note=f"{form.cleaned_data['note']} (noted by {actor_of(request).name})"[:240],
            actor=actor_of(request), now=request.desk.now,
        )  # fmt: skip
    except TextMoved:
        messages.error(request, "The order reads otherwise by now. Look at it again.")
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"Noted: {row.code} is agreed.")
    return redirect("desk:order", refit.slug, pk)


@require_POST
@manager_page()
def order_end(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = order_of(refit, pk)
    why = request.POST.get("why", "").strip()[:240]
    try:
        end_order(order=row, why=why, actor=actor_of(request), now=request.desk.now)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"{row.code} is called off. Tell {row.vendor}.")
    return redirect("desk:order", refit.slug, pk)

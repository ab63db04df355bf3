"""Budget, payments, hours and goods."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.contrib import messages
from django.db.models import Max
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from refit.accounts.models import Role
from refit.contracts.bookkeeping import bookkeeping_csv
from refit.contracts.budget import budget_lines, by_vendor, contingency, read_books, total
from refit.contracts.cash import Dates, Plan, by_week, dues
from refit.contracts.codes import next_code
from refit.contracts.goods import order_by_day
from refit.contracts.models import Goods, Instalment, Payment
from refit.contracts.services import log_hours, note_payment, take_back_payment
from refit.custody.models import Handoff, HandoffState
from refit.planning.models import PlannedPackage
from refit.work.models import Refit
from refit.work.services import Refused

from .acts import edit_row, remove_and_go, settle_and_say
from .forms_money import GoodsForm, HoursForm, MoneyTermsForm, PayForm, PaymentForm
from .packages import planned_of
from .pages import Desk, DeskRequest, actor_of, manager_page


def dates_of(desk: Desk) -> Plan:
    """Dates of the plan shown, with when the pieces of each package are back. Two queries."""
    back: dict[int, datetime] = dict(
        Handoff.objects.filter(refit=desk.refit, after_package__isnull=False)
        .exclude(state=HandoffState.CANCELLED)
        .values_list("after_package")
        .annotate(Max("arrive_at"))
    )
    return {
        pk: Dates(row.start, row.work_finish, row.finish, back.get(pk))
        for pk, row in planned_of(desk).items()
    }


@require_safe
@manager_page(only=True)
def budget(request: DeskRequest, refit: Refit) -> HttpResponse:
    return _budget(request, refit, MoneyTermsForm(refit=refit, instance=refit))


def _budget(request: DeskRequest, refit: Refit, form: MoneyTermsForm) -> HttpResponse:
    books = read_books(refit)
    lines = budget_lines(books)
    due = dues(books, lines, dates_of(request.desk))
    all_of_it = total("All", lines)
    spare = contingency(books)
    context = {
        "refit": refit,
        "lines": lines,
        "vendors": by_vendor(lines),
        "total": all_of_it,
        "spare": spare,
        "limit": None
        if spare.set_aside is None
        else all_of_it.budget - spare.approved + spare.set_aside,
        "weeks": by_week(due, request.desk.today),
        "form": form,
    }
    return render(request, "desk/budget.html", context)


@require_POST
@manager_page()
def budget_terms(request: DeskRequest, refit: Refit) -> HttpResponse:
    form = MoneyTermsForm(request.POST, refit=refit, instance=refit)
    if form.save_facts(actor=actor_of(request), now=request.desk.now):
        settle_and_say(request, refit, "Saved.")
        return redirect("desk:budget", refit.slug)
    return _budget(request, refit, form)


@require_safe
@manager_page(only=True)
def budget_csv(request: DeskRequest, refit: Refit) -> HttpResponse:
    answer = HttpResponse(
        "\ufeff" + bookkeeping_csv(read_books(refit)), content_type="text/csv; charset=utf-8"
    )
    answer["Content-Disposition"] = f'attachment; filename="{refit.slug}-money.csv"'
    return answer


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def hours_log(request: DeskRequest, refit: Refit) -> HttpResponse:
    initial = {"worked_on": request.desk.today, "rate": refit.crew_rate}
    form = HoursForm(request.POST or None, refit=refit, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            log_hours(
                refit=refit, **form.cleaned_data, actor=actor_of(request), now=request.desk.now
            )
        except Refused as refused:
            form.add_error("worked_on", str(refused))
        else:
            messages.success(request, "The hours are noted.")
            return redirect("desk:budget", refit.slug)
    context = {"refit": refit, "form": form, "heading": "Note hours"}
    return render(request, "desk/once.html", context)


@require_safe
@manager_page(only=True)
def payments(request: DeskRequest, refit: Refit) -> HttpResponse:
    books = read_books(refit)
    due = dues(books, budget_lines(books), dates_of(request.desk))
    context = {
        "refit": refit,
        "dues": [(one, one.on is not None and one.on < request.desk.today) for one in due],
        "paid": list(reversed(books.payments)),
        "pay": PayForm(),
    }
    return render(request, "desk/payments.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def payment_add(request: DeskRequest, refit: Refit) -> HttpResponse:
    """Pay what is known to be due (``instalment`` in the form), or anything for a package."""
    pk = request.POST.get("instalment", "")
    form: PaymentForm | PayForm
    what: dict[str, Any] = {}
    if pk.isdecimal():
        part = get_object_or_404(
            Instalment.objects.select_related("order__vendor"), order__refit=refit, pk=pk
        )
        form = PayForm(request.POST)
        what = {"instalment": part, "amount": part.amount}
    else:
        initial = {"paid_on": request.desk.today}
        form = PaymentForm(request.POST or None, refit=refit, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            note_payment(
                refit=refit, **(form.cleaned_data | what), actor=actor_of(request),
                now=request.desk.now,
            )  # fmt: skip
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, "The payment is noted.")
            return redirect("desk:payments", refit.slug)
    if isinstance(form, PayForm):
        for errors in form.errors.values():
            for error in errors:
                messages.error(request, str(error))
        return redirect("desk:payments", refit.slug)
    context = {"refit": refit, "form": form, "heading": "Note a payment"}
    return render(request, "desk/once.html", context)


@require_POST
@manager_page()
def payment_back(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = get_object_or_404(Payment, refit=refit, pk=pk)
    take_back_payment(payment=row, actor=actor_of(request), now=request.desk.now)
    messages.success(request, "Taken back; the journal keeps it.")
    return redirect("desk:payments", refit.slug)


@dataclass(frozen=True)
class Wanted:
    """Goods with the days that follow from the plan."""

    goods: Goods
    needed_on: date | None
    order_by: date | None
    expected_on: date | None
    look: str
    said: str


def wanted_of(goods: Goods, planned: PlannedPackage | None, refit: Refit, today: date) -> Wanted:
    """When they are needed, by when to order them, and whether that works out."""
    needed = None if planned is None else refit.local(planned.start).date()
    order_by = None
    if needed is not None:
        order_by = order_by_day(goods, needed, refit)
    expected = goods.expected_on()
    if goods.is_there:
        look, said = "ok", "there"
    elif planned is not None and planned.cause_kind == "goods" and expected == needed:
        look, said = "late", "holds its package up"
    elif expected is not None and expected < today:
        look, said = "late", "should be there"
    elif expected is not None and needed is not None and expected > needed:
        look, said = "late", "comes too late"
    elif goods.ordered_on is not None:
        look, said = "going", "ordered"
    elif order_by is None:
        look, said = "still", "to be ordered"
    elif order_by < today:
        look, said = "late", "order at once"
    else:
        look, said = ("soon" if (order_by - today).days <= 7 else "still"), "to be ordered"
    return Wanted(goods, needed, order_by, expected, look, said)


@require_safe
@manager_page()
def goods(request: DeskRequest, refit: Refit) -> HttpResponse:
    planned = planned_of(request.desk)
    rows = [
        wanted_of(one, planned.get(one.package_id), refit, request.desk.today)
        for one in Goods.objects.filter(refit=refit).select_related("package")
    ]
    rows.sort(key=lambda row: (row.goods.is_there, row.order_by or date.max, row.goods.code))
    return render(request, "desk/goods.html", {"refit": refit, "rows": rows})


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(Role.CREW, only=True)
def goods_add(request: DeskRequest, refit: Refit) -> HttpResponse:
    initial = {"code": next_code(Goods, refit, "G"), "package": request.GET.get("package")}
    return edit_row(
        request,
        refit,
        form=GoodsForm(request.POST or None, refit=refit, initial=initial),
        template="desk/goods_edit.html",
        context={},
        what=lambda: "The goods are noted.",
        to=lambda: reverse("desk:goods", args=[refit.slug]),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(Role.CREW, only=True)
def goods_edit(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = get_object_or_404(Goods, refit=refit, pk=pk)
    return edit_row(
        request,
        refit,
        form=GoodsForm(request.POST or None, refit=refit, instance=row),
        template="desk/goods_edit.html",
        context={"goods": row},
        what=lambda: "Saved.",
        to=lambda: reverse("desk:goods", args=[refit.slug]),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def goods_remove(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    return remove_and_go(
        request,
        refit,
        row=get_object_or_404(Goods, refit=refit, pk=pk),
        back=reverse("desk:goods-edit", args=[refit.slug, pk]),
        done=reverse("desk:goods", args=[refit.slug]),
    )

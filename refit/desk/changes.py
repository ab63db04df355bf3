"""Change orders: made, announced with what they do, and the owner's word on them."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from refit.contracts.change_text import THE_LAW, change_text, say_days
from refit.contracts.models import ChangeOrder, ConsentWay
from refit.contracts.order_text import digest_of
from refit.contracts.services import (
    TextMoved,
    Word,
    ask_owner,
    decide_change,
    make_change,
    withdraw_change,
)
from refit.planning.prospects import announce, still_true
from refit.quality.models import Finding
from refit.work.models import Refit
from refit.work.services import Refused

from .acts import settle_and_say
from .forms_money import ChangeForm, WordForm
from .pages import DeskRequest, actor_of, manager_page


@require_safe
@manager_page(only=True)
def changes(request: DeskRequest, refit: Refit) -> HttpResponse:
    rows = list(
        ChangeOrder.objects.filter(refit=refit)
        .select_related("package", "finding", "consent")
        .order_by("-made_at", "-pk")
    )
    context = {
        "refit": refit,
        "open": [row for row in rows if row.is_open],
        "settled": [row for row in rows if not row.is_open],
    }
    return render(request, "desk/changes.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def change_add(request: DeskRequest, refit: Refit) -> HttpResponse:
    """``?finding=`` and ``?package=`` fill in what is known."""
    finding = _finding(refit, request.GET.get("finding", ""))
    form = ChangeForm(request.POST or None, refit=refit, initial=_initial(request, refit, finding))
    if request.method == "POST" and form.is_valid():
        try:
            row = make_change(
                refit=refit, **form.cleaned_data, finding=finding, actor=actor_of(request),
                now=request.desk.now,
            )  # fmt: skip
        except Refused as refused:
            form.add_error(None, str(refused))
        except ValidationError as wrong:
            form.add_error(None, " ".join(wrong.messages))
        else:
            return redirect("desk:change", refit.slug, row.pk)
    context = {"refit": refit, "form": form, "finding": finding}
    return render(request, "desk/change_add.html", context)


def _finding(refit: Refit, pk: str) -> Finding | None:
    return Finding.objects.filter(refit=refit, pk=pk).first() if pk.isdecimal() else None


def _initial(request: DeskRequest, refit: Refit, finding: Finding | None) -> dict[str, Any]:
    initial: dict[str, Any] = {}
    if finding is not None:
        initial = {
            "title": finding.title,
            "reason": finding.description or finding.title,
            "price": finding.price,
            "extra_minutes": finding.work_minutes,
            "decide_by": finding.decide_by,
            "package": finding.found_in_id,
            "price_basis": "our estimate",
        }
        made = refit.packages.filter(code=finding.code).first()
        if made is not None:
            initial["package"] = made.pk
    if (pk := request.GET.get("package", "")).isdecimal():
        initial["package"] = pk
    return initial


def change_of(refit: Refit, pk: int) -> ChangeOrder:
    rows = ChangeOrder.objects.select_related("package", "finding", "consent")
    row = get_object_or_404(rows, refit=refit, pk=pk)
    row.refit = refit
    return row


@require_safe
@manager_page(only=True)
def change(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = change_of(refit, pk)
    initial = {
        "name": refit.owner_name,
        "phone": refit.owner_phone,
        "at": request.desk.now.replace(second=0, microsecond=0),
    }
    return _show(request, refit, row, WordForm(initial=initial))


def _show(request: DeskRequest, refit: Refit, row: ChangeOrder, form: WordForm) -> HttpResponse:
    text = change_text(row)
    context = {
        "refit": refit,
        "change": row,
        "consent": getattr(row, "consent", None),
        "days": say_days(row.days),
        "text": text,
        "digest": digest_of(text),
        "form": form,
        "law": THE_LAW,
    }
    return render(request, "desk/change.html", context)


@require_POST
@manager_page()
def change_ask(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """Work out what it does and put it on the owner's page; again, with what it does by now."""
    row = change_of(refit, pk)
    figures, trouble = announce(row, now=request.desk.now)
    if figures is None:
        messages.error(request, f"It cannot be done like this. {trouble}")
        return redirect("desk:change", refit.slug, pk)
    try:
        ask_owner(change=row, announcement=figures, actor=actor_of(request), now=request.desk.now)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"{row.code} is on the owner's page: {say_days(figures.days)}.")
    return redirect("desk:change", refit.slug, pk)


@require_POST
@manager_page()
def change_word(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """Note what the owner said on the telephone, in person or in writing."""
    row, desk = change_of(refit, pk), request.desk
    form = WordForm(request.POST)
    if not form.is_valid():
        return _show(request, refit, row, form)
    typed = form.cleaned_data
    fresh = still_true(row, now=desk.now)
    if fresh is not None:
        ask_owner(change=row, announcement=fresh, actor=actor_of(request), now=desk.now)
        messages.warning(
            request, "What it does has changed since; these are the figures to agree to now."
        )
        return redirect("desk:change", refit.slug, pk)
    word = Word(
        way=ConsentWay(typed["way"]), name=typed["name"], phone=typed["phone"], at=typed["at"],
        note=typed["note"], noted_by=actor_of(request).name,
    )  # fmt: skip
    try:
        decide_change(
            change=row, is_yes=typed["is_yes"] == "yes", seen=request.POST.get("seen", ""),
            word=word, actor=actor_of(request), now=desk.now,
        )  # fmt: skip
    except TextMoved:
        messages.warning(request, "It reads otherwise by now. Look at it again.")
    except Refused as refused:
        form.add_error(None, str(refused))
        return _show(request, refit, row, form)
    else:
        settle_and_say(request, refit, f"The owner's word on {row.code} is noted.")
    return redirect("desk:change", refit.slug, pk)


@require_POST
@manager_page()
def change_withdraw(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = change_of(refit, pk)
    try:
        withdraw_change(change=row, actor=actor_of(request), now=request.desk.now)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"{row.code} is withdrawn.")
    return redirect("desk:change", refit.slug, pk)

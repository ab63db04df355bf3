"""Papers of a vendor: added, changed, removed; and what they say about the pieces it keeps."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from refit.work.models import Paper, Refit, Vendor
from refit.work.wording import say_near

from .acts import edit_row, remove_and_go
from .forms_papers import PaperForm
from .pages import DeskRequest, manager_page
from .states import State

ENDS_SOON = timedelta(days=30)
"""How long before its last day a paper is asked for anew (common practice, no source)."""


@dataclass(frozen=True)
class PaperLine:
    paper: Paper
    state: State


def paper_lines(papers: Iterable[Paper], today: date) -> list[PaperLine]:
    return [PaperLine(paper, _state(paper, today)) for paper in papers]


def _state(paper: Paper, today: date) -> State:
    if paper.valid_until is not None and paper.valid_until < today:
        return State(f"ended {say_near(paper.valid_until, today)}", "late", "")
    if paper.valid_from is not None and paper.valid_from > today:
        return State(f"begins {say_near(paper.valid_from, today)}", "still", "")
    if paper.valid_until is None:
        return State("no last day noted", "still", "")
    look = "soon" if paper.valid_until - today <= ENDS_SOON else "ok"
    word = f"ends {say_near(paper.valid_until, today)}" if look == "soon" else "valid"
    return State(word, look, "")


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def paper_add(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    vendor = get_object_or_404(Vendor, refit=refit, pk=pk)
    form = PaperForm(request.POST or None, refit=refit, vendor=vendor)
    return edit_row(
        request,
        refit,
        form=form,
        template="desk/paper_edit.html",
        context={"vendor": vendor},
        what=lambda: "The paper is noted.",
        to=lambda: reverse("desk:vendor", args=[refit.slug, vendor.pk]),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def paper_edit(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = _paper_of(refit, pk)
    return edit_row(
        request,
        refit,
        form=PaperForm(request.POST or None, refit=refit, vendor=row.vendor, instance=row),
        template="desk/paper_edit.html",
        context={"vendor": row.vendor, "paper": row},
        what=lambda: "Saved.",
        to=lambda: reverse("desk:vendor", args=[refit.slug, row.vendor_id]),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def paper_remove(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = _paper_of(refit, pk)
    vendor_page = reverse("desk:vendor", args=[refit.slug, row.vendor_id])
    return remove_and_go(request, refit, row=row, back=vendor_page, done=vendor_page)


def _paper_of(refit: Refit, pk: int) -> Paper:
    return get_object_or_404(Paper.objects.select_related("vendor"), refit=refit, pk=pk)

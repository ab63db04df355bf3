"""Adding, editing and removing every kind of row about quality: the same three pages for each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Model
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from refit.accounts.models import Role
from refit.quality import models as rows
from refit.work.models import Refit, Surface

from . import forms_quality as forms
from .acts import edit_row, remove_and_go
from .forms import FactsForm
from .pages import DeskRequest, manager_page


@dataclass(frozen=True)
class Kind:
    """``page``: the page it stands on; ``now`` and ``who``: facts filled in for a new one."""

    word: str
    model: type[Model]
    form: type[FactsForm]
    page: str
    now: str = ""
    who: str = ""
    code: str = ""
    more: dict[str, Callable[[Any], str]] = field(default_factory=dict)


KINDS: dict[str, Kind] = {
    "criterion": Kind("criterion", rows.Criterion, forms.CriterionForm, "readings"),
    "scale": Kind("scale for judging by eye", rows.VisualScale, forms.ScaleForm, "readings"),
    "reading": Kind(
        "reading", rows.Reading, forms.ReadingForm, "readings", now="read_at", who="read_by"
    ),
    "climate": Kind(
        "climate entry", rows.ClimateEntry, forms.ClimateForm, "climate", now="read_at",
        who="read_by",
    ),
    "punch": Kind(
        "line of the punch list", rows.PunchItem, forms.PunchForm, "punch-list", now="found_at",
        code="PL",
    ),
    "survey": Kind(
        "line of the survey", rows.SurveyItem, forms.SurveyForm, "survey", now="surveyed_at",
        who="surveyed_by", code="S",
    ),
    "surface": Kind("surface", Surface, forms.SurfaceForm, "surfaces"),
    "batch": Kind("material with its batch", rows.BatchUse, forms.BatchForm, "close-out"),
    "warranty": Kind("warranty", rows.Warranty, forms.WarrantyForm, "close-out"),
    "fitted": Kind("wire or part", rows.FittedItem, forms.FittedForm, "close-out"),
}  # fmt: skip
CREWS = (Role.CREW,)
"""Crew reads instruments, surveys and keeps the lists, like the manager."""


def _kind(name: str) -> Kind:
    if name not in KINDS:
        raise Http404
    return KINDS[name]


def _code(refit: Refit, kind: Kind) -> str:
    taken = set(kind.model._default_manager.filter(refit=refit).values_list("code", flat=True))
    number = 1
    while f"{kind.code}{number}" in taken:
        number += 1
    return f"{kind.code}{number}"


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(*CREWS, only=True)
def row_add(request: DeskRequest, refit: Refit, kind: str) -> HttpResponse:
    """A new row; what stands in the query fills in fields of the same name."""
    of = _kind(kind)
    initial: dict[str, Any] = {
        name: value for name, value in request.GET.items() if name in of.form.base_fields
    }
    if of.now:
        initial.setdefault(of.now, request.desk.now.replace(second=0, microsecond=0))
    if of.who:
        initial.setdefault(of.who, request.user.name)
    if of.code and request.method != "POST":
        initial.setdefault("code", _code(refit, of))
    return _edit(request, refit, of, of.form(request.POST or None, refit=refit, initial=initial))


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(*CREWS, only=True)
def row_edit(request: DeskRequest, refit: Refit, kind: str, pk: int) -> HttpResponse:
    of = _kind(kind)
    row = get_object_or_404(of.model, refit=refit, pk=pk)
    form = of.form(request.POST or None, refit=refit, instance=row)
    return _edit(request, refit, of, form, row=row, kind_name=kind)


def _edit(
    request: DeskRequest, refit: Refit, of: Kind, form: FactsForm, **more: Any
) -> HttpResponse:
    back = reverse(f"desk:{of.page}", args=[refit.slug])
    return edit_row(
        request, refit, form=form, template="desk/quality_row.html",
        context={"kind": of, "back": back} | more,
        what=lambda: f"{form.instance} is kept.", to=lambda: back,
    )  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def row_remove(request: DeskRequest, refit: Refit, kind: str, pk: int) -> HttpResponse:
    of = _kind(kind)
    row = get_object_or_404(of.model, refit=refit, pk=pk)
    back = reverse(f"desk:{of.page}", args=[refit.slug])
    return remove_and_go(request, refit, row=row, back=back, done=back)

"""Close-out: the as-refit record as a page, as one PDF and as one folder."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from refit.work.models import Refit

from .as_refit import Record, folder, read_record, sheet
from .pages import DeskRequest, manager_page


def _record(request: DeskRequest, refit: Refit) -> Record:
    return read_record(refit, now=request.desk.now)


@require_safe
@manager_page()
def close_out(request: DeskRequest, refit: Refit) -> HttpResponse:
    return render(
        request,
        "desk/close_out.html",
        {"refit": refit, "record": read_record(refit, now=request.desk.now, whole=False)},
    )


@require_safe
@manager_page(only=True)
def as_refit_pdf(request: DeskRequest, refit: Refit) -> HttpResponse:
    content = sheet(_record(request, refit))
    return _file(content, "application/pdf", f"{slugify(refit.boat.name)}-as-refit.pdf")


@require_safe
@manager_page(only=True)
def as_refit_folder(request: DeskRequest, refit: Refit) -> HttpResponse:
    content = folder(_record(request, refit))
    return _file(content, "application/zip", f"{slugify(refit.boat.name)}-as-refit.zip")


def _file(content: bytes, kind: str, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type=kind)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["Cache-Control"] = "private, no-store"
    return response

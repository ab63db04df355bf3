"""Pages that take a refit in and give it out: sheets, templates, refit documents.

Sheets go in two steps: uploading reads them and shows what they would do, storing nothing of the
refit; a second press stores all of it. Works without JavaScript.
"""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from refit.accounts.models import User
from refit.interchange.changes import import_sheets, preview_sheets, say_changes
from refit.interchange.columns import SHEETS
from refit.interchange.document import DocumentError, read_document, write_document
from refit.interchange.export import export_refit
from refit.interchange.merging import habits_of
from refit.interchange.models import Upload
from refit.interchange.reading import (
    MOST_BYTES,
    SheetError,
    SheetProblem,
    Tables,
    read_files,
)
from refit.interchange.store import import_document as store_document
from refit.interchange.store import what_it_holds
from refit.interchange.writing import csv_files, csv_template, workbook, workbook_template
from refit.planning.services import settle
from refit.work.models import Actor, Refit

from .acts import settle_and_say
from .pages import DeskRequest, actor_of, manager_page

MOST_FILES = 12
SHOWN = 200
"""So many problems are listed; the rest are counted."""

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def import_page(request: DeskRequest, refit: Refit) -> HttpResponse:
    """Upload sheets. What can be read waits for a yes on the next page."""
    problems: list[SheetProblem] = []
    if request.method == "POST":
        try:
            tables = read_files(_uploaded(request))
            merged = preview_sheets(refit=refit, tables=tables, now=request.desk.now)
            problems = merged.problems
            if not problems:
                return redirect("desk:import-preview", refit.slug, _keep(request, refit, tables).pk)
        except SheetError as error:
            problems = error.problems
    return _show_upload(request, refit, problems)


def _show_upload(request: DeskRequest, refit: Refit, problems: list[SheetProblem]) -> HttpResponse:
    context = {
        "refit": refit,
        "problems": problems[:SHOWN],
        "count": len(problems),
        "more": len(problems) - SHOWN,
        "sheets": SHEETS,
    }
    return render(request, "desk/import.html", context)


def _uploaded(request: HttpRequest) -> list[tuple[str, bytes]]:
    files = request.FILES.getlist("files")
    if not files:
        raise SheetError([SheetProblem("files", "Choose at least one file.")])
    if len(files) > MOST_FILES:
        raise SheetError([SheetProblem("files", f"Choose at most {MOST_FILES} files.")])
    large = [file for file in files if (file.size or 0) > MOST_BYTES]
    if large:
        raise SheetError(
            [SheetProblem(file.name or "file", "The file is larger than 5 MB.") for file in large]
        )
    return [(file.name or "file", file.read()) for file in files]


@transaction.atomic
def _keep(request: DeskRequest, refit: Refit, tables: Tables) -> Upload:
    Upload.objects.replace_for(request.user, refit, request.desk.now)
    names = ", ".join(file.name or "" for file in request.FILES.getlist("files"))
    return Upload.objects.create(
        refit=refit,
        user=request.user,
        at=request.desk.now,
        names=names[:240],
        tables=tables.as_json(),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def import_preview(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """What the uploaded sheets would do to the refit as it is now; POST does it."""
    upload = get_object_or_404(Upload, pk=pk, refit=refit, user=request.user)
    tables = Tables.from_json(upload.tables)
    if request.method == "POST":
        try:
            with transaction.atomic():
                entry = import_sheets(
                    refit=refit, tables=tables, actor=actor_of(request), now=request.desk.now
                )
                upload.delete()
        except SheetError as error:
            # Somebody changed the refit since the preview.
            return _show_upload(request, refit, error.problems)
        if entry is None:
            messages.success(request, "The refit says all of this already; nothing was stored.")
        else:
            settle_and_say(request, refit, f"Imported {entry.subject_name}.")
        return redirect("desk:import", refit.slug)
    merged = preview_sheets(refit=refit, tables=tables, now=request.desk.now)
    if merged.problems:
        return _show_upload(request, refit, merged.problems)
    context = {
        "refit": refit,
        "upload": upload,
        "merged": merged,
        "said": say_changes(merged.changes),
        "unread": tables.unread,
    }
    return render(request, "desk/import_preview.html", context)


@require_safe
@manager_page(only=True)
def import_template(request: DeskRequest, refit: Refit, form: str) -> HttpResponse:
    """The sheets without rows, as a workbook or as CSV files."""
    habits = habits_of(export_refit(refit))
    if form == "xlsx":
        return _download(workbook_template(habits), XLSX, "refit-sheets.xlsx")
    if form == "zip":
        return _download(csv_template(habits), "application/zip", "refit-sheets.zip")
    raise Http404


@require_safe
@manager_page(only=True)
def export(request: DeskRequest, refit: Refit, form: str) -> HttpResponse:
    """The refit as a document (JSON), a workbook or CSV files."""
    document = export_refit(refit)
    name = f"{refit.slug}-{request.desk.today:%Y-%m-%d}"
    if form == "json":
        text = write_document(document)
        return _download(text.encode(), "application/json", f"{name}.json")
    if form == "xlsx":
        return _download(workbook(document), XLSX, f"{name}.xlsx")
    if form == "zip":
        return _download(csv_files(document), "application/zip", f"{name}.zip")
    raise Http404


def _download(content: bytes, kind: str, name: str) -> HttpResponse:
    return HttpResponse(
        content,
        content_type=kind,
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def import_document(request: HttpRequest) -> HttpResponse:
    """A new refit from a document, uploaded or pasted; who brings it becomes its manager."""
    assert isinstance(request.user, User)
    problems: list[str] = []
    text = ""
    if request.method == "POST":
        text = request.POST.get("text", "")
        try:
            document = read_document(_document_source(request, text))
        except DocumentError as error:
            problems = error.problems
        else:
            now = timezone.now()
            actor = Actor(str(request.user)[:120], side="manager", user_id=request.user.pk)
            refit = store_document(document, actor=actor, now=now, manager=request.user)
            settle(refit=refit, now=now)
            messages.success(request, f"{refit.name} is here: {what_it_holds(document)}.")
            return redirect("desk:today", refit.slug)
    context = {
        "problems": problems[:SHOWN],
        "count": len(problems),
        "more": len(problems) - SHOWN,
        "text": text,
    }
    return render(request, "desk/import_document.html", context)


def _document_source(request: HttpRequest, text: str) -> bytes | str:
    file = request.FILES.get("file")
    if file is None and not text.strip():
        raise DocumentError(["Choose a file, or paste its text."])
    if file is None:
        return text
    if (file.size or 0) > MOST_BYTES:
        raise DocumentError([f"{file.name} is larger than 5 MB."])
    content: bytes = file.read()
    return content

"""The journal: who changed what and when, and taking one entry back."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from refit.custody.models import Handoff
from refit.quality.models import Finding
from refit.work.models import JournalEntry, Refit
from refit.work.services import Refused, can_undo, take_back_application, undo_entry
from refit.work.services.applying import APPLIED
from refit.work.services.edits import KINDS

from .acts import settle_and_say
from .pages import DeskRequest, actor_of, manager_page
from .said import FactWords

A_PAGE = 60


@dataclass(frozen=True)
class Line:
    """One entry: its changes as (what, before, after)."""

    entry: JournalEntry
    changes: list[tuple[str, str, str]]
    can_undo: bool


def lines_of(entries: list[JournalEntry], words: FactWords) -> list[Line]:
    models = KINDS | {"handoff": Handoff, "finding": Finding}
    lines = []
    for entry in entries:
        model = models.get(entry.subject_kind)
        names = [*dict.fromkeys([*entry.before, *entry.after])]
        changes = []
        if model is not None and entry.verb not in ("added", "removed"):
            for name in names:
                value = entry.after.get(name, entry.before.get(name))
                if not words.can_say(model, name, value):
                    continue
                label = words.label(model, name)
                before = words.say(model, name, entry.before.get(name))
                after = words.say(model, name, entry.after.get(name))
                if before != after:
                    changes.append((label, before, after))
        lines.append(Line(entry, changes, can_undo(entry) or entry.verb == APPLIED))
    return lines


@require_safe
@manager_page()
def journal(request: DeskRequest, refit: Refit) -> HttpResponse:
    pages = Paginator(JournalEntry.objects.filter(refit=refit).order_by("-at", "-id"), A_PAGE)
    page = pages.get_page(request.GET.get("page"))
    context = {
        "refit": refit,
        "page": page,
        "lines": lines_of(list(page.object_list), FactWords(refit)),
    }
    return render(request, "desk/journal.html", context)


@require_POST
@manager_page()
def undo(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    entry = get_object_or_404(JournalEntry, refit=refit, pk=pk)
    try:
        if entry.verb == APPLIED:
            take_back_application(entry=entry, actor=actor_of(request), now=request.desk.now)
        else:
            undo_entry(entry=entry, actor=actor_of(request), now=request.desk.now)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        settle_and_say(request, refit, f"Taken back: {entry.subject_name}, {entry.verb}.")
    if entry.subject_kind == "workpackage" and request.POST.get("next") == "package":
        return redirect("desk:package", refit.slug, entry.subject_id)
    return redirect(reverse("desk:journal", args=[refit.slug]))

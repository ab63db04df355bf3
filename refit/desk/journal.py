"""The journal: who changed what and when, and taking one entry back."""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from datetime import UTC
from urllib.parse import urlencode

from django.apps import apps
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from refit.custody.models import Handoff
from refit.interchange.reading import guarded
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


@dataclass(frozen=True)
class Chosen:
    """Which entries are wanted; empty: all."""

    text: str
    who: str
    kind: str

    @classmethod
    def of(cls, asked: QueryDict) -> Chosen:
        return cls(
            *(asked.get(name, "").replace("\0", "")[:120] for name in ("text", "who", "kind"))
        )

    @property
    def address(self) -> str:
        return urlencode({name: value for name, value in vars(self).items() if value})

    def entries(self, refit: Refit) -> QuerySet[JournalEntry]:
        rows = JournalEntry.objects.filter(refit=refit).order_by("-at", "-id")
        if self.text:
            rows = rows.filter(
                Q(subject_name__icontains=self.text)
                | Q(verb__icontains=self.text)
                | Q(note__icontains=self.text)
            )
        if self.who:
            rows = rows.filter(actor_name=self.who)
        if self.kind:
            rows = rows.filter(subject_kind=self.kind)
        return rows


@require_safe
@manager_page()
def journal(request: DeskRequest, refit: Refit) -> HttpResponse:
    chosen = Chosen.of(request.GET)
    page = Paginator(chosen.entries(refit), A_PAGE).get_page(request.GET.get("page"))
    all_entries = JournalEntry.objects.filter(refit=refit).order_by()
    kinds = all_entries.exclude(subject_kind="").values_list("subject_kind", flat=True).distinct()
    context = {
        "refit": refit,
        "page": page,
        "lines": lines_of(list(page.object_list), FactWords(refit)),
        "chosen": chosen,
        "people": sorted(all_entries.values_list("actor_name", flat=True).distinct()),
        "kinds": sorted(((kind, kind_in_words(kind)) for kind in kinds), key=lambda one: one[1]),
    }
    return render(request, "desk/journal.html", context)


def kind_in_words(kind: str) -> str:
    """“work package” for “workpackage”."""
    for model in apps.get_models():
        if model._meta.model_name == kind:
            return str(model._meta.verbose_name)
    return kind


@require_safe
@manager_page()
def journal_file(request: DeskRequest, refit: Refit) -> HttpResponse:
    """The entries chosen, all of them, as CSV (RFC 4180): moments in UTC, facts as JSON."""
    answer = HttpResponse(content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{refit.slug}-journal.csv"'
    answer.write("\ufeff")
    sheet = csv.writer(answer)
    sheet.writerow(
        ["at", "who", "side", "did", "kind", "number", "what", "before", "after", "note"]
    )
    for entry in Chosen.of(request.GET).entries(refit).iterator():
        cells = (
            entry.at.astimezone(UTC).isoformat(timespec="seconds"),
            entry.actor_name,
            entry.actor_side,
            entry.verb,
            kind_in_words(entry.subject_kind),
            str(entry.subject_id or ""),
            entry.subject_name,
            json.dumps(entry.before, ensure_ascii=False) if entry.before else "",
            json.dumps(entry.after, ensure_ascii=False) if entry.after else "",
            entry.note,
        )
        sheet.writerow([guarded(cell) for cell in cells])
    return answer


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

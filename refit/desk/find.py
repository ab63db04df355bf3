"""The search box: packages, pieces, vendors, places, people and findings by any of their words.

Every word that is typed must be found somewhere in the row. A kind of thing that is to be found
is one `Kind` in `KINDS`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import Model, Q, QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from refit.work.models import Refit

from .pages import DeskRequest, manager_page

MOST = 8
"""Of each kind on the page; more are counted."""


@dataclass(frozen=True)
class Hit:
    name: str
    about: str
    address: str


@dataclass(frozen=True)
class Group:
    """``more``: how many further ones there are."""

    title: str
    hits: list[Hit]
    more: int


@dataclass(frozen=True)
class Kind:
    title: str
    rows: Callable[[Refit], QuerySet[Any]]
    fields: tuple[str, ...]
    say: Callable[[Any], tuple[str, str]]
    page: str
    of_one: bool = True
    """Whether the page is of one row; else it is the list that has it."""

    def address(self, refit: Refit, row: Model) -> str:
        return reverse(f"desk:{self.page}", args=[refit.slug, *([row.pk] if self.of_one else [])])

    def find(self, refit: Refit, words: list[str]) -> Group:
        wanted = Q()
        for word in words:
            anywhere = Q()
            for name in self.fields:
                anywhere |= Q(**{f"{name}__icontains": word})
            wanted &= anywhere
        rows: list[Model] = list(self.rows(refit).filter(wanted).distinct()[: MOST * 4 + 1])
        hits = [Hit(*self.say(row), self.address(refit, row)) for row in rows[:MOST]]
        return Group(self.title, hits, len(rows) - len(hits))


KINDS: tuple[Kind, ...] = (
    Kind(
        "Packages",
        lambda refit: refit.packages.select_related("vendor", "place"),
        ("code", "title", "scope", "vendor__name", "place__name"),
        lambda row: (str(row), f"{row.vendor or 'our crew'}, {row.place}"),
        "package",
    ),
    Kind(
        "Pieces",
        lambda refit: refit.pieces.select_related("place"),
        ("tag", "name", "place__name"),
        lambda row: (f"{row.tag} {row.name}", str(row.place or "on the boat or on the road")),
        "piece",
    ),
    Kind(
        "Vendors",
        lambda refit: refit.vendors.all(),
        ("name", "trade", "contact", "phone", "email"),
        lambda row: (row.name, ", ".join(filter(None, (row.trade, row.contact, row.phone)))),
        "vendor",
    ),
    Kind(
        "Places",
        lambda refit: refit.places.select_related("vendor"),
        ("name", "address", "vendor__name"),
        lambda row: (row.name, row.address),
        "places",
        of_one=False,
    ),
    Kind(
        "Crew",
        lambda refit: refit.crew.all(),
        ("name", "skills", "phone", "email"),
        lambda row: (row.name, ", ".join(filter(None, (row.skills, row.phone)))),
        "crew",
        of_one=False,
    ),
    Kind(
        "Findings",
        lambda refit: refit.findings.all(),
        ("code", "title", "description"),
        lambda row: (str(row), row.get_decision_display()),
        "finding",
    ),
)


@require_safe
@manager_page()
def find(request: DeskRequest, refit: Refit) -> HttpResponse:
    """A page of what was found; a single hit is opened at once when the form was sent."""
    typed = " ".join(request.GET.get("q", "").split())[:100]
    words = typed.split()
    groups = [kind.find(refit, words) for kind in KINDS] if words else []
    found = [group for group in groups if group.hits]
    hits = [hit for group in found for hit in group.hits]
    alone = bool(request.headers.get("HX-Request"))
    if len(hits) == 1 and not alone:
        return redirect(hits[0].address)
    context = {"refit": refit, "typed": typed, "groups": found}
    return render(request, "desk/_found.html" if alone else "desk/find.html", context)

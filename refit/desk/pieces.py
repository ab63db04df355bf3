"""Pieces: who has what, since when, due back when, where next; one piece with its custody."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from refit.custody.chain import carried_by, chain
from refit.custody.cover import gaps, stays
from refit.custody.models import Handoff, HandoffState, Picture
from refit.planning.models import PlannedPackage
from refit.quality.models import Finding
from refit.work.models import Piece, PieceUse, Refit

from .acts import edit_row, remove_and_go
from .forms_pieces import PieceForm
from .packages import planned_of
from .pages import DeskRequest, manager_page
from .states import State, state_of


@dataclass(frozen=True)
class Holding:
    """One piece with where it is, its next move and how that stands."""

    piece: Piece
    custodian: str
    next: Handoff | None
    due: datetime | None
    state: State | None


@dataclass
class Holder:
    """A heading of the list: a place, the boat, or the road."""

    title: str
    note: str
    rows: list[Holding]
    rank: int


def due_of(handoff: Handoff) -> datetime | None:
    """When it is to be ready at its origin: last promised, else agreed."""
    return handoff.promised_at or handoff.due_at


def hold(piece: Piece, following: Handoff | None, refit: Refit, now: datetime) -> Holding:
    """Who has the piece and how its next move stands. ``following``: its first open handoff."""
    state: State | None = None
    due = None
    custodian = "our crew"
    if following is not None and following.state == HandoffState.UNDER_WAY:
        custodian = carried_by(following)
        state = State("on the road", "going", "")
    elif piece.place is not None and piece.place.vendor is not None:
        custodian = piece.place.vendor.name
        if following is not None:
            due = due_of(following)
    if following is not None and following.state == HandoffState.READY:
        state = State("ready to collect", "soon", "")
    elif due is not None:
        days = (refit.local(due).date() - refit.today(now)).days
        if due < now:
            state = State("overdue", "late", "")
        elif days <= 2:
            state = State("due soon", "soon", "")
    return Holding(piece, custodian, following, due, state)


def first_handoffs(refit: Refit) -> dict[int, Handoff]:
    """The next open handoff of each piece. One query."""
    return first_of(Handoff.objects.open().filter(refit=refit).with_names())


def first_of(handoffs: Iterable[Handoff]) -> dict[int, Handoff]:
    """The next of these open handoffs for each piece."""
    following: dict[int, Handoff] = {}
    for handoff in handoffs:
        known = following.get(handoff.piece_id)
        if known is None or _order(handoff) < _order(known):
            following[handoff.piece_id] = handoff
    return following


def _order(handoff: Handoff) -> tuple[bool, bool, Any, int]:
    moment = handoff.depart_at
    return (
        handoff.state != HandoffState.UNDER_WAY,
        moment is None,
        moment and moment.timestamp(),
        handoff.pk,
    )


@require_safe
@manager_page()
def pieces(request: DeskRequest, refit: Refit) -> HttpResponse:
    rows = list(refit.pieces.select_related("place__vendor", "returns_to"))
    following = first_handoffs(refit)
    holdings = [hold(piece, following.get(piece.pk), refit, request.desk.now) for piece in rows]
    context = {"refit": refit, "holders": _holders(holdings), "count": len(rows)}
    return render(request, "desk/pieces.html", context)


def _holders(holdings: list[Holding]) -> list[Holder]:
    """Vendors' shops first (what is out must come back), then the road, home, the boat."""
    holders: dict[str, Holder] = {}
    for row in holdings:
        piece = row.piece
        if row.state is not None and row.state.word == "on the road":
            key, title, note, rank = "road", "On the road", "", 1
        elif piece.fitted:
            key, title, note, rank = "boat", "On the boat", "", 3
        elif piece.place is None:
            key, title, note, rank = "lost", "Nobody has said where", "", 4
        else:
            vendor = piece.place.vendor
            key, title = f"place {piece.place_id}", piece.place.name
            note = f"{vendor.name} has it" if vendor and vendor.name != title else ""
            rank = 0 if vendor else 2
        holders.setdefault(key, Holder(title, note, [], rank)).rows.append(row)
    for holder in holders.values():
        holder.rows.sort(key=lambda r: (r.due is None, r.due, r.piece.tag))
    return sorted(holders.values(), key=lambda holder: (holder.rank, holder.title))


def piece_of(refit: Refit, pk: int) -> Piece:
    """One piece of the refit, or 404."""
    return get_object_or_404(
        Piece.objects.select_related("place__vendor", "returns_to"), refit=refit, pk=pk
    )


@dataclass(frozen=True)
class Job:
    """A package done on the piece."""

    use: PieceUse
    planned: PlannedPackage | None
    state: State


def piece_context(request: DeskRequest, refit: Refit, piece: Piece) -> dict[str, Any]:
    desk = request.desk
    handoffs = list(Handoff.objects.filter(piece=piece).with_names().prefetch_related("pictures"))
    ahead = sorted(
        (h for h in handoffs if h.received_at is None and not h.cancelled_at), key=_order
    )
    past = sorted(
        (h for h in handoffs if h.received_at or h.cancelled_at),
        key=lambda h: h.received_at or h.cancelled_at or desk.now,
        reverse=True,
    )
    kept = stays(ahead, refit=refit, today=desk.today, pieces=[piece])
    papers = list(refit.papers.filter(vendor__in=[stay.vendor for stay in kept]))
    planned = planned_of(desk)
    uses = PieceUse.objects.filter(piece=piece).select_related("package__vendor", "package__place")
    jobs = [
        Job(
            use, dates := planned.get(use.package_id), state_of(use.package, dates, refit, desk.now)
        )
        for use in uses
    ]
    jobs.sort(key=lambda job: (job.planned is None, job.planned and job.planned.start))
    return {
        "refit": refit,
        "piece": piece,
        "holding": hold(piece, ahead[0] if ahead else None, refit, desk.now),
        "gaps": gaps(kept, papers, today=desk.today),
        "ahead": ahead,
        "past": past,
        "chain": chain(piece, handoffs),
        "jobs": jobs,
        "pictures": list(Picture.objects.filter(piece=piece, handoff=None)),
        "findings": list(Finding.objects.filter(piece=piece)),
    }


@require_safe
@manager_page()
def piece(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = piece_of(refit, pk)
    return render(request, "desk/piece.html", piece_context(request, refit, row))


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def piece_add(request: DeskRequest, refit: Refit) -> HttpResponse:
    form = PieceForm(request.POST or None, refit=refit)
    return edit_row(
        request,
        refit,
        form=form,
        template="desk/piece_edit.html",
        context={},
        what=lambda: f"{form.instance} is added.",
        to=lambda: reverse("desk:piece", args=[refit.slug, form.instance.pk]),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def piece_edit(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = piece_of(refit, pk)
    return edit_row(
        request,
        refit,
        form=PieceForm(request.POST or None, refit=refit, instance=row),
        template="desk/piece_edit.html",
        context={"piece": row},
        what=lambda: "Saved.",
        to=lambda: reverse("desk:piece", args=[refit.slug, pk]),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def piece_remove(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    return remove_and_go(
        request,
        refit,
        row=piece_of(refit, pk),
        back=reverse("desk:piece", args=[refit.slug, pk]),
        done=reverse("desk:pieces", args=[refit.slug]),
    )

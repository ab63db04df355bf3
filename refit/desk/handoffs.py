"""Acts on a handoff: ready, sent, received, promised, agreed, cancelled; one planned by hand."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from refit.accounts.models import Role
from refit.custody import services as custody
from refit.custody.chain import say_to_confirm
from refit.custody.cover import gaps, say_missing, stays
from refit.custody.models import Handoff, HandoffState
from refit.custody.pictures import NotAPicture
from refit.custody.transitions import Act, IllegalMove, allowed
from refit.work.models import Refit

from .acts import settle_and_say
from .forms_pieces import AgreeForm, CancelForm, CountForm, MoveForm, PromiseForm
from .pages import DeskRequest, actor_of, manager_page
from .pieces import piece_of


def handoff_of(refit: Refit, pk: int) -> Handoff:
    """One handoff of the refit, or 404."""
    return get_object_or_404(
        Handoff.objects.with_names().prefetch_related("pictures"), refit=refit, pk=pk
    )


def _cover(refit: Refit, handoff: Handoff, today: date) -> dict[str, Any]:
    """What the papers of those who keep the piece say, as far as this handoff is not over."""
    if handoff.state in (HandoffState.RECEIVED, HandoffState.CANCELLED):
        return {}
    ahead = list(Handoff.objects.open().filter(piece_id=handoff.piece_id).with_names())
    ends = {handoff.origin.vendor_id, handoff.destination.vendor_id} - {None}
    kept = [s for s in stays(ahead, refit=refit, today=today) if s.vendor.pk in ends]
    papers = list(refit.papers.filter(vendor__in=ends))
    keepers = {stay.vendor.pk: stay for stay in kept}
    missing = [said for stay in keepers.values() if (said := say_missing(stay, papers))]
    return {"gaps": gaps(kept, papers, today=today), "missing_papers": missing}


def _context(refit: Refit, handoff: Handoff, **forms: Any) -> dict[str, Any]:
    """The page of a handoff: a form for each act that its state allows."""
    today = timezone.localdate()
    return {
        "refit": refit,
        "handoff": handoff,
        "to_confirm": say_to_confirm(handoff),
        "may": {act.name.lower(): allowed(act, handoff.state) for act in Act},
        "send_form": CountForm(auto_id="send_%s"),
        "receive_form": CountForm(auto_id="receive_%s"),
        "promise_form": PromiseForm(auto_id="promise_%s"),
        "agree_form": AgreeForm.of(handoff),
        "cancel_form": CancelForm(auto_id="cancel_%s"),
        **_cover(refit, handoff, today),
    } | forms


@require_safe
@manager_page()
def handoff(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    return render(request, "desk/handoff.html", _context(refit, handoff_of(refit, pk)))


def _act(
    request: DeskRequest,
    refit: Refit,
    row: Handoff,
    *,
    do: Callable[[dict[str, Any]], object],
    what: str,
    form: tuple[str, Form] | None = None,
) -> HttpResponse:
    """Do it and go back to where it was asked for, or show at the form why not."""
    name, sent = form or ("", None)
    if sent is not None and not sent.is_valid():
        return render(request, "desk/handoff.html", _context(refit, row, **{name: sent}))
    back = reverse("desk:handoff", args=[refit.slug, row.pk])
    if request.POST.get("next") == "today":
        back = reverse("desk:today", args=[refit.slug])
    try:
        do(sent.cleaned_data if sent is not None else {})
    except NotAPicture as error:
        assert sent is not None
        sent.add_error("picture", str(error))
        return render(request, "desk/handoff.html", _context(refit, row, **{name: sent}))
    except IllegalMove as error:
        messages.error(request, str(error))
        return redirect(back)
    settle_and_say(request, refit, what)
    return redirect(back)


def _counted(request: DeskRequest, data: dict[str, Any]) -> dict[str, Any]:
    return {
        "actor": actor_of(request),
        "now": request.desk.now,
        "condition": data["condition"],
        "parts": data["parts"],
        "pictures": data["picture"],
    }


@require_POST
@manager_page(Role.CREW)
def handoff_send(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = handoff_of(refit, pk)
    form = CountForm(request.POST, request.FILES, auto_id="send_%s")
    return _act(
        request,
        refit,
        row,
        do=lambda data: custody.send(handoff=row, **_counted(request, data)),
        what=f"{row.piece.name} is on its way to {row.destination}.",
        form=("send_form", form),
    )


@require_POST
@manager_page(Role.CREW)
def handoff_receive(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = handoff_of(refit, pk)
    form = CountForm(request.POST, request.FILES, auto_id="receive_%s")
    return _act(
        request,
        refit,
        row,
        do=lambda data: custody.receive(handoff=row, **_counted(request, data)),
        what=f"{row.piece.name} is at {row.destination}.",
        form=("receive_form", form),
    )


@require_POST
@manager_page(Role.CREW)
def handoff_ready(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = handoff_of(refit, pk)
    return _act(
        request,
        refit,
        row,
        do=lambda _: custody.say_ready(handoff=row, actor=actor_of(request), now=request.desk.now),
        what=f"{row.piece.name} is ready to collect.",
    )


@require_POST
@manager_page(Role.CREW)
def handoff_not_ready(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = handoff_of(refit, pk)
    return _act(
        request,
        refit,
        row,
        do=lambda _: custody.take_back_ready(
            handoff=row, actor=actor_of(request), now=request.desk.now
        ),
        what=f"{row.piece.name} is not ready after all.",
    )


@require_POST
@manager_page(Role.CREW)
def handoff_promise(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = handoff_of(refit, pk)
    return _act(
        request,
        refit,
        row,
        do=lambda data: custody.promise(
            handoff=row,
            at=data["at"],
            note=data["note"],
            actor=actor_of(request),
            now=request.desk.now,
        ),
        what="The promised date is noted.",
        form=("promise_form", PromiseForm(request.POST, auto_id="promise_%s")),
    )


@require_POST
@manager_page()
def handoff_agree(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = handoff_of(refit, pk)
    return _act(
        request,
        refit,
        row,
        do=lambda data: custody.agree(
            handoff=row,
            due_at=data["due_at"],
            carrier=data["carrier"],
            actor=actor_of(request),
            now=request.desk.now,
        ),
        what="What was agreed is noted.",
        form=("agree_form", AgreeForm(request.POST, auto_id="agree_%s")),
    )


@require_POST
@manager_page()
def handoff_cancel(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = handoff_of(refit, pk)
    return _act(
        request,
        refit,
        row,
        do=lambda data: custody.cancel(
            handoff=row, actor=actor_of(request), now=request.desk.now, note=data["note"]
        ),
        what="The handoff is cancelled.",
        form=("cancel_form", CancelForm(request.POST, auto_id="cancel_%s")),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def handoff_add(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """A handoff of one piece from where it is, by hand."""
    piece = piece_of(refit, pk)
    form = MoveForm(request.POST or None, refit=refit, piece=piece)
    if piece.place is None:
        messages.error(request, f"{piece.name} is at no place. Say first where it is.")
        return redirect("desk:piece", refit.slug, pk)
    if request.method == "POST" and form.is_valid():
        try:
            custody.plan_handoff(
                piece=piece,
                origin=piece.place,
                actor=actor_of(request),
                now=request.desk.now,
                **form.cleaned_data,
            )
        except IllegalMove as error:
            form.add_error(None, str(error))
        else:
            settle_and_say(request, refit, f"The move of {piece.name} is planned.")
            return redirect("desk:piece", refit.slug, pk)
    return render(request, "desk/handoff_add.html", {"refit": refit, "piece": piece, "form": form})

"""The doors of the private pages, the owner's page, and what a vendor does on theirs.

No GET or HEAD changes a row. Every act answers with a redirect, or, to htmx, with the page's
content alone; an act that came too late is told in a sentence and changes nothing.
"""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from refit.accounts.access import (
    closed_page,
    known_ids,
    link_page,
    remember_half,
    remember_link,
)
from refit.accounts.mailed import link_for_mailed_token
from refit.accounts.models import LinkKind, PrivateLink
from refit.custody.models import Handoff
from refit.custody.pictures import NotAPicture
from refit.custody.services import promise, receive, say_ready, send, take_back_ready
from refit.custody.transitions import IllegalMove
from refit.planning.services import settle
from refit.quality.models import Criterion
from refit.quality.services import note_reading
from refit.work.models import OwnerSees, Vendor
from refit.work.wording import say_count

from .deciding import questions_of
from .forms import LeavingForm, PromiseForm, ReadingForm, ReceiptForm
from .offers import waiting_for
from .owner import owner_page
from .pages import actor_of, manager_contact
from .vendor import say_promise, vendor_page

Refused = PromiseForm | ReceiptForm | ReadingForm


@require_safe
def enter(request: HttpRequest, token: str) -> HttpResponse:
    """Turn the token in the address into the cookie; mail scanners may do so at will."""
    link = PrivateLink.objects.for_token(token) or link_for_mailed_token(token)
    if link is None or link.is_feed or not link.is_live(timezone.now()):
        return closed_page(request)
    if link.asks_code and link.public_id not in known_ids(request):
        response = redirect("notices:code", link.public_id)
        remember_half(request, response, link)
        return response
    response = redirect("portal:page", link.public_id)
    remember_link(request, response, link)
    return response


@require_safe
@link_page(LinkKind.OWNER, LinkKind.VENDOR)
def page(request: HttpRequest, link: PrivateLink) -> HttpResponse:
    if link.kind == LinkKind.OWNER:
        context = {
            "link": link,
            "page": owner_page(refit=link.refit, now=timezone.now()),
            "questions": questions_of(link.refit),
            "shows_money": link.refit.owner_sees != OwnerSees.NOTHING,
        }
        return render(request, "portal/owner_page.html", context)
    return _vendor(request, link)


@require_POST
@link_page(LinkKind.OWNER, LinkKind.VENDOR)
def seen(request: HttpRequest, link: PrivateLink) -> HttpResponse:
    """Note that the link was used by a browser that runs scripts, not by a mail scanner."""
    link.used(timezone.now())
    return HttpResponse(status=204)


@require_POST
@link_page(LinkKind.VENDOR)
def ready(request: HttpRequest, link: PrivateLink, pk: int) -> HttpResponse:
    handoff = _handoff_from(link, pk)
    now = timezone.now()
    try:
        say_ready(handoff=handoff, actor=actor_of(link), now=now)
    except IllegalMove as why:
        messages.warning(request, str(why))
    else:
        settle(refit=link.refit, now=now)
        name = manager_contact(link.refit).name
        messages.success(
            request, f"Thank you. {name} is told that {handoff.piece.name} is ready to collect."
        )
    return _answer(request, link)


@require_POST
@link_page(LinkKind.VENDOR)
def not_ready(request: HttpRequest, link: PrivateLink, pk: int) -> HttpResponse:
    handoff = _handoff_from(link, pk)
    now = timezone.now()
    try:
        take_back_ready(handoff=handoff, actor=actor_of(link), now=now)
    except IllegalMove as why:
        messages.warning(request, str(why))
    else:
        settle(refit=link.refit, now=now)
        messages.success(request, f"Taken back: {handoff.piece.name} is not ready yet.")
    return _answer(request, link)


@require_POST
@link_page(LinkKind.VENDOR)
def new_date(request: HttpRequest, link: PrivateLink, pk: int) -> HttpResponse:
    handoff = _handoff_from(link, pk)
    now = timezone.now()
    form = PromiseForm(request.POST, handoff=handoff, refit=link.refit, now=now)
    if not form.is_valid():
        return _vendor(request, link, refused=form)
    before = handoff.expected_at
    try:
        promise(
            handoff=handoff,
            at=form.moment,
            note=form.cleaned_data["note"],
            actor=actor_of(link),
            now=now,
        )
    except IllegalMove as why:
        messages.warning(request, str(why))
    else:
        settle(refit=link.refit, now=now)
        said = say_promise(handoff, before, refit=link.refit, now=now)
        name = manager_contact(link.refit).name
        messages.success(request, f"Thank you. {name} is told: {said}.")
    return _answer(request, link)


def _as_typed(form: ReceiptForm | LeavingForm) -> dict[str, Any]:
    """What somebody says of a piece at their end of a handoff."""
    return {name: form.cleaned_data[name] for name in ("condition", "parts", "pictures")}


@require_POST
@link_page(LinkKind.VENDOR)
def arrived(request: HttpRequest, link: PrivateLink, pk: int) -> HttpResponse:
    handoff = _handoff_to(link, pk)
    now = timezone.now()
    form = ReceiptForm(request.POST, request.FILES, handoff=handoff)
    if not form.is_valid():
        return _vendor(request, link, refused=form)
    try:
        receive(handoff=handoff, actor=actor_of(link), now=now, **_as_typed(form))
    except NotAPicture as why:
        form.add_error("pictures", str(why))
        return _vendor(request, link, refused=form)
    except IllegalMove as why:
        messages.warning(request, str(why))
    else:
        settle(refit=link.refit, now=now)
        messages.success(request, _say_receipt(handoff, len(form.cleaned_data["pictures"])))
        if difference := handoff.say_parts():
            messages.warning(
                request, f"{difference} {manager_contact(link.refit).name} is told about it."
            )
    return _answer(request, link)


@require_POST
@link_page(LinkKind.VENDOR)
def left(request: HttpRequest, link: PrivateLink, pk: int) -> HttpResponse:
    """The vendor confirms its own end: the piece has left the shop."""
    handoff = _handoff_from(link, pk)
    now = timezone.now()
    form = LeavingForm(request.POST, request.FILES, handoff=handoff)
    if not form.is_valid():
        return _vendor(request, link, refused=form)
    try:
        send(handoff=handoff, actor=actor_of(link), now=now, **_as_typed(form))
    except NotAPicture as why:
        form.add_error("pictures", str(why))
        return _vendor(request, link, refused=form)
    except IllegalMove as why:
        messages.warning(request, str(why))
    else:
        settle(refit=link.refit, now=now)
        name = manager_contact(link.refit).name
        messages.success(
            request, f"Thank you. {handoff.piece.name} has left you; {name} can read it."
        )
    return _answer(request, link)


@require_POST
@link_page(LinkKind.VENDOR)
def reading(request: HttpRequest, link: PrivateLink, pk: int) -> HttpResponse:
    """A reading for one of the vendor's own packages; any other does not exist."""
    criterion = (
        Criterion.objects.filter(
            pk=pk, refit=link.refit, package__vendor=link.vendor, package__finished_at=None
        )
        .select_related("package", "refit")
        .first()
    )
    if criterion is None:
        raise Http404
    form = ReadingForm(request.POST, criterion=criterion)
    if not form.is_valid():
        return _vendor(request, link, refused=form)
    note_reading(
        criterion=criterion,
        station=form.cleaned_data["station"],
        values=form.cleaned_data["numbers"],
        instrument=form.cleaned_data["instrument"],
        actor=actor_of(link),
        now=timezone.now(),
    )
    messages.success(request, f"Thank you. The reading at {form.cleaned_data['station']} is noted.")
    return _answer(request, link)


def _say_receipt(handoff: Handoff, photos: int) -> str:
    with_photos = f", with {say_count(photos, 'photo')}" if photos else ""
    return f"Thank you. {handoff.piece.name} is noted as arrived with you{with_photos}."


def _handoff_from(link: PrivateLink, pk: int) -> Handoff:
    """A handoff out of a place of the link's vendor; to anybody else it does not exist."""
    return _handoff(link, pk, origin__vendor_id=link.vendor_id)


def _handoff_to(link: PrivateLink, pk: int) -> Handoff:
    return _handoff(link, pk, destination__vendor_id=link.vendor_id)


def _handoff(link: PrivateLink, pk: int, **end: int | None) -> Handoff:
    handoff = Handoff.objects.with_names().filter(pk=pk, refit=link.refit, **end).first()
    if handoff is None:
        raise Http404
    handoff.refit = link.refit
    return handoff


def _from_htmx(request: HttpRequest) -> bool:
    return bool(getattr(request, "htmx", False))


def _answer(request: HttpRequest, link: PrivateLink) -> HttpResponse:
    if _from_htmx(request):
        return _vendor(request, link)
    return redirect("portal:page", link.public_id)


def _vendor(
    request: HttpRequest, link: PrivateLink, *, refused: Refused | None = None
) -> HttpResponse:
    """The vendor's page, or its content alone for htmx; ``refused`` stands where it was typed."""
    now = timezone.now()
    assert isinstance(link.vendor, Vendor)
    shown = vendor_page(refit=link.refit, vendor=link.vendor, now=now)
    refused_at = ""
    for item in shown.held:
        if isinstance(refused, PromiseForm) and refused.handoff.pk == item.handoff.pk:
            item.form, refused_at = refused, f"held-{item.handoff.pk}"
        if isinstance(refused, LeavingForm) and refused.handoff.pk == item.handoff.pk:
            item.leaving, refused_at = refused, f"held-{item.handoff.pk}"
    for arrival in shown.coming:
        if type(refused) is ReceiptForm and refused.handoff.pk == arrival.handoff.pk:
            arrival.form, refused_at = refused, f"coming-{arrival.handoff.pk}"
    for job in shown.jobs:
        for number, form in enumerate(job.to_read):
            if isinstance(refused, ReadingForm) and refused.criterion.pk == form.criterion.pk:
                job.to_read[number], refused_at = refused, f"reading-{form.criterion.pk}"
    template = "portal/_vendor_content.html" if _from_htmx(request) else "portal/vendor_page.html"
    context = {
        "link": link,
        "page": shown,
        "refused": refused,
        "refused_at": refused_at,
        "waiting": waiting_for(link.vendor),
    }
    return render(request, template, context)

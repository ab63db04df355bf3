"""Private links: pages and calendars of the owner, the vendors and ourselves.

A token is shown once, on the answer to the POST that made it, and never again: it is in no
redirect, no message and no log.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from refit.accounts.models import FEED_KINDS, LinkKind, PrivateLink, PrivateLinks
from refit.accounts.services import issue_link, revoke_link
from refit.work.models import CrewMember, Place, Refit, Vendor, record

from .pages import DeskRequest, actor_of, manager_page

Whose = Vendor | CrewMember | Place | None
"""Whom or what a link is for, where a refit has several of them."""
PARTIES: dict[LinkKind, tuple[str, type[Vendor | CrewMember | Place]]] = {
    LinkKind.VENDOR: ("vendor", Vendor),
    LinkKind.VENDOR_FEED: ("vendor", Vendor),
    LinkKind.CREW_FEED: ("crew_member", CrewMember),
    LinkKind.PLACE_FEED: ("place", Place),
}


@dataclass(frozen=True)
class Door:
    """One link that can be given out, and the one that is out now."""

    kind: LinkKind
    of: Whose
    link: PrivateLink | None
    just_made: str = ""
    """The address, on the one page that shows it."""
    email: str = ""
    """Where a code would go."""
    refused: str = ""
    """Why it was not made."""

    @property
    def key(self) -> str:
        return f"{self.kind.value}-{self.of.pk if self.of else 0}"

    @property
    def field(self) -> str:
        """The name under which a form names `of`."""
        return PARTIES[self.kind][0] if self.of else ""

    @property
    def to_subscribe(self) -> str:
        """The address just made as calendar programs like to be called (``webcal:``)."""
        if not self.just_made or self.can_ask_code:
            return ""
        return "webcal:" + self.just_made.partition(":")[2]

    @property
    def can_ask_code(self) -> bool:
        return self.kind not in FEED_KINDS

    @property
    def title(self) -> str:
        if self.kind == LinkKind.BOAT_FEED:
            return "Calendar of the boat"
        return "Calendar" if self.kind in FEED_KINDS else "Page"


@dataclass
class Party:
    name: str
    explains: str
    doors: list[Door]


def address_of(kind: LinkKind, token: str) -> str:
    """The full address that opens a page or a calendar."""
    name = "feeds:feed" if kind in FEED_KINDS else "portal:enter"
    return settings.SITE_ADDRESS + reverse(name, args=[token])


def parties_of(refit: Refit, now: datetime, made: Door | None = None) -> list[Party]:
    """Everybody who can have a link, with what is out. Four queries."""
    live: dict[tuple[str, int | None], PrivateLink] = {}
    for link in PrivateLink.objects.live(now).filter(refit=refit).order_by("pk"):
        link.refit = refit
        live[link.kind, link.vendor_id or link.crew_member_id or link.place_id] = link

    def door(kind: LinkKind, of: Whose = None) -> Door:
        if made is not None and (made.kind, made.of) == (kind, of):
            return made
        out = live.get((kind, of.pk if of else None))
        return Door(kind, of, out, email=_email(refit, of))

    parties = [
        Party(
            refit.owner_name or "The owner",
            "Sees the launch date, what is done, what is next and where the boat is. No prices.",
            [door(LinkKind.OWNER), door(LinkKind.OWNER_FEED)],
        ),
    ]
    parties += [
        Party(
            vendor.name,
            "Sees only what it holds and what is coming to it; says “ready” and promises dates.",
            [door(LinkKind.VENDOR, vendor), door(LinkKind.VENDOR_FEED, vendor)],
        )
        for vendor in refit.vendors.all()
    ]
    parties.append(
        Party(
            "You and your crew",
            "Everything with a date, in your own calendar program; or the boat alone: the launch,"
            " the work on her and where she goes.",
            [door(LinkKind.MANAGER_FEED), door(LinkKind.BOAT_FEED)],
        )
    )
    parties += [
        Party(member.name, "What they are named for.", [door(LinkKind.CREW_FEED, member)])
        for member in refit.crew.all()
    ]
    parties += [
        Party(
            place.name,
            "What is done there, what comes and what leaves.",
            [door(LinkKind.PLACE_FEED, place)],
        )
        for place in refit.places.order_by("name")
    ]
    return parties


def _email(refit: Refit, of: Whose) -> str:
    """Where a code would go."""
    return of.email if isinstance(of, Vendor) else refit.owner_email


@require_safe
@manager_page(only=True)
def links(request: DeskRequest, refit: Refit) -> HttpResponse:
    context = {"refit": refit, "parties": parties_of(refit, request.desk.now)}
    return render(request, "desk/links.html", context)


@require_POST
@manager_page(only=True)
def link_issue(request: DeskRequest, refit: Refit) -> HttpResponse:
    """Make a link, ending the one before it, and show its address this once."""
    kind, of = _which(request, refit)
    now = request.desk.now
    asks_code = "asks_code" in request.POST and kind not in FEED_KINDS
    email = _email(refit, of)
    if asks_code and not email:
        why = f"There is no e-mail address of {of or 'the owner'} that a code could go to."
        refused = Door(kind, of, _live(refit, kind, of, now).last(), email=email, refused=why)
        context = {"refit": refit, "parties": parties_of(refit, now, refused)}
        return render(request, "desk/links.html", context)
    with transaction.atomic():
        link, token = issue_link(
            refit=refit, kind=kind, now=now, asks_code=asks_code, **_named(kind, of)
        )
        record(
            refit=refit, actor=actor_of(request), now=now, verb="gave out", subject=link,
            note="With a mailed code as well." if asks_code else "", replan=False,
        )  # fmt: skip
    made = Door(kind, of, link, just_made=address_of(kind, token), email=email)
    context = {"refit": refit, "parties": parties_of(refit, request.desk.now, made), "made": made}
    return render(request, "desk/links.html", context)


@require_POST
@manager_page(only=True)
def link_revoke(request: DeskRequest, refit: Refit) -> HttpResponse:
    kind, of = _which(request, refit)
    with transaction.atomic():
        link = _live(refit, kind, of, request.desk.now).first()
        if link is not None and revoke_link(link=link, now=request.desk.now):
            record(
                refit=refit, actor=actor_of(request), now=request.desk.now, verb="took back",
                subject=link, replan=False,
            )  # fmt: skip
            messages.success(request, "The link opens nothing any more.")
        else:
            messages.warning(request, "That link had ended already.")
    return redirect(reverse("desk:links", args=[refit.slug]))


def _named(kind: LinkKind, of: Whose) -> dict[str, Any]:
    return {PARTIES[kind][0]: of} if of else {}


def _live(refit: Refit, kind: LinkKind, of: Whose, now: datetime) -> PrivateLinks:
    return PrivateLink.objects.live(now).filter(refit=refit, kind=kind, **_named(kind, of))


def _which(request: DeskRequest, refit: Refit) -> tuple[LinkKind, Whose]:
    try:
        kind = LinkKind(request.POST.get("kind", ""))
    except ValueError:
        raise Http404 from None
    if kind not in PARTIES:
        return kind, None
    field, model = PARTIES[kind]
    pk = request.POST.get(field, "")
    if not pk.isdecimal():
        raise Http404
    of: Any = get_object_or_404(model, refit=refit, pk=pk)
    return kind, of

"""Private links: pages and calendars of the owner, the vendors and ourselves.

A token is shown once, on the answer to the POST that made it, and never again: it is in no
redirect, no message and no log.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.conf import settings
from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from refit.accounts.models import FEED_KINDS, LinkKind, PrivateLink
from refit.accounts.services import issue_link, revoke_link
from refit.work.models import Refit, Vendor, record

from .pages import DeskRequest, actor_of, manager_page


@dataclass(frozen=True)
class Door:
    """One link that can be given out, and the one that is out now."""

    kind: LinkKind
    vendor: Vendor | None
    link: PrivateLink | None
    just_made: str = ""
    """The address, on the one page that shows it."""
    email: str = ""
    """Where a code would go."""
    refused: str = ""
    """Why it was not made."""

    @property
    def key(self) -> str:
        return f"{self.kind.value}-{self.vendor.pk if self.vendor else 0}"

    @property
    def can_ask_code(self) -> bool:
        return self.kind not in FEED_KINDS

    @property
    def title(self) -> str:
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
    """Everybody who can have a link, with what is out. Two queries."""
    live = {
        (link.kind, link.vendor_id): link
        for link in PrivateLink.objects.live(now).filter(refit=refit).order_by("pk")
    }
    for link in live.values():
        link.refit = refit

    def door(kind: LinkKind, vendor: Vendor | None = None) -> Door:
        if made is not None and (made.kind, made.vendor) == (kind, vendor):
            return made
        email = vendor.email if vendor else refit.owner_email
        out = live.get((kind, vendor.pk if vendor else None))
        return Door(kind, vendor, out, email=email)

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
            "Everything with a date, in your own calendar program.",
            [door(LinkKind.MANAGER_FEED)],
        )
    )
    return parties


@require_safe
@manager_page(only=True)
def links(request: DeskRequest, refit: Refit) -> HttpResponse:
    context = {"refit": refit, "parties": parties_of(refit, request.desk.now)}
    return render(request, "desk/links.html", context)


@require_POST
@manager_page(only=True)
def link_issue(request: DeskRequest, refit: Refit) -> HttpResponse:
    """Make a link, ending the one before it, and show its address this once."""
    kind, vendor = _which(request, refit)
    now = request.desk.now
    asks_code = "asks_code" in request.POST and kind not in FEED_KINDS
    email = vendor.email if vendor else refit.owner_email
    if asks_code and not email:
        live = PrivateLink.objects.live(now).filter(refit=refit, kind=kind, vendor=vendor)
        why = f"There is no e-mail address of {vendor or 'the owner'} that a code could go to."
        refused = Door(kind, vendor, live.last(), email=email, refused=why)
        context = {"refit": refit, "parties": parties_of(refit, now, refused)}
        return render(request, "desk/links.html", context)
    with transaction.atomic():
        link, token = issue_link(
            refit=refit, kind=kind, vendor=vendor, now=now, asks_code=asks_code
        )
        record(
            refit=refit, actor=actor_of(request), now=now, verb="gave out", subject=link,
            note="With a mailed code as well." if asks_code else "", replan=False,
        )  # fmt: skip
    made = Door(kind, vendor, link, just_made=address_of(kind, token), email=email)
    context = {"refit": refit, "parties": parties_of(refit, request.desk.now, made), "made": made}
    return render(request, "desk/links.html", context)


@require_POST
@manager_page(only=True)
def link_revoke(request: DeskRequest, refit: Refit) -> HttpResponse:
    kind, vendor = _which(request, refit)
    live = PrivateLink.objects.live(request.desk.now).filter(refit=refit, kind=kind, vendor=vendor)
    with transaction.atomic():
        link = live.first()
        if link is not None and revoke_link(link=link, now=request.desk.now):
            record(
                refit=refit, actor=actor_of(request), now=request.desk.now, verb="took back",
                subject=link, replan=False,
            )  # fmt: skip
            messages.success(request, "The link opens nothing any more.")
        else:
            messages.warning(request, "That link had ended already.")
    return redirect(reverse("desk:links", args=[refit.slug]))


def _which(request: DeskRequest, refit: Refit) -> tuple[LinkKind, Vendor | None]:
    try:
        kind = LinkKind(request.POST.get("kind", ""))
    except ValueError:
        raise Http404 from None
    if kind not in (LinkKind.VENDOR, LinkKind.VENDOR_FEED):
        return kind, None
    pk = request.POST.get("vendor", "")
    if not pk.isdecimal():
        raise Http404
    return kind, get_object_or_404(Vendor, refit=refit, pk=pk)

"""How a letter reads: subject, text, HTML, headers, and the door to the recipient's page.

Text first (RFC 2046, 5.1.4: the last part is the richest). ``Auto-Submitted`` per RFC 3834,
``List-Id`` per RFC 2919, one-click stop per RFC 8058. Letters of one refit to one party
stand in one thread: all name the same message, which was never sent, as their root.
"""

from __future__ import annotations

from datetime import datetime
from email.utils import formataddr, parseaddr
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.urls import reverse

from refit.accounts.models import LinkKind, Membership, PrivateLink, Role
from refit.portal.pages import manager_contact
from refit.work.dates import USUAL, dates_in
from refit.work.wording import say_count, say_day

from .doors import door_address
from .models import Letter, NoticeKind, Side
from .models_requests import BookingRequest
from .requests import method_of, write_request
from .things import Thing
from .wishes import stop_token

HEADINGS: dict[NoticeKind, str] = {
    NoticeKind.OVERDUE: "Overdue",
    NoticeKind.NO_PLAN: "No plan",
    NoticeKind.DECISION: "Waiting for a decision",
    NoticeKind.PROMISE: "New dates from vendors",
    NoticeKind.READY: "Ready to collect",
    NoticeKind.DUE_SOON: "Due back soon",
    NoticeKind.COMING: "Coming to you",
    NoticeKind.CONFIRM: "To confirm",
    NoticeKind.REQUEST: "For your calendar",
    NoticeKind.BOOKING: "Booked",
    NoticeKind.HOLD_ENDED: "Holds",
    NoticeKind.CHANGE: "Change orders",
    NoticeKind.ORDER_BY: "To order",
    NoticeKind.PAPERS: "Insurance",
    NoticeKind.QUOTE: "Quotes",
    NoticeKind.LAUNCH: "Launch",
}
"""In the order in which a digest tells them."""


def compose(
    letter: Letter, things: list[Thing], *, now: datetime, language: str = USUAL
) -> EmailMultiAlternatives:
    """The mail that tells ``things``. Sets subject and Message-ID on ``letter``, unsaved.

    ``language``: of the date in the subject; the things have theirs.
    """
    refit = letter.refit
    managers = [
        (member.user.name, member.user.email)
        for member in Membership.objects.filter(
            refit=refit, role=Role.MANAGER, user__is_active=True
        ).select_related("user")
    ]
    with dates_in(language):
        letter.subject = _subject(letter, things, now)
    letter.message_id = message_id(letter)
    stop = settings.SITE_ADDRESS + reverse("notices:stop", args=[stop_token(letter)])
    context = {
        "refit": refit,
        "name": letter.recipient_name,
        "is_digest": letter.is_digest,
        "parts": [
            (heading, [thing.sentence for thing in things if thing.kind == kind])
            for kind, heading in HEADINGS.items()
            if any(thing.kind == kind for thing in things)
        ],
        "address": page_address(letter, things, now),
        "is_desk": letter.side in (Side.MANAGER, Side.CREW),
        "contact": manager_contact(refit),
        "stop": stop,
    }
    root = f"<refit-{refit.pk}-{letter.side}-{letter.vendor_id or 0}@{_domain()}>"
    to_outside = letter.side in (Side.OWNER, Side.VENDOR)
    message = EmailMultiAlternatives(
        subject=letter.subject,
        body=render_to_string("notices/letter.txt", context),
        to=[formataddr((one_line(letter.recipient_name), letter.recipient))],
        reply_to=[formataddr((one_line(name), email)) for name, email in managers]
        if to_outside
        else None,
        headers={
            "Message-ID": letter.message_id,
            "References": root,
            "In-Reply-To": root,
            "Auto-Submitted": "auto-generated",
            **_one_click(stop),
            "List-Id": f"{_plain(refit.boat.name)} <refit-{refit.pk}.{_domain()}>",
        },
    )
    message.attach_alternative(render_to_string("notices/letter.html", context), "text/html")
    _attach_requests(message, letter, things)
    return message


def _attach_requests(message: EmailMultiAlternatives, letter: Letter, things: list[Thing]) -> None:
    """Each invitation as a file; one that is all the letter tells of also as an alternative, which
    calendar programs show in place of the text (RFC 6047)."""
    asked = [pk for thing in things if (pk := thing.payload.get("request"))]
    requests = BookingRequest.objects.filter(refit=letter.refit, pk__in=asked)
    for number, request in enumerate(requests, 1):
        text, kind = write_request(request), f"text/calendar; method={method_of(request)}"
        if len(things) == 1:
            message.attach_alternative(text, kind)
        message.attach(f"booking-{number}.ics", text, kind)


def _one_click(stop: str) -> dict[str, str]:
    """RFC 8058, 3.1: the address must be https; over plain http only the older header
    (RFC 2369, 3.2) is right, and leads to the page with the button."""
    headers = {"List-Unsubscribe": f"<{stop}>"}
    if stop.startswith("https:"):
        headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return headers


def message_id(letter: Letter) -> str:
    """The same at every attempt to send this letter, and never that of another one."""
    return f"<letter-{letter.pk}-{letter.created_at:%Y%m%d%H%M%S}@{_domain()}>"


def page_address(letter: Letter, things: list[Thing], now: datetime) -> str:
    """Where the recipient's page is, at the one thing if the letter is about one; empty if they
    have none that is open."""
    site: str = settings.SITE_ADDRESS
    if letter.side in (Side.MANAGER, Side.CREW):
        return site + reverse("desk:today", args=[letter.refit.slug])
    kind = LinkKind.OWNER if letter.side == Side.OWNER else LinkKind.VENDOR
    link = (
        PrivateLink.objects.live(now)
        .filter(refit=letter.refit, kind=kind, vendor=letter.vendor)
        .order_by("pk")
        .last()
    )
    return door_address(letter, link, things[0].spot if len(things) == 1 else "") if link else ""


def _subject(letter: Letter, things: list[Thing], now: datetime) -> str:
    boat = letter.refit.boat.name
    if len(things) == 1:
        return one_line(f"{boat}, {things[0].short}")[:150]
    today = say_day(letter.refit.today(now))
    return one_line(f"{boat}, {today}: {say_count(len(things), 'thing')} to know")[:150]


def one_line(text: str) -> str:
    return " ".join(text.split())


def _plain(refit_name: str) -> str:
    """A phrase of RFC 5322 without the characters that would end it."""
    return "".join(c for c in one_line(refit_name) if c.isalnum() or c in " -") or "refit"


def _domain() -> str:
    """The right-hand side of our Message-IDs: that of the sender address."""
    address = parseaddr(settings.DEFAULT_FROM_EMAIL)[1]
    return address.rpartition("@")[2] or urlsplit(settings.SITE_ADDRESS).hostname or "localhost"

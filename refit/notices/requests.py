"""Keeping the invitations in step with the bookings, and writing one as RFC 5546 has it.

Nobody tells this room that a booking changed: each look compares the bookings that stand with what
was asked. A booking of a package that has begun, or whose hour has passed, is left as it is.
"""

from __future__ import annotations

import unicodedata
import uuid
from datetime import UTC, datetime
from email.utils import parseaddr

from django.conf import settings
from django.db import transaction
from icalendar import Calendar, Event, vCalAddress
from icalendar.prop import vText

from refit.work.models import Booking, BookingKind, Refit

from .models_requests import BookingRequest, RequestStatus

PRODUCT = "-//refit//bookings//EN"
REQUEST, CANCEL = "REQUEST", "CANCEL"


@transaction.atomic
def keep_requests(*, refit: Refit, now: datetime) -> int:
    """One open request for each coming booking with a vendor that has an e-mail address. Returns
    how many were made, moved or taken back. Running it again changes nothing."""
    bookings = {
        booking.package_id: booking
        for booking in Booking.objects.filter(
            package__refit=refit, package__vendor__isnull=False
        ).select_related("package__vendor", "package__place", "package__refit__boat")
        if booking.package.vendor and booking.package.vendor.email
    }
    changed = 0
    asked: set[int] = set()
    for request in BookingRequest.objects.open().filter(refit=refit).select_for_update():
        booking = bookings.get(request.package_id or 0)
        if booking is None or not _is_to(request, booking):
            if request.starts_at > now:
                _withdraw(request, now)
                changed += 1
            elif booking is not None:
                # Its hour has passed: nothing to take back, and the next one is asked anew.
                request.package = None
                request.save(update_fields=["package"])
            continue
        asked.add(booking.package_id)
        changed += _follow(request, booking, now)
    for package_id, booking in bookings.items():
        if package_id not in asked and booking.at > now and not booking.package.is_started:
            _ask(refit, booking, now)
            changed += 1
    return changed


def _is_to(request: BookingRequest, booking: Booking) -> bool:
    vendor = booking.package.vendor
    return (
        vendor is not None
        and request.vendor_id == vendor.pk
        and request.email.lower() == vendor.email.lower()
    )


def _ask(refit: Refit, booking: Booking, now: datetime) -> None:
    vendor = booking.package.vendor
    assert vendor is not None
    host = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2] or "localhost"
    BookingRequest.objects.create(
        refit=refit,
        package=booking.package,
        vendor=vendor,
        email=vendor.email,
        name=vendor.contact or vendor.name,
        uid=f"{uuid.uuid4()}@{host}",
        stamped_at=now,
        **_told(booking),
    )


def _told(booking: Booking) -> dict[str, object]:
    package = booking.package
    begins = "" if booking.kind == BookingKind.STARTS else "It may start from then on, not before."
    return {
        "summary": f"{package.refit.boat.name}: {package.title}"[:320],
        "description": "\n".join(filter(None, (package.scope, begins, booking.note))),
        "location": ", ".join(filter(None, (package.place.name, package.place.address)))[:400],
        "starts_at": booking.at.replace(microsecond=0),
        "ends_at": booking.ends_at.replace(microsecond=0),
    }


def _follow(request: BookingRequest, booking: Booking, now: datetime) -> bool:
    """Another time is asked for anew; other words are kept until they are said again."""
    told = _told(booking)
    moved = request.starts_at != told["starts_at"] or request.ends_at != told["ends_at"]
    if moved and booking.package.is_started:
        return False
    if not any(getattr(request, name) != value for name, value in told.items()):
        return False
    for name, value in told.items():
        setattr(request, name, value)
    if moved:
        request.sequence += 1
        request.stamped_at, request.status = now, RequestStatus.ASKED
        request.answered_at = request.answer_stamp = request.proposed_at = None
        request.answer_note = ""
    request.save()
    return moved


def _withdraw(request: BookingRequest, now: datetime) -> None:
    request.sequence += 1
    request.stamped_at, request.status = now, RequestStatus.WITHDRAWN
    request.package = None
    request.save(update_fields=["sequence", "stamped_at", "status", "package"])


# --- as a calendar program reads it ---------------------------------------------------------------


def method_of(request: BookingRequest) -> str:
    return CANCEL if request.status == RequestStatus.WITHDRAWN else REQUEST


def write_request(request: BookingRequest) -> str:
    """The invitation, or that it is taken back: RFC 5546, REQUEST and CANCEL for one VEVENT.

    Times in UTC: one hour of one day needs no zone. The same row gives the same bytes.
    """
    method = method_of(request)
    calendar = Calendar()
    calendar.add("version", "2.0")
    calendar.add("prodid", PRODUCT)
    calendar.add("method", method)
    event = Event()
    event.add("uid", request.uid)
    event.add("dtstamp", request.stamped_at.astimezone(UTC).replace(microsecond=0))
    event.add("sequence", request.sequence)
    event.add("summary", _line(request.summary))
    event.add("dtstart", request.starts_at.astimezone(UTC))
    event.add("dtend", request.ends_at.astimezone(UTC))
    event.add("organizer", _organizer(), encode=False)
    event.add("attendee", _attendee(request, method), encode=False)
    event.add("status", "CANCELLED" if method == CANCEL else "CONFIRMED")
    if request.description:
        event.add("description", _clean(request.description))
    if request.location:
        event.add("location", _line(request.location))
    calendar.add_component(event)
    text: bytes = calendar.to_ical()
    return text.decode()


def _organizer() -> vCalAddress:
    name, address = parseaddr(settings.DEFAULT_FROM_EMAIL)
    organizer = vCalAddress(f"mailto:{address}")
    if name:
        organizer.params["CN"] = vText(_parameter(name))
    return organizer


def _attendee(request: BookingRequest, method: str) -> vCalAddress:
    attendee = vCalAddress(f"mailto:{request.email}")
    attendee.params["CN"] = vText(_parameter(request.name or request.email))
    attendee.params["ROLE"] = vText("REQ-PARTICIPANT")
    if method == REQUEST:
        attendee.params["PARTSTAT"] = vText("NEEDS-ACTION")
        attendee.params["RSVP"] = vText("TRUE")
    return attendee


def _clean(text: str) -> str:
    kept = (c for c in text.replace("\r", "\n") if c in "\n\t" or unicodedata.category(c) != "Cc")
    return "".join(kept)


def _line(text: str) -> str:
    return " ".join(_clean(text).split())


def _parameter(text: str) -> str:
    """A parameter value may hold no quotation mark (RFC 5545, 3.2)."""
    return _line(text.replace('"', "'"))

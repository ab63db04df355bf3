"""What two shops answered to their invitations, as their calendar programs would have sent it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from icalendar import Calendar, Event, vCalAddress
from icalendar.prop import vText

from refit.notices.answers import take_answer
from refit.notices.models import BookingRequest
from refit.notices.requests import keep_requests
from refit.work.models import Refit


def tell_answers(refit: Refit, now: datetime) -> None:
    """Asked the day before: the loft has accepted, the electrician would come a day later."""
    keep_requests(refit=refit, now=now - timedelta(days=1))
    for code, method, said, later, words in (
        ("C1", "REPLY", "ACCEPTED", timedelta(), ""),
        ("E2", "COUNTER", "DECLINED", timedelta(days=1), "The van is at the ferry on that day."),
    ):
        request = BookingRequest.objects.open().get(refit=refit, package__code=code)
        at = now - timedelta(hours=2)
        raw = _answer(request, method, said, request.starts_at + later, words, at)
        take_answer(raw=raw, now=at)


def _answer(
    request: BookingRequest, method: str, said: str, starts_at: datetime, words: str, at: datetime
) -> bytes:
    calendar, event = Calendar(), Event()
    for name, value in (("version", "2.0"), ("prodid", "-//demo//EN"), ("method", method)):
        calendar.add(name, value)
    attendee = vCalAddress(f"mailto:{request.email}")
    attendee.params["PARTSTAT"] = vText(said)
    event.add("uid", request.uid)
    event.add("sequence", request.sequence)
    event.add("dtstamp", at.astimezone(UTC))
    event.add("dtstart", starts_at.astimezone(UTC))
    event.add("attendee", attendee, encode=False)
    if words:
        event.add("comment", words)
    calendar.add_component(event)
    text: bytes = calendar.to_ical()
    return text

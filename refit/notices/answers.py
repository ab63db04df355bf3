"""Answers of calendar programs to our invitations: REPLY and COUNTER of RFC 5546.

They come as a mail (RFC 6047), as a file or as pasted text, from anybody: nothing in them is
believed but what fits an invitation of ours. Who knows the UID has had the invitation.
"""

from __future__ import annotations

import email
import email.policy
import logging
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from email.message import Message
from typing import Any

from django.db import transaction
from icalendar import Calendar

from refit.work.models import Actor, Booking, Refit, record
from refit.work.wording import say_moment

from .models_requests import BookingRequest, RequestStatus

log = logging.getLogger(__name__)

MOST_BYTES = 256 * 1024
MOST_PARTS = 60
MOST_LINES = 4000
CLOCKS_DIFFER = timedelta(days=1)
"""An answer stamped further ahead is refused: it would make every later one look stale."""
CALENDAR_KINDS = ("text/calendar", "application/ics")
ANSWERS = {
    "ACCEPTED": RequestStatus.ACCEPTED,
    "DECLINED": RequestStatus.DECLINED,
    "TENTATIVE": RequestStatus.ASKED,
}


class NotAnAnswer(Exception):
    """Why it changes nothing; a sentence."""


@dataclass(frozen=True)
class Answer:
    """What one answer says, as read; not yet whether it fits."""

    uid: str
    sequence: int
    attendee: str
    status: RequestStatus
    stamp: datetime
    note: str = ""
    proposed: datetime | date | None = None


@dataclass(frozen=True)
class Taken:
    """``fresh``: it changed something; the same answer again does not."""

    request: BookingRequest
    sentence: str
    fresh: bool


# --- reading --------------------------------------------------------------------------------------


def read_answer(raw: bytes) -> Answer:
    """The answer in a mail, a calendar file or a pasted text. Raises `NotAnAnswer`."""
    if len(raw) > MOST_BYTES:
        raise NotAnAnswer("That is too large for an answer to an invitation.")
    try:
        return _read(raw)
    except NotAnAnswer:
        raise
    except Exception as problem:
        # Two parsers of other people's text stand between here and there.
        log.info("An answer could not be read: %r", problem)
        raise NotAnAnswer("The calendar part cannot be read.") from problem


def _read(raw: bytes) -> Answer:
    text = _calendar_text(raw)
    if text.count("\n") > MOST_LINES:
        raise NotAnAnswer("That is too large for an answer to an invitation.")
    calendar = Calendar.from_ical(text)
    method = str(calendar.get("method", "")).strip().upper()
    if method == "REQUEST":
        raise NotAnAnswer("This is an invitation, not the answer to one.")
    if method not in ("REPLY", "COUNTER"):
        raise NotAnAnswer("This calendar text is no answer to an invitation.")
    events = calendar.walk("VEVENT")
    if len(events) != 1:
        raise NotAnAnswer("An answer tells of one booking; this one tells of none or several.")
    [event] = events
    attendees = event.get("attendee")
    if attendees is None or isinstance(attendees, list):
        raise NotAnAnswer("An answer comes from one person; this one names none or several.")
    uid = str(event.get("uid", "")).strip()
    stamp = getattr(event.get("dtstamp"), "dt", None)
    # A NUL in a look-up is an error of its own in PostgreSQL.
    if not uid or not uid.isprintable() or not isinstance(stamp, datetime):
        raise NotAnAnswer("It does not say what it answers, or when it was written.")
    said = str(attendees.params.get("PARTSTAT", "NEEDS-ACTION")).upper()
    start = getattr(event.get("dtstart"), "dt", None)
    if method == "COUNTER":
        if not isinstance(start, date):
            raise NotAnAnswer("Another date is proposed, but none is given.")
        status = RequestStatus.COUNTERED
    elif said in ANSWERS:
        status = ANSWERS[said]
    elif said == "DELEGATED":
        raise NotAnAnswer("They have passed it on to somebody else. Ring and ask who comes.")
    else:
        raise NotAnAnswer("It neither accepts nor declines.")
    return Answer(
        uid=uid,
        sequence=int(event.get("sequence", 0)),
        attendee=re.sub(r"(?i)^mailto:", "", str(attendees).strip()).lower(),
        status=status,
        stamp=stamp if stamp.tzinfo else stamp.replace(tzinfo=UTC),
        note=_words(event.get("comment")),
        proposed=start if method == "COUNTER" else None,
    )


def _words(value: Any) -> str:
    said = " ".join(str(one) for one in (value if isinstance(value, list) else [value or ""]))
    return " ".join("".join(c if c.isprintable() else " " for c in said).split())[:500]


def _calendar_text(raw: bytes) -> str:
    # What was copied from a page often begins with blank lines.
    bare = raw.lstrip(b"\xef\xbb\xbf \t\r\n")
    if bare[:15].upper() == b"BEGIN:VCALENDAR":
        return _decoded(bare, "utf-8")
    message = email.message_from_bytes(bare, policy=email.policy.compat32)
    for number, part in enumerate(_parts(message)):
        if number > MOST_PARTS:
            break
        name = (part.get_filename() or "").lower()
        if part.get_content_type() in CALENDAR_KINDS or name.endswith(".ics"):
            content = part.get_payload(decode=True)
            if isinstance(content, bytes) and b"BEGIN:VCALENDAR" in content.upper():
                return _decoded(content.strip(), part.get_content_charset() or "utf-8")
    raise NotAnAnswer("There is no calendar part in it, so no answer that can be read.")


def _parts(message: Message) -> Iterator[Message]:
    """Without the parts of enclosed mails: our own invitation may be quoted there."""
    payload = message.get_payload()
    if message.get_content_maintype() == "multipart" and isinstance(payload, list):
        for part in payload:
            if isinstance(part, Message):
                yield from _parts(part)
    elif message.get_content_type() != "message/rfc822":
        yield message


def _decoded(content: bytes, charset: str) -> str:
    try:
        return content.decode(charset)
    except (LookupError, UnicodeDecodeError):
        return content.decode("utf-8", errors="replace")


# --- taking ---------------------------------------------------------------------------------------


@transaction.atomic
def take_answer(
    *, raw: bytes, now: datetime, actor: Actor | None = None, refit: Refit | None = None
) -> Taken:
    """Note an answer at its booking. Raises `NotAnAnswer`, and changes nothing then.

    ``actor``: who brought it; else the vendor, by the mail. ``refit``: only bookings of this one.
    """
    answer = read_answer(raw)
    rows = BookingRequest.objects.select_for_update().filter(uid=answer.uid)
    request = (rows.filter(refit=refit) if refit is not None else rows).first()
    if request is None:
        raise NotAnAnswer("It is about no booking of ours.")
    _refuse_what_does_not_fit(request, answer, now)
    refit, who = request.refit, request.name or request.email
    proposed = _moment(answer.proposed, refit, now)
    said = _say(request, answer, proposed, who)
    if request.answer_stamp is not None and answer.stamp == request.answer_stamp:
        if (request.status, request.proposed_at) == (answer.status, proposed):
            return Taken(request, f"Already noted: {said}", fresh=False)
        raise NotAnAnswer("Two different answers carry the same moment. Ring and ask.")
    before = {"answer": request.get_status_display()}
    request.status, request.answered_at = answer.status, now
    request.answer_stamp, request.answer_note = answer.stamp, answer.note
    request.proposed_at = proposed
    request.save()
    after = {"answer": request.get_status_display()}
    _put_into_booking(request, who, before, after)
    record(
        refit=refit,
        actor=actor or Actor(name=who[:120], side="vendor"),
        now=now,
        verb="answered",
        subject=request.package,
        before=before,
        after=after,
        note=said if not answer.note else f"{said} They wrote: {answer.note}",
    )
    return Taken(request, said, fresh=True)


def _refuse_what_does_not_fit(request: BookingRequest, answer: Answer, now: datetime) -> None:
    if answer.attendee != request.email.lower():
        raise NotAnAnswer("It comes from an address that was not asked.")
    if request.status == RequestStatus.WITHDRAWN or request.package is None:
        raise NotAnAnswer("That booking has been taken back; the answer changes nothing.")
    if answer.sequence < request.sequence:
        raise NotAnAnswer("The answer is stale: it is about an earlier time of this booking.")
    if answer.sequence > request.sequence:
        raise NotAnAnswer("It answers something that was never sent.")
    if answer.stamp > now + CLOCKS_DIFFER:
        raise NotAnAnswer("It is dated in the future. Look at the clock of whoever sent it.")
    if answer.stamp < request.stamped_at - CLOCKS_DIFFER:
        raise NotAnAnswer("It is dated before it was asked. Look at the clock of whoever sent it.")
    if request.answer_stamp is not None and answer.stamp < request.answer_stamp:
        raise NotAnAnswer("The answer is stale: a later one has been noted already.")


def _moment(proposed: datetime | date | None, refit: Refit, now: datetime) -> datetime | None:
    """Without a zone it is the refit's; a day alone is its midnight."""
    if proposed is None:
        return None
    if not now.year <= proposed.year <= now.year + 3:
        raise NotAnAnswer("The date proposed is not one of the next years.")
    if not isinstance(proposed, datetime):
        proposed = datetime.combine(proposed, time())
    return (proposed if proposed.tzinfo else proposed.replace(tzinfo=refit.zone)).astimezone(UTC)


def _say(request: BookingRequest, answer: Answer, proposed: datetime | None, who: str) -> str:
    zone, title = request.refit.zone, request.summary.partition(": ")[2]
    when = say_moment(request.starts_at, zone)
    match answer.status:
        case RequestStatus.ACCEPTED:
            return f"{who} has accepted {title} on {when}."
        case RequestStatus.DECLINED:
            return f"{who} has declined {title} on {when}."
        case RequestStatus.COUNTERED if proposed is not None:
            return f"{who} proposes {say_moment(proposed, zone)} for {title}, not {when}."
        case _:
            return f"{who} has pencilled in {title} on {when}, and has not agreed to it yet."


def _put_into_booking(
    request: BookingRequest, who: str, before: dict[str, str], after: dict[str, str]
) -> None:
    """An accepted booking is agreed with whoever accepted; one they take back is so no more."""
    booking = Booking.objects.filter(package=request.package).first()
    if booking is None:
        return
    agreed = booking.agreed_with
    if request.status == RequestStatus.ACCEPTED:
        agreed = agreed or who[:120]
    elif agreed == who[:120]:
        agreed = ""
    if agreed != booking.agreed_with:
        before["agreed with"], after["agreed with"] = booking.agreed_with, agreed
        booking.agreed_with = agreed
        booking.save(update_fields=["agreed_with"])

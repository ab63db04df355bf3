"""A calendar as text: RFC 5545, with the names and colours of RFC 7986.

No METHOD: a calendar one subscribes to is not an invitation (RFC 5546, 3.2.1, would want an
ORGANIZER). Times are local, with their VTIMEZONE (`zones`), and in UTC where that cannot say them;
days are dates with an exclusive end. DTSTAMP is when the event last changed, not when the text was
written: the same state gives the same bytes.

Relations are those of RFC 9253. The event that comes first carries the temporal one (FINISHTOSTART
and its siblings, with GAP), the one that waits carries DEPENDS-ON. No SOURCE: it would have to hold
the token, of which only a hash is kept.
"""

from __future__ import annotations

import unicodedata
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from icalendar import Calendar, Event
from icalendar.prop import vDuration

from refit.accounts.models import LinkKind, PrivateLink

from .models import FeedEvent
from .zones import local_time, zone_component

PRODUCT = "-//refit//private calendars//EN"
REFRESH = timedelta(hours=1)
COLOUR = "steelblue"
"""A CSS3 colour name, as RFC 7986, 5.9 wants it."""
UNSAFE_IN_NAMES = str.maketrans(dict.fromkeys("\r\n,;\\", " "))
"""icalendar writes these unescaped into NAME, COLOR and X- properties."""


def write_calendar(link: PrivateLink, events: list[FeedEvent], modified_at: datetime) -> str:
    """The text of the calendar of ``link``, lines ending in CRLF."""
    calendar = _frame(_calendar_name(link), modified_at)
    zone: ZoneInfo | None = link.refit.zone
    if zone is not None and zone.key != "UTC":
        calendar.add("x-wr-timezone", zone.key)
        timed = [row.starts_at for row in events if row.starts_at]
        if timed:
            days = [moment.astimezone(zone).date() for moment in (min(timed), max(timed))]
            component = zone_component(zone, *days)
            if component is None:
                zone = None
            else:
                calendar.add_component(component)
    uids = {row.source: row.uid for row in events if row.cancelled_at is None}
    for event in events:
        calendar.add_component(_event(event, zone, uids))
    text: bytes = calendar.to_ical()
    return text.decode()


def write_closed_calendar(link: PrivateLink, closed_at: datetime) -> str:
    """What stands at the address of a link that was taken back: one event that says so."""
    calendar = _frame(_calendar_name(link), closed_at)
    day = link.refit.local(closed_at).date()
    event = Event()
    event.add("uid", f"closed-{link.public_id}@refit")
    event.add("dtstamp", closed_at.astimezone(UTC))
    event.add("last-modified", closed_at.astimezone(UTC))
    event.add("summary", "This calendar is closed; please remove it")
    event.add("dtstart", day)
    event.add("dtend", day + timedelta(days=1))
    event.add("transp", "TRANSPARENT")
    event.add("class", "PRIVATE")
    calendar.add_component(event)
    text: bytes = calendar.to_ical()
    return text.decode()


def clean(text: str) -> str:
    """Without control characters; line breaks stay."""
    return "".join(c for c in text if c in "\n\t" or unicodedata.category(c) != "Cc")


def one_line(text: str) -> str:
    return " ".join(clean(text).split())


def _calendar_name(link: PrivateLink) -> str:
    boat = link.refit.boat.name
    match link.kind:
        case LinkKind.VENDOR_FEED:
            return f"{boat} at {link.vendor.name}" if link.vendor else boat
        case LinkKind.OWNER_FEED:
            return boat
        case LinkKind.CREW_FEED:
            return f"{boat}: {link.crew_member}"
        case LinkKind.PLACE_FEED:
            return f"{boat} at {link.place}"
        case LinkKind.BOAT_FEED:
            return f"{boat}: where she is"
        case _:
            return f"{boat}: {link.refit.name}"


def _frame(name: str, modified_at: datetime) -> Calendar:
    safe = one_line(name.translate(UNSAFE_IN_NAMES))
    calendar = Calendar()
    calendar.add("version", "2.0")
    calendar.add("prodid", PRODUCT)
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", safe)
    calendar.add("x-wr-calname", safe)
    calendar.add("color", COLOUR)
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    calendar.add("last-modified", modified_at.astimezone(UTC))
    return calendar


def _event(row: FeedEvent, zone: ZoneInfo | None, uids: dict[str, str]) -> Event:
    event = Event()
    event.add("uid", row.uid)
    event.add("dtstamp", row.modified_at.astimezone(UTC))
    event.add("created", row.created_at.astimezone(UTC))
    event.add("last-modified", row.modified_at.astimezone(UTC))
    event.add("sequence", row.sequence)
    summary = one_line(row.summary)
    event.add("summary", f"Cancelled: {summary}" if row.cancelled_at else summary)
    if row.first_day and row.last_day:
        event.add("dtstart", row.first_day)
        event.add("dtend", row.last_day + timedelta(days=1))
    elif row.starts_at and row.ends_at:
        for name, moment in zip(("dtstart", "dtend"), _ends(row, zone), strict=True):
            event.add(name, moment)
    event.add("status", "CANCELLED" if row.cancelled_at else "CONFIRMED")
    event.add("class", "PRIVATE")
    event.add("transp", "OPAQUE" if row.takes_time and not row.cancelled_at else "TRANSPARENT")
    if row.description:
        event.add("description", clean(row.description))
    if row.location:
        event.add("location", one_line(row.location))
    if row.address:
        event.add("url", row.address)
    if row.cancelled_at is None:
        for relation, minutes, source in row.relations:
            if source in uids:
                parameters = {"RELTYPE": relation}
                if minutes:
                    parameters["GAP"] = _duration(minutes)
                event.add("related-to", uids[source], parameters=parameters)
    return event


def _duration(minutes: int) -> str:
    """As RFC 5545, 3.3.6 writes it: “P1DT30M”, “-PT2H”."""
    written: bytes = vDuration(timedelta(minutes=minutes)).to_ical()  # type: ignore[no-untyped-call]
    return written.decode()


def _ends(row: FeedEvent, zone: ZoneInfo | None) -> list[datetime]:
    """Both ends the same way: local, or in UTC where one of them cannot be told locally."""
    ends = [moment for moment in (row.starts_at, row.ends_at) if moment is not None]
    local = [local_time(moment, zone) for moment in ends] if zone is not None else [None]
    if None in local or zone == ZoneInfo("UTC"):
        return [moment.astimezone(UTC).replace(microsecond=0) for moment in ends]
    return [moment for moment in local if moment is not None]

"""Invitations to bookings: made, moved, taken back; and that calendar programs can read them.

RFC 5546 (iTIP) says what stands in a REQUEST and a CANCEL, RFC 6047 (iMIP) how a mail carries it.
"""

from __future__ import annotations

import email
import email.policy
from datetime import UTC, datetime, timedelta
from email.message import EmailMessage
from typing import Any

import pytest
import vobject
from django.core import mail
from icalendar import Calendar

from refit.notices.models import BookingRequest, How, NoticeKind, RequestStatus
from refit.notices.requests import keep_requests, write_request
from refit.notices.sending import sweep
from refit.notices.wishes import person_key, wish_for_kinds
from refit.work.models import Booking, WorkPackage
from tests.feeds.lint import lint

from .scene import NOW, Scene, a_package, a_scene

pytestmark = pytest.mark.django_db
SHOP = "shop@brackwater.example"
AT = NOW + timedelta(days=20)


def a_booked_package(scene: Scene, at: datetime = AT, **fields: Any) -> WorkPackage:
    package = a_package(
        scene.refit, title="Weld the frame", vendor=scene.vendor, place=scene.shop, **fields
    )
    Booking.objects.create(package=package, kind="starts", at=at)
    return package


def mails_to_the_shop() -> list[EmailMessage]:
    """As they go over the wire, read by Python's own parser."""
    sent: list[Any] = [one.message() for one in mail.outbox if SHOP in one.to[0]]
    return [
        email.message_from_bytes(one.as_bytes(linesep="\r\n"), policy=email.policy.default)
        for one in sent
    ]


def calendar_of(message: EmailMessage) -> bytes:
    [part] = [
        part
        for part in message.walk()
        if part.get_content_type() == "text/calendar" and not part.is_attachment()
    ]
    content = part.get_payload(decode=True)
    assert isinstance(content, bytes)
    return content


def run(scene: Scene, now: datetime = NOW) -> None:
    scene.write(now)
    sweep(clock=lambda: now)


def test_a_booking_is_asked_for_by_mail_that_a_calendar_program_understands() -> None:
    scene = a_scene("Europe/Lisbon")
    scene.vendor.contact = 'Jory "Jo" Penhale, foreman; yard'
    scene.vendor.save()
    package = a_booked_package(
        scene, scope="Two brackets;\nstainless, 3 mm, geschweißt " + "ä" * 70
    )
    run(scene)
    [message] = mails_to_the_shop()
    kinds = [part.get_content_type() for part in message.walk()]
    assert kinds == [
        "multipart/mixed", "multipart/alternative", "text/plain", "text/html", "text/calendar",
        "text/calendar",
    ]  # fmt: skip
    for part in message.walk():
        if part.get_content_type() == "text/calendar":
            # RFC 6047: the method stands in the header too, and is the same.
            assert part.get_param("method") == "REQUEST"
            assert part.get_content_charset() == "utf-8"
    [file] = message.iter_attachments()
    assert file.get_filename() == "booking-1.ics"
    data = calendar_of(message)
    assert lint(data, "REQUEST") == []
    assert "Weld the frame is asked for on" in str(message.get_body(("plain",)))

    event: Any = Calendar.from_ical(data).walk("VEVENT")[0]
    request = BookingRequest.objects.get(package=package)
    assert str(event["uid"]) == request.uid
    assert event["dtstart"].dt == AT
    assert event["dtend"].dt == AT + timedelta(hours=1)
    assert event["attendee"] == f"mailto:{SHOP}"
    assert event["attendee"].params["PARTSTAT"] == "NEEDS-ACTION"
    assert event["attendee"].params["RSVP"] == "TRUE"
    assert event["attendee"].params["CN"] == "Jory 'Jo' Penhale, foreman; yard"
    assert event["organizer"] == "mailto:refit@localhost"
    assert str(event["description"]).startswith("Two brackets;\nstainless, 3 mm, geschweißt")

    other = vobject.readOne(data.decode())
    assert other.method.value == "REQUEST"
    assert other.vevent.dtstart.value.astimezone(UTC) == AT
    assert other.vevent.attendee.value == f"mailto:{SHOP}"
    assert other.vevent.attendee.params["PARTSTAT"] == ["NEEDS-ACTION"]
    assert str(event["description"]) == other.vevent.description.value


def test_it_is_asked_once_and_again_only_for_another_time() -> None:
    scene = a_scene()
    package = a_booked_package(scene)
    for minutes in range(5):
        run(scene, NOW + timedelta(minutes=minutes))
    assert len(mails_to_the_shop()) == 1
    first = BookingRequest.objects.get()
    assert (first.sequence, first.status) == (0, RequestStatus.ASKED)
    package.title = "Weld the frame and its feet"
    package.save()
    run(scene, NOW + timedelta(minutes=6))
    assert len(mails_to_the_shop()) == 1, "other words are no other time"
    Booking.objects.filter(package=package).update(at=AT + timedelta(days=1))
    run(scene, NOW + timedelta(minutes=7))
    moved = BookingRequest.objects.get()
    assert (moved.uid, moved.sequence) == (first.uid, 1)
    data = calendar_of(mails_to_the_shop()[1])
    assert lint(data, "REQUEST") == []
    assert b"SEQUENCE:1\r\n" in data
    assert b"Weld the frame and its feet" in data


def test_a_booking_taken_out_is_taken_back() -> None:
    scene = a_scene()
    package = a_booked_package(scene)
    run(scene)
    Booking.objects.all().delete()
    later = NOW + timedelta(hours=1)
    run(scene, later)
    [_, message] = mails_to_the_shop()
    data = calendar_of(message)
    assert lint(data, "CANCEL") == []
    assert vobject.readOne(data.decode()).vevent.status.value == "CANCELLED"
    assert "is taken back" in str(message.get_body(("plain",)))
    request = BookingRequest.objects.get()
    assert (request.sequence, request.status) == (1, RequestStatus.WITHDRAWN)
    Booking.objects.create(package=package, kind="starts", at=AT)
    run(scene, later + timedelta(minutes=1))
    again = BookingRequest.objects.open().get()
    assert again.uid != request.uid, "booked anew is asked anew"


def test_what_was_never_sent_is_not_taken_back() -> None:
    scene = a_scene()
    a_booked_package(scene)
    scene.write()
    Booking.objects.all().delete()
    run(scene, NOW + timedelta(minutes=1))
    assert mails_to_the_shop() == []


def test_a_removed_package_is_taken_back_too() -> None:
    scene = a_scene()
    package = a_booked_package(scene)
    run(scene)
    package.delete()
    run(scene, NOW + timedelta(minutes=1))
    assert b"METHOD:CANCEL" in calendar_of(mails_to_the_shop()[1])


def test_another_shop_or_address_is_asked_and_the_first_told_that_it_is_gone() -> None:
    scene = a_scene()
    a_booked_package(scene)
    run(scene)
    scene.vendor.email = "office@brackwater.example"
    scene.vendor.save()
    run(scene, NOW + timedelta(minutes=1))
    assert [(one.email, one.status) for one in BookingRequest.objects.order_by("id")] == [
        (SHOP, "withdrawn"), ("office@brackwater.example", "asked"),
    ]  # fmt: skip
    assert b"METHOD:CANCEL" in calendar_of(mails_to_the_shop()[1])


def test_who_has_stopped_it_or_has_no_address_gets_none() -> None:
    scene = a_scene()
    a_booked_package(scene)
    person = person_key("vendor", SHOP)
    wish_for_kinds(
        refit=scene.refit, person=person, wishes={NoticeKind.REQUEST: How.NEVER}, now=NOW
    )
    run(scene)
    assert mails_to_the_shop() == []
    scene.vendor.email = ""
    scene.vendor.save()
    keep_requests(refit=scene.refit, now=NOW)
    assert not BookingRequest.objects.open().exists()


@pytest.mark.parametrize("past", ["booked yesterday", "begun"])
def test_what_is_past_or_begun_is_not_asked_for(past: str) -> None:
    scene = a_scene()
    if past == "begun":
        a_booked_package(scene, started_at=NOW - timedelta(hours=1))
    else:
        a_booked_package(scene, at=NOW - timedelta(days=1))
    assert keep_requests(refit=scene.refit, now=NOW) == 0
    assert not BookingRequest.objects.exists()


def test_an_hour_that_has_passed_is_not_taken_back() -> None:
    scene = a_scene()
    a_booked_package(scene)
    run(scene)
    Booking.objects.all().delete()
    run(scene, AT + timedelta(minutes=1))
    assert len(mails_to_the_shop()) == 1
    assert BookingRequest.objects.get().status == RequestStatus.ASKED


def test_by_night_it_waits_for_the_morning_and_comes_as_a_file_among_other_things() -> None:
    scene = a_scene()
    a_booked_package(scene)
    a_booked_package(scene, at=AT + timedelta(days=2))
    night = NOW.replace(hour=23)
    run(scene, night)
    assert mails_to_the_shop() == []
    scene.pass_time(night, night + timedelta(hours=9))
    [message] = mails_to_the_shop()
    files = list(message.iter_attachments())
    assert [file.get_filename() for file in files] == ["booking-1.ics", "booking-2.ics"]
    assert {file.get_param("method") for file in files} == {"REQUEST"}
    assert "text/calendar" not in [
        part.get_content_type() for part in message.walk() if not part.is_attachment()
    ], "one of two would stand for the whole letter"


def test_who_has_just_been_invited_is_not_asked_to_confirm_the_same_day() -> None:
    scene = a_scene()
    a_booked_package(scene, at=NOW + timedelta(days=5))

    def asked(now: datetime) -> set[str]:
        return {t.person.side for t in scene.things(now) if t.kind == NoticeKind.CONFIRM}

    assert asked(NOW) == {"manager", "vendor"}
    run(scene)
    assert asked(NOW) == {"manager"}
    assert asked(NOW + timedelta(days=3)) == {"manager", "vendor"}
    BookingRequest.objects.update(status=RequestStatus.DECLINED)
    assert asked(NOW + timedelta(days=3)) == set(), "there is an answer: the page of today says it"


def test_the_same_row_gives_the_same_bytes() -> None:
    scene = a_scene()
    a_booked_package(scene)
    keep_requests(refit=scene.refit, now=NOW)
    request = BookingRequest.objects.get()
    assert write_request(request) == write_request(BookingRequest.objects.get())
    assert lint(write_request(request).encode(), "CANCEL") != [], "the lint can fail"
    assert lint(write_request(request).encode()) != []

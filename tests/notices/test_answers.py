"""Answers to invitations: what fits is noted once, what does not fit changes nothing.

RFC 5546: an answer names the UID, the SEQUENCE it answers and one ATTENDEE; of two answers the one
with the higher SEQUENCE, then the later DTSTAMP, holds. RFC 6047: how a mail carries it.
"""

from __future__ import annotations

import base64
import io
import quopri
import sys
from datetime import UTC, datetime, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refit.notices.answers import MOST_BYTES, NotAnAnswer, read_answer, take_answer
from refit.notices.models import BookingRequest, RequestStatus
from refit.notices.requests import keep_requests, write_request
from refit.planning.services import replan
from refit.work.models import Booking, JournalEntry
from tests.builders import a_member

from .scene import NOW, Scene, a_package, a_scene

SHOP = "shop@brackwater.example"
STAMP = NOW + timedelta(hours=1)


def an_asked_scene(now: datetime = NOW) -> tuple[Scene, BookingRequest]:
    scene = a_scene("Europe/Lisbon")
    package = a_package(scene.refit, title="Weld the frame", vendor=scene.vendor, place=scene.shop)
    Booking.objects.create(package=package, kind="starts", at=now + timedelta(days=4))
    keep_requests(refit=scene.refit, now=now)
    return scene, BookingRequest.objects.get()


def an_answer(
    request: BookingRequest,
    said: str = "ACCEPTED",
    *,
    method: str = "REPLY",
    attendee: str = f"MAILTO:{SHOP.upper()}",
    sequence: int | None = None,
    stamp: datetime = STAMP,
    uid: str = "",
    more: str = "",
    start: str = "",
) -> bytes:
    """As calendar programs write it: folded, with properties that we do not ask for."""
    stamped = stamp.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    begins = start or f"DTSTART:{request.starts_at.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    lines = [
        "BEGIN:VCALENDAR", "PRODID:-//Invented//Wall calendar 3//EN", "VERSION:2.0",
        "CALSCALE:GREGORIAN", f"METHOD:{method}", "BEGIN:VEVENT", begins,
        f"DTSTAMP:{stamped}", "ORGANIZER;CN=refit:mailto:refit@localhost",
        f"UID:{uid or request.uid}",
        f'ATTENDEE;CUTYPE=INDIVIDUAL;ROLE=REQ-PARTICIPANT;PARTSTAT={said};\r\n CN="Penhale, Jory"'
        f";X-NUM-GUESTS=0:\r\n {attendee}",
        f"SEQUENCE:{request.sequence if sequence is None else sequence}",
        "STATUS:CONFIRMED", "SUMMARY:Weld the frame", "TRANSP:OPAQUE", *filter(None, [more]),
        "END:VEVENT", "END:VCALENDAR", "",
    ]  # fmt: skip
    return "\r\n".join(lines).encode()


def a_mail(calendar: bytes, how: str = "base64") -> bytes:
    body = {
        "base64": base64.encodebytes(calendar),
        "quoted-printable": quopri.encodestring(calendar),
        "8bit": calendar,
    }[how]
    return (
        b"Received: from post.example by mx.example; Wed, 25 Nov 2026 11:00:00 +0000\r\n"
        b"From: Jory Penhale <shop@brackwater.example>\r\nTo: refit@localhost\r\n"
        b"Subject: Accepted: Weld the frame\r\nMIME-Version: 1.0\r\n"
        b'Content-Type: multipart/mixed; boundary="one"\r\n\r\n--one\r\n'
        b'Content-Type: multipart/alternative; boundary="two"\r\n\r\n--two\r\n'
        b"Content-Type: text/plain; charset=utf-8\r\n\r\nWe can do that.\r\n--two\r\n"
        b"Content-Type: text/calendar; charset=UTF-8; method=REPLY\r\n"
        b"Content-Transfer-Encoding: " + how.encode() + b"\r\n\r\n" + body + b"\r\n--two--\r\n"
        b"--one--\r\n"
    )


@pytest.mark.django_db
@pytest.mark.parametrize("how", ["base64", "quoted-printable", "8bit", "pasted", "pasted, LF"])
def test_an_accepted_booking_is_agreed_and_stands_in_the_journal(how: str) -> None:
    scene, request = an_asked_scene()
    raw = an_answer(request, more="COMMENT:Mit Vergnügen\\, ab acht")
    if how == "pasted, LF":
        raw = b"\n\n" + raw.replace(b"\r\n", b"\n")
    elif how != "pasted":
        raw = a_mail(raw, how)
    taken = take_answer(raw=raw, now=STAMP)
    assert taken.sentence.startswith("Jory Penhale has accepted Weld the frame on ")
    request.refresh_from_db()
    assert (request.status, request.answered_at) == (RequestStatus.ACCEPTED, STAMP)
    assert request.answer_note == "Mit Vergnügen, ab acht"
    assert Booking.objects.get().agreed_with == "Jory Penhale"
    entry = JournalEntry.objects.get(verb="answered")
    assert entry.before == {"answer": "asked, no answer yet", "agreed with": ""}
    assert entry.after == {"answer": "accepted", "agreed with": "Jory Penhale"}
    assert (entry.actor_side, entry.subject_kind) == ("vendor", "workpackage")
    version = scene.refit.version
    again = take_answer(raw=raw, now=STAMP + timedelta(minutes=5))
    assert not again.fresh
    assert again.sentence.startswith("Already noted")
    assert JournalEntry.objects.filter(verb="answered").count() == 1, "twice is once"
    request.refresh_from_db()
    assert request.answered_at == STAMP
    scene.refit.refresh_from_db()
    assert scene.refit.version == version + 1, "once: the calendars say who agreed"


@pytest.mark.django_db
def test_a_later_no_takes_the_agreement_back_and_an_earlier_yes_comes_too_late() -> None:
    _scene, request = an_asked_scene()
    take_answer(raw=an_answer(request), now=STAMP)
    take_answer(raw=an_answer(request, "DECLINED", stamp=STAMP + timedelta(hours=1)), now=STAMP)
    request.refresh_from_db()
    assert request.status == RequestStatus.DECLINED
    assert Booking.objects.get().agreed_with == ""
    with pytest.raises(NotAnAnswer, match="stale: a later one"):
        take_answer(raw=an_answer(request, stamp=STAMP + timedelta(minutes=5)), now=STAMP)
    request.refresh_from_db()
    assert request.status == RequestStatus.DECLINED


@pytest.mark.django_db
def test_whose_word_was_noted_by_hand_stays() -> None:
    _scene, request = an_asked_scene()
    Booking.objects.update(agreed_with="Kerra at the office")
    take_answer(raw=an_answer(request, "DECLINED"), now=STAMP)
    assert Booking.objects.get().agreed_with == "Kerra at the office"


@pytest.mark.django_db
def test_an_answer_to_the_time_before_is_said_to_be_stale() -> None:
    scene, request = an_asked_scene()
    take_answer(raw=an_answer(request), now=STAMP)
    Booking.objects.update(at=request.starts_at + timedelta(days=1))
    keep_requests(refit=scene.refit, now=STAMP)
    request.refresh_from_db()
    assert (request.status, request.sequence) == (RequestStatus.ASKED, 1)
    with pytest.raises(NotAnAnswer, match="stale: it is about an earlier time"):
        take_answer(raw=an_answer(request, sequence=0, stamp=STAMP + timedelta(1)), now=STAMP)
    take_answer(raw=an_answer(request, stamp=STAMP - timedelta(minutes=30)), now=STAMP)
    request.refresh_from_db()
    assert request.status == RequestStatus.ACCEPTED, "DTSTAMPs compare within one SEQUENCE"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("start", "proposed"),
    [
        ("DTSTART:20261203T090000Z", datetime(2026, 12, 3, 9, tzinfo=UTC)),
        ("DTSTART;TZID=Europe/Berlin:20261203T090000", datetime(2026, 12, 3, 8, tzinfo=UTC)),
        ("DTSTART:20261203T090000", datetime(2026, 12, 3, 9, tzinfo=UTC)),
        ("DTSTART;VALUE=DATE:20261203", datetime(2026, 12, 3, tzinfo=UTC)),
    ],
)
def test_another_date_is_shown_and_taken_with_one_press(start: str, proposed: datetime) -> None:
    scene, request = an_asked_scene()
    raw = an_answer(request, "DECLINED", method="COUNTER", start=start)
    taken = take_answer(raw=raw, now=STAMP)
    assert "proposes" in taken.sentence
    request.refresh_from_db()
    assert (request.status, request.proposed_at) == (RequestStatus.COUNTERED, proposed)
    desk = Client()
    desk.force_login(scene.manager)
    page = desk.get(reverse("desk:package", args=[scene.refit.slug, request.package_id]))
    assert "Another date proposed" in page.content.decode()
    take = reverse("desk:booking-take-proposal", args=[scene.refit.slug, request.package_id])
    assert desk.get(take).status_code == 405
    assert desk.post(take).status_code == 302
    booking = Booking.objects.get()
    assert booking.at == proposed
    keep_requests(refit=scene.refit, now=STAMP)
    request.refresh_from_db()
    assert (request.sequence, request.status) == (1, RequestStatus.ASKED)
    assert "No proposed date" in desk.post(take, follow=True).content.decode()


@pytest.mark.django_db
def test_pencilled_in_is_no_yes() -> None:
    _scene, request = an_asked_scene()
    assert "has not agreed" in take_answer(raw=an_answer(request, "TENTATIVE"), now=STAMP).sentence
    request.refresh_from_db()
    assert (request.status, request.answered_at) == (RequestStatus.ASKED, STAMP)
    assert Booking.objects.get().agreed_with == ""


@pytest.mark.django_db
def test_what_does_not_fit_changes_nothing() -> None:
    scene, request = an_asked_scene()
    ours = write_request(request).encode()
    two = an_answer(request).replace(b"END:VCALENDAR", an_answer(request)[
        an_answer(request).index(b"BEGIN:VEVENT"):
    ].removesuffix(b"\r\n"))  # fmt: skip
    ahead = NOW + timedelta(days=40)
    for raw, why in {
        b"": "no calendar part",
        b"We can do that. Jory": "no calendar part",
        b"BEGIN:VCALENDAR\r\n": "cannot be read",
        b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n": "no answer to an invitation",
        ours: "an invitation, not the answer",
        an_answer(request, method="PUBLISH"): "no answer to an invitation",
        an_answer(request, uid="0@elsewhere.example"): "no booking of ours",
        an_answer(request, attendee="mailto:else@x.example"): "address that was not asked",
        an_answer(request, sequence=7): "never sent",
        an_answer(request, stamp=ahead): "dated in the future",
        an_answer(request, stamp=NOW - timedelta(days=4)): "dated before it was asked",
        an_answer(request, uid="a\0b"): "does not say what it answers",
        an_answer(request, method="COUNTER", start="DTSTART:00010101T000000Z"): "next years",
        an_answer(request, method="COUNTER", start="DTSTART:99991231T235959Z"): "next years",
        an_answer(request, method="COUNTER", start="X-NONE:1"): "none is given",
        an_answer(request, "DELEGATED"): "passed it on",
        an_answer(request, "NEEDS-ACTION"): "neither accepts nor declines",
        an_answer(request, more="ATTENDEE;PARTSTAT=DECLINED:mailto:b@x.example"): "one person",
        an_answer(request).replace(b"DTSTAMP:", b"X-WAS:"): "when it was written",
        an_answer(request).replace(b"SEQUENCE:0", b"SEQUENCE:many"): "cannot be read",
        two: "none or several",
        b"x" * (MOST_BYTES + 1): "too large",
        b"BEGIN:VCALENDAR\r\n" + b"X:1\r\n" * 5000: "too large",
    }.items():
        with pytest.raises(NotAnAnswer, match=why):
            take_answer(raw=raw, now=STAMP)
    # Answers to another refit's booking do not come in by this one's page.
    with pytest.raises(NotAnAnswer, match="no booking of ours"):
        take_answer(raw=an_answer(request), now=STAMP, refit=a_scene().refit)
    # Our own invitation, quoted in the answer as an enclosed mail, is not taken for the answer.
    quoted = (
        b'Content-Type: multipart/mixed; boundary="q"\r\n\r\n--q\r\nContent-Type: message/rfc822'
        b"\r\n\r\n" + a_mail(an_answer(request)) + b"\r\n--q--\r\n"
    )
    with pytest.raises(NotAnAnswer, match="no calendar part"):
        take_answer(raw=quoted, now=STAMP)
    Booking.objects.all().delete()
    keep_requests(refit=scene.refit, now=NOW)
    with pytest.raises(NotAnAnswer, match="taken back"):
        take_answer(raw=an_answer(request, sequence=1), now=STAMP)
    request.refresh_from_db()
    assert request.answered_at is None
    assert not JournalEntry.objects.filter(verb="answered").exists()


def _unsaved() -> BookingRequest:
    return BookingRequest(
        uid="u@localhost", email=SHOP, starts_at=NOW, ends_at=NOW + timedelta(hours=1)
    )


@settings(max_examples=300, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    st.sampled_from(["bare", "base64", "quoted-printable", "8bit"]),
    st.lists(st.tuples(st.integers(0, 2000), st.binary(max_size=12)), max_size=6),
    st.integers(0, 2000),
)
def test_whatever_is_done_to_an_answer_it_is_read_or_refused(
    how: str, changes: list[tuple[int, bytes]], cut: int
) -> None:
    raw = an_answer(_unsaved())
    raw = raw if how == "bare" else a_mail(raw, how)
    for place, put in changes:
        raw = raw[:place] + put + raw[place + len(put) :]
    try:
        read_answer(raw[: len(raw) - cut % 50 if cut % 2 else len(raw)])
    except NotAnAnswer:
        return


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=600), st.booleans())
def test_any_bytes_at_all_are_refused_with_a_sentence(raw: bytes, begun: bool) -> None:
    with pytest.raises(NotAnAnswer):
        read_answer((b"BEGIN:VCALENDAR\r\n" if begun else b"") + raw)


def test_parts_within_parts_within_parts_are_refused() -> None:
    deep = b"".join(
        b'Content-Type: multipart/mixed; boundary="%d"\r\n\r\n--%d\r\n' % (n, n)
        for n in range(3000)
    )
    with pytest.raises(NotAnAnswer):
        read_answer(deep)
    components = b"BEGIN:VCALENDAR\r\nMETHOD:REPLY\r\n" + b"BEGIN:VEVENT\r\n" * 1900
    with pytest.raises(NotAnAnswer):
        read_answer(components + b"END:VEVENT\r\n" * 1900 + b"END:VCALENDAR\r\n")


@pytest.mark.django_db
def test_the_manager_pastes_or_uploads_it_and_sees_it_at_the_package_and_today() -> None:
    now = timezone.now()
    scene, request = an_asked_scene(now)
    replan(refit=scene.refit, now=now)
    desk = Client()
    desk.force_login(scene.manager)
    page = reverse("desk:booking-answer", args=[scene.refit.slug, request.package_id])
    assert "An answer came" in desk.get(page).content.decode()
    for data, said in (
        ({}, "Choose a file"),
        ({"text": "hello"}, "no calendar part"),
        ({"file": SimpleUploadedFile("a.eml", b"\x00\xff" * 9)}, "no calendar part"),
        ({"text": an_answer(request, sequence=4, stamp=now).decode()}, "never sent"),
    ):
        answer = desk.post(page, data)
        assert answer.status_code == 200
        assert said in answer.content.decode()
    raw = a_mail(an_answer(request, "DECLINED", stamp=now))
    answer = desk.post(page, {"file": SimpleUploadedFile("answer.eml", raw)}, follow=True)
    assert "Jory Penhale has declined Weld the frame" in answer.content.decode()
    assert "Ring and agree on another date" in answer.content.decode()
    today = desk.get(reverse("desk:today", args=[scene.refit.slug])).content.decode()
    assert "Brackwater Metalwork has declined Weld the frame on" in today
    assert "ring Jory Penhale for another date" in today
    assert "01632 960114" in today
    entry = JournalEntry.objects.get(verb="answered")
    assert entry.user == scene.manager, "who brought it"
    text = an_answer(request, stamp=now + timedelta(minutes=1)).decode()
    answer = desk.post(page, {"text": text}, follow=True)
    assert "Accepted" in answer.content.decode()
    today = desk.get(reverse("desk:today", args=[scene.refit.slug])).content.decode()
    assert "has declined" not in today
    stranger = Client()
    stranger.force_login(a_member(a_scene().refit))
    assert stranger.post(page, {"text": text}).status_code == 404
    journal = desk.get(reverse("desk:journal", args=[scene.refit.slug])).content.decode()
    assert "declined" in journal


@pytest.mark.django_db
def test_the_command_reads_the_pipe_of_a_mail_server(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    now = timezone.now()
    _scene, request = an_asked_scene(now)

    def pipe(raw: bytes) -> str:
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(raw)))
        call_command("receive_mail")
        return capsys.readouterr().out

    raw = a_mail(an_answer(request, stamp=now))
    assert "Jory Penhale has accepted" in pipe(raw)
    assert "Already noted" in pipe(raw)
    assert "no calendar part" in pipe(b"Subject: I am away\r\n\r\nBack on Monday.\r\n")
    assert "too large" in pipe(b"a" * 2 * MOST_BYTES)

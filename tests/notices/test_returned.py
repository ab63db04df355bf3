"""Mails that other servers give back, in the form of the examples of RFC 3464, appendix E."""

from __future__ import annotations

import io
import smtplib
import sys
from datetime import timedelta
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from refit.notices import sending
from refit.notices.dead import is_dead, status_in
from refit.notices.models import DeadAddress, Letter, LetterState, Notice, NoticeState
from refit.notices.returned import NotAReport, take_report
from refit.notices.sending import sweep
from tests.builders import NOW, a_member

from .scene import Scene, a_scene

pytestmark = pytest.mark.django_db
UNKNOWN = "smtp; 550 5.1.1 <shop@brackwater.example> no such user"

REPORT = """\
Date: Wed, 25 Nov 2026 09:16:05 +0000
From: Mail Delivery Subsystem <MAILER-DAEMON@post.example>
To: <refit@localhost>
MIME-Version: 1.0
Content-Type: multipart/report; report-type=delivery-status; boundary="cut"
Subject: Returned mail
Auto-Submitted: auto-replied

--cut

   ----- The following addresses had delivery problems -----
--cut
Content-Type: message/delivery-status

Reporting-MTA: dns; post.example

Original-Recipient: rfc822;{recipient}
Final-Recipient: RFC822; {recipient}
Action: {action}
Status: {status} (addressing)
Diagnostic-Code: {said}

--cut
Content-Type: {enclosed}

Message-ID: {message_id}
Subject: Sallow Tern, overdue

--cut--
"""


def a_sent_letter(scene: Scene) -> Letter:
    scene.handoff(NOW - timedelta(hours=1))
    scene.write()
    sweep(clock=lambda: NOW)
    return Letter.objects.get(side="vendor", state=LetterState.SENT)


def a_report(letter: Letter, **changed: str) -> bytes:
    values = {
        "recipient": "Shop@brackwater.example",
        "action": "failed",
        "status": "5.1.1",
        "said": UNKNOWN,
        "enclosed": "message/rfc822",
        "message_id": letter.message_id,
    } | changed
    return REPORT.format(**values).replace("\n", "\r\n").encode()


@pytest.mark.parametrize("enclosed", ["message/rfc822", "text/rfc822-headers"])
def test_a_letter_that_came_back_is_marked_and_its_dead_address_left_alone(enclosed: str) -> None:
    scene = a_scene()
    letter = a_sent_letter(scene)
    take_report(raw=a_report(letter, enclosed=enclosed), now=NOW)
    letter.refresh_from_db()
    assert (letter.state, letter.returned_at) == (LetterState.PARKED, NOW)
    assert "no such user" in letter.last_error
    assert letter.notices.get().state == NoticeState.PARKED
    assert DeadAddress.objects.get().email == "shop@brackwater.example"
    take_report(raw=a_report(letter), now=NOW)
    assert DeadAddress.objects.count() == 1, "twice is once"
    assert {thing.person.side for thing in scene.things(NOW + timedelta(days=3))} == {"manager"}


def test_the_manager_sees_it_and_lifts_it_and_the_letter_goes_again() -> None:
    scene = a_scene()
    letter = a_sent_letter(scene)
    take_report(raw=a_report(letter), now=NOW)
    desk = Client()
    desk.force_login(scene.manager)
    address = reverse("desk:sent", args=[scene.refit.slug])
    page = desk.get(address).content.decode()
    assert "Not written to any more" in page
    assert "no such user" in page
    dead = DeadAddress.objects.get()
    path = reverse("desk:address-good", args=[scene.refit.slug, dead.pk])
    stranger = Client()
    stranger.force_login(a_member(a_scene().refit))
    assert stranger.post(path).status_code == 404
    assert desk.get(path).status_code == 405
    assert "Letters go to shop@brackwater.example again." in (
        desk.post(path, follow=True).content.decode()
    )
    assert not DeadAddress.objects.exists()
    letter.refresh_from_db()
    assert (letter.state, letter.returned_at) == (LetterState.WAITING, None)
    Letter.objects.update(due_at=NOW)
    assert sweep(clock=lambda: NOW + timedelta(minutes=1)) == 1
    assert set(Notice.objects.values_list("state", flat=True)) == {NoticeState.SENT}


def test_a_mailbox_that_is_only_full_is_no_dead_address() -> None:
    letter = a_sent_letter(a_scene())
    take_report(raw=a_report(letter, status="5.2.2", said="smtp; 552 5.2.2 full"), now=NOW)
    letter.refresh_from_db()
    assert letter.state == LetterState.PARKED
    assert not DeadAddress.objects.exists()


def test_what_is_only_late_changes_nothing() -> None:
    letter = a_sent_letter(a_scene())
    take_report(raw=a_report(letter, action="delayed", status="4.4.7"), now=NOW)
    letter.refresh_from_db()
    assert letter.state == LetterState.SENT


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        (b"", "no delivery report"),
        (b"Subject: I am away\r\n\r\nBack on Monday.\r\n", "no delivery report"),
        (b"\x00\xff\xfe" * 40, "no delivery report"),
        (
            b"Content-Type: multipart/report; boundary=x\r\n\r\n--x\r\n"
            b"Content-Type: message/delivery-status\r\n\r\n\r\n--x--\r\n",
            "no delivery report",
        ),
    ],
)
def test_what_is_no_report_changes_nothing(raw: bytes, why: str) -> None:
    with pytest.raises(NotAReport, match=why):
        take_report(raw=raw, now=NOW)


def test_a_report_about_another_mail_or_another_recipient_changes_nothing() -> None:
    letter = a_sent_letter(a_scene())
    for changed in ({"message_id": "<other@x.example>"}, {"recipient": "else@x.example"}):
        with pytest.raises(NotAReport):
            take_report(raw=a_report(letter, **changed), now=NOW)
    letter.refresh_from_db()
    assert letter.state == LetterState.SENT


def test_the_command_reads_the_pipe_of_a_mail_server(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    letter = a_sent_letter(a_scene())

    def pipe(raw: bytes) -> str:
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(raw)))
        call_command("mail_returned")
        return capsys.readouterr().out

    assert "came back: 550 5.1.1" in pipe(a_report(letter))
    assert "no delivery report" in pipe(b"hello")


def test_a_server_that_knows_no_such_user_at_once_makes_the_address_dead_too(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    scene = a_scene()
    scene.handoff(NOW - timedelta(hours=1))
    scene.write()

    def refuse(message: Any) -> None:
        raise smtplib.SMTPRecipientsRefused({message.to[0]: (550, b"5.1.1 unknown here")})

    monkeypatch.setattr("django.core.mail.EmailMessage.send", refuse)
    sending.sweep(clock=lambda: NOW)
    assert {dead.email for dead in DeadAddress.objects.all()} == {
        "shop@brackwater.example", scene.manager.email.lower(),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("status", "dead"),
    [("5.1.1", True), ("5.1.10", True), ("5.2.1", True), ("5.2.2", False), ("4.1.1", False)],
)
def test_which_codes_mean_that_the_address_is_dead(status: str, dead: bool) -> None:
    # RFC 3463: class 5 is permanent; x.1.* is about the address, x.2.1 a mailbox disabled, x.2.2
    # one that is full.
    assert is_dead(status) is dead
    assert status_in(f"(550, b'{status} words')") == status


def test_one_pipe_takes_delivery_reports_and_answers_alike(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    letter = a_sent_letter(a_scene())
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(a_report(letter))))
    call_command("receive_mail")
    assert f"A report on the letter {letter.pk}: failed." in capsys.readouterr().out
    letter.refresh_from_db()
    assert letter.state == LetterState.PARKED

"""Mail servers that refuse, senders that die, sweeps that run at the same time."""

import itertools
import smtplib
import threading
from datetime import timedelta
from typing import Any, ClassVar

import pytest
from django.core.mail.backends.base import BaseEmailBackend
from django.db import connection
from django.utils import timezone

from refit.notices import tasks
from refit.notices.models import Letter, LetterState, Notice, NoticeState
from refit.notices.sending import LEASE, MailServerAway, send_letter, sweep, try_again
from refit.quality.models import Finding
from refit.work.models import Refit
from tests.builders import NOW

from .scene import Scene, a_scene

HERE = "tests.notices.test_sending.Postbox"


class KilledInTheMiddle(BaseException):
    """What a test raises where the process would die: nothing catches it."""


class Postbox(BaseEmailBackend):
    """A mail server that does what the test says."""

    answers: ClassVar[list[BaseException | None]] = []
    took: ClassVar[list[str]] = []

    def send_messages(self, email_messages: Any) -> int:
        for message in email_messages:
            answer = Postbox.answers.pop(0) if Postbox.answers else None
            if isinstance(answer, Exception):
                raise answer
            Postbox.took.append(str(message.message()["Message-ID"]))
            if answer is not None:
                raise answer
        return len(email_messages)


@pytest.fixture(autouse=True)
def postbox(settings: Any) -> type[Postbox]:
    settings.EMAIL_BACKEND = HERE
    Postbox.answers.clear()
    Postbox.took.clear()
    return Postbox


def a_letter(scene: Scene | None = None) -> Letter:
    """One urgent letter to the manager, due at `NOW`."""
    scene = scene or a_scene()
    Finding.objects.create(
        refit=scene.refit,
        code="F1",
        title="Soft core",
        found_at=NOW,
        decide_by=NOW + timedelta(hours=10),
    )
    scene.write()
    return Letter.objects.latest("pk")


@pytest.mark.django_db
def test_a_letter_is_sent_once_however_often_it_is_swept(postbox: type[Postbox]) -> None:
    letter = a_letter()
    assert [sweep(clock=lambda: NOW) for _ in range(5)] == [1, 0, 0, 0, 0]
    letter.refresh_from_db()
    assert letter.state == LetterState.SENT
    assert postbox.took == [letter.message_id]


@pytest.mark.django_db
def test_a_sender_that_dies_after_sending_repeats_that_mail_under_the_same_id(
    postbox: type[Postbox],
) -> None:
    letter = a_letter()
    postbox.answers.append(KilledInTheMiddle())
    with pytest.raises(KilledInTheMiddle):
        send_letter(letter_id=letter.pk, clock=lambda: NOW)
    letter.refresh_from_db()
    assert letter.state == LetterState.CLAIMED
    before, after = NOW + LEASE - timedelta(seconds=1), NOW + LEASE
    assert sweep(clock=lambda: before) == 0
    assert sweep(clock=lambda: after) == 1
    assert len(postbox.took) == 2
    assert len(set(postbox.took)) == 1


@pytest.mark.django_db
def test_a_letter_that_takes_its_sender_down_each_time_is_given_up(postbox: type[Postbox]) -> None:
    letter = a_letter()
    for number in range(20):
        postbox.answers.append(KilledInTheMiddle())
        with pytest.raises(KilledInTheMiddle):
            send_letter(letter_id=letter.pk, clock=lambda n=number: NOW + n * LEASE)  # type: ignore[misc]
    assert not send_letter(letter_id=letter.pk, clock=lambda: NOW + 20 * LEASE)
    letter.refresh_from_db()
    assert letter.state == LetterState.PARKED


@pytest.mark.django_db
def test_who_overstays_the_lease_does_not_mark_what_another_has_claimed(
    postbox: type[Postbox], monkeypatch: pytest.MonkeyPatch
) -> None:
    letter = a_letter()

    def slow(self: Postbox, email_messages: Any) -> int:
        # While this one sends, its lease runs out and another takes the letter.
        assert Letter.objects.claim(letter.pk, now=NOW + LEASE, until=NOW + 2 * LEASE)
        return 1

    monkeypatch.setattr(Postbox, "send_messages", slow)
    assert not send_letter(letter_id=letter.pk, clock=lambda: NOW)
    letter.refresh_from_db()
    assert (letter.state, letter.claimed_until) == (LetterState.CLAIMED, NOW + 2 * LEASE)


@pytest.mark.django_db
def test_a_server_that_is_away_is_tried_again_after_growing_waits_for_a_day(
    postbox: type[Postbox],
) -> None:
    letter = a_letter()
    tries = []
    now = NOW
    while now <= NOW + timedelta(hours=48):
        postbox.answers[:] = [smtplib.SMTPServerDisconnected("gone")]
        moment = now
        sweep(clock=lambda: moment)  # noqa: B023
        if not postbox.answers:
            tries.append(now - NOW)
        now += timedelta(minutes=5)
    letter.refresh_from_db()
    assert letter.state == LetterState.PARKED
    assert letter.last_error == "gone"
    assert postbox.took == []
    waits = [later - earlier for earlier, later in itertools.pairwise(tries)]
    assert waits == sorted(waits)
    assert len(tries) >= 6
    assert tries[-1] <= timedelta(hours=24)
    assert set(Notice.objects.values_list("state", flat=True)) == {NoticeState.PARKED}


@pytest.mark.django_db
def test_a_letter_goes_when_the_server_is_back(postbox: type[Postbox]) -> None:
    letter = a_letter()
    postbox.answers.append(TimeoutError("timed out"))
    assert sweep(clock=lambda: NOW) == 0
    assert sweep(clock=lambda: NOW + timedelta(seconds=30)) == 0
    assert sweep(clock=lambda: NOW + timedelta(minutes=1)) == 1
    letter.refresh_from_db()
    assert (letter.state, letter.last_error) == (LetterState.SENT, "")


@pytest.mark.django_db
def test_a_server_that_is_away_is_asked_once_a_sweep(postbox: type[Postbox]) -> None:
    for _ in range(3):
        a_letter(a_scene())
    postbox.answers[:] = [ConnectionRefusedError("no")] * 3
    assert sweep(clock=lambda: NOW) == 0
    assert len(postbox.answers) == 2


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("problem", "state"),
    [
        (smtplib.SMTPRecipientsRefused({"a@b.example": (550, b"unknown")}), LetterState.PARKED),
        (smtplib.SMTPRecipientsRefused({"a@b.example": (451, b"later")}), LetterState.WAITING),
        (smtplib.SMTPDataError(554, b"refused"), LetterState.PARKED),
        (smtplib.SMTPDataError(452, b"full"), LetterState.WAITING),
        (smtplib.SMTPAuthenticationError(535, b"who are you"), LetterState.WAITING),
        (smtplib.SMTPSenderRefused(550, b"not from there", "x@y.example"), LetterState.WAITING),
    ],
)
def test_only_a_refusal_for_good_about_this_mail_is_final(
    postbox: type[Postbox], problem: Exception, state: LetterState
) -> None:
    letter = a_letter()
    postbox.answers.append(problem)
    sweep(clock=lambda: NOW)
    letter.refresh_from_db()
    assert letter.state == state
    assert letter.last_error


@pytest.mark.django_db
def test_one_refused_recipient_does_not_keep_the_others_waiting(postbox: type[Postbox]) -> None:
    for _ in range(2):
        a_letter(a_scene())
    postbox.answers.append(smtplib.SMTPRecipientsRefused({"a@b.example": (550, b"unknown")}))
    assert sweep(clock=lambda: NOW) == 1


@pytest.mark.django_db
def test_a_parked_letter_goes_when_somebody_says_try_again(postbox: type[Postbox]) -> None:
    letter = a_letter()
    postbox.answers.append(smtplib.SMTPDataError(554, b"refused"))
    sweep(clock=lambda: NOW)
    letter.refresh_from_db()
    assert try_again(letter=letter, now=NOW)
    assert not try_again(letter=letter, now=NOW), "twice is once"
    assert sweep(clock=lambda: NOW) == 1
    assert set(Notice.objects.values_list("state", flat=True)) == {NoticeState.SENT}


@pytest.mark.django_db
def test_a_server_that_is_away_is_said_to_the_caller(postbox: type[Postbox]) -> None:
    letter = a_letter()
    postbox.answers.append(ConnectionRefusedError("no"))
    with pytest.raises(MailServerAway):
        send_letter(letter_id=letter.pk, clock=lambda: NOW)


@pytest.mark.django_db(transaction=True)
def test_sweeps_in_parallel_send_each_letter_once(postbox: type[Postbox]) -> None:
    scene = a_scene()
    for number in range(12):
        Finding.objects.create(
            refit=scene.refit,
            code=f"F{number}",
            title="Core",
            found_at=NOW,
            decide_by=NOW + timedelta(hours=10),
        )
    scene.write()
    assert Letter.objects.due(NOW).count() == 12
    start = threading.Barrier(4)
    problems: list[BaseException] = []

    def run() -> None:
        try:
            start.wait()
            sweep(clock=lambda: NOW)
        except BaseException as problem:
            problems.append(problem)
        finally:
            connection.close()

    threads = [threading.Thread(target=run) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert problems == []
    assert sorted(postbox.took) == sorted(Letter.objects.values_list("message_id", flat=True))
    assert len(postbox.took) == 12
    assert set(Letter.objects.values_list("state", flat=True)) == {LetterState.SENT}


@pytest.mark.django_db(transaction=True)
def test_planning_in_parallel_writes_each_notice_once() -> None:
    scene = a_scene()
    scene.handoff(NOW - timedelta(hours=1))
    start = threading.Barrier(4)
    problems: list[BaseException] = []

    def run() -> None:
        try:
            start.wait()
            scene.write()
        except BaseException as problem:
            problems.append(problem)
        finally:
            connection.close()

    threads = [threading.Thread(target=run) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert problems == []
    assert Notice.objects.count() == Letter.objects.count() == 2


@pytest.mark.django_db(transaction=True)
def test_a_broker_that_is_away_costs_nothing_but_time(
    monkeypatch: pytest.MonkeyPatch, postbox: type[Postbox]
) -> None:
    class NoBroker:
        asked = 0

        def delay(self) -> None:
            NoBroker.asked += 1
            raise OSError("no broker")

    scene = a_scene()
    scene.handoff(timezone.now() - timedelta(days=1))
    monkeypatch.setattr(tasks, "sweep_outbox", NoBroker())
    # Due at once or in the morning, by the hour at which the test runs: make it due.
    tasks.plan_reminders()
    assert Letter.objects.count() == 2
    Letter.objects.update(due_at=timezone.now())
    tasks.plan_reminders()
    assert NoBroker.asked >= 1


@pytest.mark.django_db
def test_a_letter_that_cannot_be_written_does_not_keep_the_others_waiting(
    postbox: type[Postbox],
) -> None:
    first, second = a_letter(a_scene()), a_letter(a_scene())
    # A slug that no path matches: the address of the page cannot be made.
    Refit.objects.filter(pk=first.refit_id).update(slug="not a slug")
    assert sweep(clock=lambda: NOW) == 1
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.state, second.state) == (LetterState.WAITING, LetterState.SENT)
    assert "not a slug" in first.last_error

"""The page of reminders: it works, wrong person, wrong method, twice."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from refit.accounts.models import Role, User
from refit.notices.models import Letter, LetterState, Notice, NoticeState
from refit.work.models import Refit
from tests.builders import NOW, a_member, a_refit, a_vendor

pytestmark = pytest.mark.django_db


def a_parked_letter(refit: Refit, number: int = 1) -> Letter:
    letter = Letter.objects.create(
        refit=refit,
        key=f"day:{refit.pk}:{number}",
        recipient="shop@brackwater.example",
        side="vendor",
        due_at=NOW,
        state=LetterState.PARKED,
        last_error="550 no such mailbox",
        attempts=1,
    )
    Notice.objects.create(
        refit=refit,
        key=f"overdue:{refit.pk}:{number}",
        kind="overdue",
        recipient=letter.recipient,
        side="vendor",
        sentence="Overdue since Fri 20 Nov: <Top frame>.",
        tell_at=NOW,
        state=NoticeState.PARKED,
        letter=letter,
    )
    return letter


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def test_a_letter_that_could_not_be_sent_is_shown_with_the_reason() -> None:
    refit = a_refit()
    a_parked_letter(refit)
    a_vendor(refit, name="Skerry Canvas Loft", phone="01632 960131")
    page = signed_in(a_member(refit)).get(reverse("desk:sent", args=[refit.slug]))
    body = page.content.decode()
    assert "550 no such mailbox" in body
    assert "&lt;Top frame&gt;" in body
    assert "01632 960131" in body


def test_trying_again_puts_it_back_once() -> None:
    refit = a_refit()
    letter = a_parked_letter(refit)
    client = signed_in(a_member(refit))
    address = reverse("desk:sent-again", args=[refit.slug, letter.pk])
    assert "is tried again" in client.post(address, follow=True).content.decode()
    letter.refresh_from_db()
    assert (letter.state, letter.attempts, letter.last_error) == (LetterState.WAITING, 0, "")
    assert Notice.objects.get().state == NoticeState.WAITING
    assert "not waiting for that any more" in client.post(address, follow=True).content.decode()


def test_only_a_manager_of_this_refit_may() -> None:
    refit = a_refit()
    letter = a_parked_letter(refit)
    address = reverse("desk:sent-again", args=[refit.slug, letter.pk])
    stranger = signed_in(a_member(a_refit()))
    assert stranger.get(reverse("desk:sent", args=[refit.slug])).status_code == 404
    assert stranger.post(address).status_code == 404
    for role in (Role.CREW, Role.READER):
        assert signed_in(a_member(refit, role)).post(address).status_code == 403
    other = a_refit()
    foreign = reverse("desk:sent-again", args=[other.slug, letter.pk])
    assert signed_in(a_member(other)).post(foreign).status_code == 404
    letter.refresh_from_db()
    assert letter.state == LetterState.PARKED


def test_looking_sends_nothing_and_only_post_acts() -> None:
    refit = a_refit()
    letter = a_parked_letter(refit)
    address = reverse("desk:sent-again", args=[refit.slug, letter.pk])
    assert signed_in(a_member(refit)).get(address).status_code == 405


def test_the_number_of_queries_does_not_grow() -> None:
    refit = a_refit()
    client = signed_in(a_member(refit))
    counts = []
    for rows in (range(1, 3), range(3, 20)):
        for number in rows:
            a_parked_letter(refit, number)
            other = a_parked_letter(refit, number + 100)
            Letter.objects.filter(pk=other.pk).update(
                state=LetterState.SENT, sent_at=NOW + timedelta(minutes=1)
            )
        with CaptureQueriesContext(connection) as queries:
            client.get(reverse("desk:sent", args=[refit.slug]))
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 15

"""Acts on handoffs from the desk."""

from __future__ import annotations

from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from refit.accounts.models import Role
from refit.custody.models import Handoff, HandoffState, Picture
from refit.portal.forms import MOST_PICTURES
from refit.work.models import Refit
from tests.builders import a_package, a_piece, a_place, a_refit, a_vendor
from tests.custody.scene import a_photo

from .people import (
    check_crew_may_not,
    check_get_changes_nothing,
    check_only_members_post,
    errors_at,
    signed_in,
)

pytestmark = pytest.mark.django_db

ACTS = ("ready", "not-ready", "send", "receive", "promise", "agree", "cancel")


def _handoff(refit: Refit, **fields: Any) -> Handoff:
    shop = a_place(refit, vendor=a_vendor(refit))
    piece = a_piece(refit, place=shop, parts=2, since=timezone.now() - timedelta(days=5))
    return Handoff.objects.create(
        refit=refit, piece=piece, origin=shop, destination=a_place(refit), **fields
    )


def _url(handoff: Handoff, act: str) -> str:
    return reverse(f"desk:handoff-{act}", args=[handoff.refit.slug, handoff.pk])


def _state(handoff: Handoff) -> str:
    handoff.refresh_from_db()
    return handoff.state


def test_a_piece_goes_its_way_with_counts_and_conditions() -> None:
    refit = a_refit()
    handoff = _handoff(refit)
    client = signed_in(refit, Role.CREW)
    assert client.post(_url(handoff, "ready")).status_code == 302
    assert _state(handoff) == HandoffState.READY
    client.post(_url(handoff, "send"), {"parts": "2", "condition": "scratch on the foot"})
    assert _state(handoff) == HandoffState.UNDER_WAY
    client.post(_url(handoff, "receive"), {"parts": "1"})
    assert _state(handoff) == HandoffState.RECEIVED
    assert (handoff.sent_parts, handoff.received_parts) == (2, 1)
    assert handoff.sent_condition == "scratch on the foot"
    handoff.piece.refresh_from_db()
    assert handoff.piece.place == handoff.destination
    page = client.get(reverse("desk:piece", args=[refit.slug, handoff.piece_id])).content.decode()
    assert "2 parts left, 1 arrived." in page


def test_ready_can_be_taken_back() -> None:
    refit = a_refit()
    handoff = _handoff(refit, state=HandoffState.READY)
    signed_in(refit).post(_url(handoff, "not-ready"))
    assert _state(handoff) == HandoffState.PLANNED


def test_what_cannot_be_is_told_and_changes_nothing() -> None:
    refit = a_refit()
    handoff = _handoff(refit, state=HandoffState.CANCELLED)
    client = signed_in(refit)
    for act in ("ready", "not-ready", "send", "receive", "cancel"):
        answer = client.post(_url(handoff, act), follow=True)
        assert "was cancelled" in answer.content.decode(), act
        assert _state(handoff) == HandoffState.CANCELLED


def test_sending_twice_sends_once() -> None:
    refit = a_refit()
    handoff = _handoff(refit)
    client = signed_in(refit)
    client.post(_url(handoff, "send"))
    sent_at = Handoff.objects.get().sent_at
    answer = client.post(_url(handoff, "send"), follow=True)
    assert "already under way" in answer.content.decode()
    assert Handoff.objects.get().sent_at == sent_at


def test_a_promise_on_the_telephone_is_noted_with_the_package() -> None:
    refit = a_refit()
    handoff = _handoff(refit)
    package = a_package(
        refit, vendor=handoff.origin.vendor, place=handoff.origin, pieces=[handoff.piece],
        started_at=timezone.now() - timedelta(days=2),
    )  # fmt: skip
    Handoff.objects.update(after_package=package)
    at = (timezone.now() + timedelta(days=6)).strftime("%Y-%m-%dT12:00")
    answer = signed_in(refit, Role.CREW).post(
        _url(handoff, "promise"), {"at": at, "note": "booth is full"}, follow=True
    )
    assert "The promised date is noted." in answer.content.decode()
    package.refresh_from_db()
    assert package.promised is not None
    assert f"{package.promised:%Y-%m-%dT%H:%M}" == at


@pytest.mark.parametrize(
    ("act", "data", "form", "field", "said"),
    [
        ("promise", {"at": ""}, "promise_form", "at", "required"),
        ("promise", {"at": "soon"}, "promise_form", "at", "like 2026-12-04"),
        ("agree", {"carrier": "pigeon"}, "agree_form", "carrier", "available choices"),
        ("send", {"parts": "-1"}, "send_form", "parts", "greater than or equal to 0"),
        ("receive", {"parts": "many"}, "receive_form", "parts", "whole number"),
    ],
)
def test_a_wrong_value_is_named_at_its_field(
    act: str, data: dict[str, Any], form: str, field: str, said: str
) -> None:
    refit = a_refit()
    handoff = _handoff(refit)
    assert said in errors_at(signed_in(refit).post(_url(handoff, act), data), field, form)
    assert _state(handoff) == HandoffState.PLANNED


def test_a_promise_in_the_past_is_refused_in_words() -> None:
    refit = a_refit()
    handoff = _handoff(refit)
    answer = signed_in(refit).post(
        _url(handoff, "promise"), {"at": "2020-01-01T08:00"}, follow=True
    )
    assert "must lie ahead" in answer.content.decode()


def test_a_picture_is_kept_and_what_is_none_is_refused_at_its_field() -> None:
    refit = a_refit()
    handoff = _handoff(refit)
    client = signed_in(refit)
    wrong = SimpleUploadedFile("frame.jpg", b"no picture", "image/jpeg")
    answer = client.post(_url(handoff, "send"), {"picture": wrong})
    assert errors_at(answer, "picture", "send_form")
    assert _state(handoff) == HandoffState.PLANNED
    photo = BytesIO()
    Image.new("RGB", (40, 30), "white").save(photo, "JPEG")
    right = SimpleUploadedFile("frame.jpg", photo.getvalue(), "image/jpeg")
    client.post(_url(handoff, "send"), {"picture": right})
    assert _state(handoff) == HandoffState.UNDER_WAY
    assert Picture.objects.get().handoff == handoff


def test_several_pictures_go_with_one_end_all_or_none() -> None:
    refit = a_refit()
    handoff = _handoff(refit)
    client = signed_in(refit)
    wrong = SimpleUploadedFile("b.jpg", b"no picture", "image/jpeg")
    answer = client.post(_url(handoff, "send"), {"picture": [a_photo("a.jpg"), wrong]})
    assert errors_at(answer, "picture", "send_form")
    many = [a_photo(f"{number}.jpg") for number in range(MOST_PICTURES + 1)]
    answer = client.post(_url(handoff, "send"), {"picture": many})
    assert errors_at(answer, "picture", "send_form")
    assert not Picture.objects.exists()
    three = [a_photo(f"{number}.jpg") for number in range(3)]
    client.post(_url(handoff, "send"), {"picture": three})
    assert Picture.objects.filter(handoff=handoff, end="sent").count() == 3


def test_the_handoff_says_whose_word_is_missing_and_offers_its_receipt() -> None:
    refit = a_refit()
    handoff = _handoff(refit)
    page = signed_in(refit).get(reverse("desk:handoff", args=[refit.slug, handoff.pk]))
    said = page.content.decode()
    assert "Still to be confirmed: that it left" in said
    assert f"/receipts/{handoff.pk}.pdf" in said


def test_the_manager_changes_what_was_agreed() -> None:
    refit = a_refit()
    handoff = _handoff(refit)
    url = _url(handoff, "agree")
    check_crew_may_not(refit, url)
    signed_in(refit).post(url, {"due_at": "2027-01-08T16:00", "carrier": "haulier"})
    handoff.refresh_from_db()
    assert f"{handoff.due_at:%Y-%m-%d %H:%M}" == "2027-01-08 16:00"
    assert handoff.carrier == "haulier"


def test_only_managers_cancel() -> None:
    refit = a_refit()
    handoff = _handoff(refit)
    check_crew_may_not(refit, _url(handoff, "cancel"))
    signed_in(refit).post(_url(handoff, "cancel"), {"note": "they keep it"})
    assert _state(handoff) == HandoffState.CANCELLED


def test_readers_and_strangers_move_nothing() -> None:
    refit = a_refit()
    handoff = _handoff(refit)
    for act in ACTS:
        check_only_members_post(refit, _url(handoff, act))
        check_get_changes_nothing(refit, _url(handoff, act))
    assert _state(handoff) == HandoffState.PLANNED


def test_a_handoff_of_another_refit_is_not_there() -> None:
    refit, foreign = a_refit(), _handoff(a_refit())
    client = signed_in(refit)
    url = reverse("desk:handoff", args=[refit.slug, foreign.pk])
    assert client.get(url).status_code == 404
    for act in ACTS:
        url = reverse(f"desk:handoff-{act}", args=[refit.slug, foreign.pk])
        assert client.post(url).status_code == 404
    assert _state(foreign) == HandoffState.PLANNED


def test_a_move_is_planned_by_hand() -> None:
    refit = a_refit()
    piece, there = a_piece(refit, place=a_place(refit)), a_place(refit)
    url = reverse("desk:handoff-add", args=[refit.slug, piece.pk])
    check_only_members_post(refit, url)
    check_crew_may_not(refit, url)
    client = signed_in(refit)
    data = {"destination": there.pk, "carrier": "crew"}
    assert client.post(url, data).status_code == 302
    assert Handoff.objects.get().destination == there
    assert "already planned" in errors_at(client.post(url, data), None)
    assert errors_at(client.post(url, {"destination": piece.place_id, "carrier": "crew"}),
                     "destination")  # fmt: skip
    assert Handoff.objects.count() == 1


def test_a_piece_that_is_nowhere_cannot_be_sent_on_its_way() -> None:
    refit = a_refit()
    piece = a_piece(refit, place=None)
    url = reverse("desk:handoff-add", args=[refit.slug, piece.pk])
    answer = signed_in(refit).get(url, follow=True)
    assert "Say first where it is" in answer.content.decode()

"""Sending and receiving: where the piece is afterwards, and what is refused."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from refit.custody.models import End, Handoff, HandoffState, Picture
from refit.custody.pictures import NotAPicture
from refit.custody.services import NOT_RECORDED, receive, say_ready, send
from refit.custody.transitions import IllegalMove
from refit.work.models import JournalEntry, Piece
from tests.builders import A_MANAGER, NOW, a_handoff, a_package, a_piece, a_place
from tests.custody.scene import LATER, a_photo, a_scene

pytestmark = pytest.mark.django_db


def test_a_piece_that_was_sent_is_at_no_place() -> None:
    scene = a_scene()
    send(handoff=scene.handoff, actor=A_MANAGER, now=NOW, condition="no scratches", parts=15)
    stored = Handoff.objects.get()
    assert (stored.state, stored.sent_at, stored.sent_by, stored.sent_parts) == (
        HandoffState.UNDER_WAY,
        NOW,
        "Runa Ostlund",
        15,
    )
    assert stored.sent_condition == "no scratches"
    frame = Piece.objects.get()
    assert (frame.place, frame.since, frame.fitted) == (None, NOW, False)


def test_a_piece_that_was_received_is_at_the_destination() -> None:
    scene = a_scene()
    send(handoff=scene.handoff, actor=A_MANAGER, now=NOW)
    receive(handoff=scene.handoff, actor=A_MANAGER, now=LATER, condition="as it left", parts=15)
    frame = Piece.objects.get()
    assert (frame.place, frame.since, frame.fitted) == (scene.home, LATER, False)
    stored = Handoff.objects.get()
    assert (stored.state, stored.received_at) == (HandoffState.RECEIVED, LATER)
    assert stored.say_parts() == ""


def test_the_journal_keeps_where_it_was_and_where_it_is() -> None:
    scene = a_scene()
    send(handoff=scene.handoff, actor=A_MANAGER, now=NOW)
    sent = JournalEntry.objects.get(verb="sent")
    assert (sent.before["place"], sent.after["place"]) == ("Eiderholm shop", None)
    receive(handoff=scene.handoff, actor=A_MANAGER, now=LATER)
    received = JournalEntry.objects.get(verb="received")
    assert (received.before["state"], received.after["place"]) == ("under way", "Home shed")


def test_a_missing_part_is_said() -> None:
    scene = a_scene()
    send(handoff=scene.handoff, actor=A_MANAGER, now=NOW, parts=15)
    receive(handoff=scene.handoff, actor=A_MANAGER, now=LATER, parts=14)
    stored = Handoff.objects.get()
    assert stored.parts_missing == 1
    assert stored.say_parts() == "15 parts left, 14 arrived."


def test_parts_that_nobody_counted_at_the_start_are_those_of_the_piece() -> None:
    scene = a_scene()
    send(handoff=scene.handoff, actor=A_MANAGER, now=NOW)
    receive(handoff=scene.handoff, actor=A_MANAGER, now=LATER, parts=16)
    assert Handoff.objects.get().parts_missing == -1


def test_receiving_what_nobody_sent_is_allowed_and_says_so() -> None:
    scene = a_scene()
    receive(handoff=scene.handoff, actor=A_MANAGER, now=NOW)
    stored = Handoff.objects.get()
    assert (stored.state, stored.sent_at, stored.sent_by) == (
        HandoffState.RECEIVED,
        NOW,
        NOT_RECORDED,
    )
    assert Piece.objects.get().place == scene.home


def test_a_piece_that_leaves_a_shop_without_a_word_finishes_the_work_there() -> None:
    scene = a_scene()
    send(handoff=scene.handoff, actor=A_MANAGER, now=NOW)
    scene.coat.refresh_from_db()
    assert scene.coat.finished_at == NOW


def test_work_that_a_piece_skipped_is_not_finished_by_its_arrival_elsewhere() -> None:
    scene = a_scene()
    scene.frame.place = scene.home
    scene.frame.save()
    yard = a_place(scene.refit, name="Rail yard")
    onward = a_handoff(scene.frame, scene.shop, yard, after_package=scene.coat)
    receive(handoff=onward, actor=A_MANAGER, now=NOW)
    scene.coat.refresh_from_db()
    assert scene.coat.finished_at is None
    scene.frame.refresh_from_db()
    assert scene.frame.place == yard


def test_our_own_packages_are_not_finished_by_a_piece_that_leaves() -> None:
    scene = a_scene()
    sanding = a_package(scene.refit, place=scene.home, pieces=[scene.frame], started_at=NOW)
    scene.frame.place = scene.home
    scene.frame.save()
    out = a_handoff(scene.frame, scene.home, scene.shop, after_package=sanding)
    send(handoff=out, actor=A_MANAGER, now=LATER)
    sanding.refresh_from_db()
    assert sanding.finished_at is None


@pytest.mark.parametrize("first", ["planned", "ready"])
def test_sending_twice_gets_a_sentence_and_changes_nothing(first: str) -> None:
    scene = a_scene()
    if first == "ready":
        say_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=NOW)
    send(handoff=scene.handoff, actor=A_MANAGER, now=NOW)
    entries = JournalEntry.objects.count()
    with pytest.raises(IllegalMove, match="already under way to Home shed"):
        send(handoff=Handoff.objects.get(), actor=scene.vendor_actor, now=LATER)
    assert Handoff.objects.get().sent_at == NOW
    assert JournalEntry.objects.count() == entries


def test_receiving_twice_keeps_the_first_receipt() -> None:
    scene = a_scene()
    receive(handoff=scene.handoff, actor=A_MANAGER, now=NOW, parts=15)
    with pytest.raises(IllegalMove, match="already been received at Home shed"):
        receive(handoff=Handoff.objects.get(), actor=scene.vendor_actor, now=LATER, parts=1)
    stored = Handoff.objects.get()
    assert (stored.received_by, stored.received_parts) == ("Runa Ostlund", 15)


def test_a_piece_cannot_leave_from_where_the_record_does_not_have_it() -> None:
    scene = a_scene()
    back = a_handoff(scene.frame, scene.home, scene.shop)
    with pytest.raises(IllegalMove, match="The record has Top frame at Eiderholm shop"):
        send(handoff=back, actor=A_MANAGER, now=NOW)
    assert Piece.objects.get().place == scene.shop


def test_a_piece_under_way_to_one_place_cannot_arrive_at_another_or_leave_again() -> None:
    scene = a_scene()
    onward = a_handoff(scene.frame, scene.home, scene.shop)
    send(handoff=scene.handoff, actor=A_MANAGER, now=NOW)
    for act in (send, receive):
        with pytest.raises(IllegalMove, match="under way to Home shed"):
            act(handoff=onward, actor=A_MANAGER, now=LATER)
    assert Piece.objects.get().place is None


def test_what_is_fitted_to_the_boat_goes_with_it() -> None:
    scene = a_scene()
    boat = a_piece(scene.refit, is_boat=True, name="Sallow Tern", place=scene.home)
    hatch = a_piece(scene.refit, name="Hatch", place=scene.home, fitted=True)
    trip = a_handoff(boat, scene.home, scene.shop)
    send(handoff=trip, actor=A_MANAGER, now=NOW)
    hatch.refresh_from_db()
    assert (hatch.place, hatch.fitted) == (None, True)
    receive(handoff=trip, actor=A_MANAGER, now=LATER)
    hatch.refresh_from_db()
    scene.frame.refresh_from_db()
    assert (hatch.place, hatch.fitted) == (scene.shop, True)
    assert scene.frame.since == NOW - timedelta(days=5)


def test_pictures_belong_to_the_end_at_which_they_were_taken() -> None:
    scene = a_scene()
    send(handoff=scene.handoff, actor=A_MANAGER, now=NOW, pictures=[a_photo(), a_photo()])
    receive(handoff=scene.handoff, actor=A_MANAGER, now=LATER, pictures=[a_photo()])
    assert Picture.objects.filter(handoff=scene.handoff, end=End.SENT).count() == 2
    assert Picture.objects.filter(handoff=scene.handoff, end=End.RECEIVED).count() == 1


def test_one_file_that_is_no_picture_stops_the_whole_receipt() -> None:
    scene = a_scene()
    bad = SimpleUploadedFile("notes.txt", b"these are notes")
    with pytest.raises(NotAPicture, match="notes"):
        receive(handoff=scene.handoff, actor=A_MANAGER, now=NOW, pictures=[a_photo(), bad])
    assert Handoff.objects.get().state == HandoffState.PLANNED
    assert Piece.objects.get().place == scene.shop
    assert not Picture.objects.exists()
    assert not JournalEntry.objects.exists()

"""The chain of custody has no hole and no overlap, whatever happened to the piece."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from refit.custody.chain import Held, chain, say_to_confirm
from refit.custody.models import Carrier, Handoff
from refit.custody.services import cancel, receive, send
from refit.work.models import Piece
from tests.builders import A_MANAGER, NOW, a_handoff, a_piece, a_place, a_refit, a_vendor
from tests.custody.scene import LATER, Scene, a_scene

pytestmark = pytest.mark.django_db


def the_chain(piece: Piece) -> list[Held]:
    fresh = Piece.objects.select_related("place__vendor").get(pk=piece.pk)
    return chain(fresh, Handoff.objects.filter(piece=piece).with_names())


def said(scene: Scene) -> list[tuple[str, str]]:
    return [(held.where, held.custodian) for held in the_chain(scene.frame)]


def test_a_piece_that_never_moved_has_one_stay() -> None:
    scene = a_scene()
    (stay,) = the_chain(scene.frame)
    assert (stay.where, stay.custodian) == ("Eiderholm shop", "Eiderholm Coatings")
    assert (stay.since, stay.until) == (scene.frame.since, None)


def test_a_way_has_its_own_custodian_and_the_stay_after_it_the_condition_of_arrival() -> None:
    scene = a_scene()
    send(handoff=scene.handoff, actor=A_MANAGER, now=NOW, condition="clean", parts=15)
    assert said(scene)[-1] == ("Eiderholm shop → Home shed", "our crew, driving")
    receive(handoff=scene.handoff, actor=A_MANAGER, now=LATER, condition="scratch", parts=14)
    stay, way, home = the_chain(scene.frame)
    assert (stay.since, stay.until, way.since, way.until) == (None, NOW, NOW, LATER)
    assert (way.condition, way.parts, way.note) == ("clean", 15, "15 parts left, 14 arrived.")
    assert (home.condition, home.parts, home.since, home.until) == ("scratch", 14, LATER, None)


def test_one_that_turned_back_stays_where_it_was() -> None:
    scene = a_scene()
    Handoff.objects.filter(pk=scene.handoff.pk).update(carrier=Carrier.HAULIER)
    scene.handoff.refresh_from_db()
    send(handoff=scene.handoff, actor=A_MANAGER, now=NOW)
    cancel(handoff=scene.handoff, actor=A_MANAGER, now=LATER)
    assert said(scene) == [
        ("Eiderholm shop", "Eiderholm Coatings"),
        ("Eiderholm shop → Home shed", "a haulier"),
        ("Eiderholm shop", "Eiderholm Coatings"),
    ]
    assert the_chain(scene.frame)[1].note == "It turned back."


def test_a_place_corrected_by_hand_is_said() -> None:
    scene = a_scene()
    receive(handoff=scene.handoff, actor=A_MANAGER, now=NOW)
    elsewhere = a_place(scene.refit, name="Barn")
    Piece.objects.filter(pk=scene.frame.pk).update(place=elsewhere, since=LATER)
    *_, before, last = the_chain(scene.frame)
    assert before.note == "The record was corrected by hand: it is at Barn."
    assert (before.until, last.where, last.since) == (LATER, "Barn", LATER)


def test_a_piece_put_on_the_boat_ends_its_stay() -> None:
    scene = a_scene()
    receive(handoff=scene.handoff, actor=A_MANAGER, now=NOW)
    Piece.objects.filter(pk=scene.frame.pk).update(fitted=True, since=LATER)
    *_, home, boat = the_chain(scene.frame)
    assert (home.where, home.until, boat.where, boat.until) == (
        "Home shed", LATER, "on the boat", None,
    )  # fmt: skip


def test_it_says_whose_word_is_missing() -> None:
    scene = a_scene()
    assert say_to_confirm(scene.handoff) == (
        "Still to be confirmed: that it left (Eiderholm Coatings) and that it arrived (our crew)."
    )
    send(handoff=scene.handoff, actor=A_MANAGER, now=NOW)
    assert say_to_confirm(scene.handoff) == "Still to be confirmed: that it arrived (our crew)."
    receive(handoff=scene.handoff, actor=A_MANAGER, now=LATER)
    assert say_to_confirm(scene.handoff) == ""


def test_of_one_that_was_found_on_the_bench_nobody_confirmed_that_it_left() -> None:
    scene = a_scene()
    receive(handoff=scene.handoff, actor=A_MANAGER, now=NOW)
    assert say_to_confirm(scene.handoff) == "Nobody confirmed that it left Eiderholm shop."
    assert the_chain(scene.frame)[1].note == "Nobody noted when it left."


class Histories(TestCase):
    @settings(deadline=None, max_examples=60)
    @given(st.lists(st.sampled_from(["arrive", "found", "turn back"]), max_size=7))
    def test_at_every_moment_one_custodian(self, acts: list[str]) -> None:
        refit = a_refit()
        places = [a_place(refit), a_place(refit, vendor=a_vendor(refit))]
        piece = a_piece(refit, place=places[0], since=NOW)
        now: datetime = NOW
        for act in acts:
            piece.refresh_from_db()
            origin = piece.place
            assert origin is not None
            other = next(place for place in places if place != origin)
            handoff = a_handoff(piece, origin, other)
            now += timedelta(hours=1)
            if act != "found":
                send(handoff=handoff, actor=A_MANAGER, now=now)
                now += timedelta(hours=1)
            (cancel if act == "turn back" else receive)(handoff=handoff, actor=A_MANAGER, now=now)
        held = the_chain(piece)
        assert len(held) == 1 + 2 * len(acts)
        assert [one.until is None for one in held] == [False] * (2 * len(acts)) + [True]
        for one, following in pairwise(held):
            assert one.until == following.since
            assert one.custodian
        piece.refresh_from_db()
        assert piece.place is not None
        assert held[-1].where == piece.place.name

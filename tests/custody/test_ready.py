"""“It is ready”, and taking it back."""

from __future__ import annotations

from datetime import timedelta

import pytest

from refit.custody.models import Handoff, HandoffState
from refit.custody.services import say_ready, send, take_back_ready
from refit.custody.transitions import IllegalMove
from refit.work.models import JournalEntry, PieceUse
from tests.builders import A_MANAGER, NOW, a_dependency, a_handoff, a_package, a_piece
from tests.custody.scene import LATER, a_scene

pytestmark = pytest.mark.django_db


def test_ready_is_noted_with_who_and_when_and_finishes_the_package() -> None:
    scene = a_scene()
    say_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=NOW)
    stored = Handoff.objects.get()
    assert (stored.state, stored.ready_at, stored.ready_by) == (
        HandoffState.READY,
        NOW,
        "Eiderholm Coatings",
    )
    scene.coat.refresh_from_db()
    assert scene.coat.finished_at == NOW
    entry = JournalEntry.objects.get(verb="said ready")
    assert entry.before["state"] == "planned"
    assert entry.after["state"] == "ready"


def test_ready_raises_the_version_that_makes_a_plan_stale() -> None:
    scene = a_scene()
    before = scene.refit.version
    say_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=NOW)
    scene.refit.refresh_from_db()
    assert scene.refit.version > before


def test_ready_includes_the_hold_so_the_work_ended_a_hold_earlier() -> None:
    scene = a_scene()
    scene.coat.hold_minutes = 24 * 60
    scene.coat.save()
    say_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=NOW)
    scene.coat.refresh_from_db()
    # Ready on Wednesday 09:00 after a cure of 24 h: the spraying ended on Tuesday 09:00.
    assert scene.coat.finished_at == NOW - timedelta(hours=24)


def test_work_never_ends_before_it_started_whatever_the_hold() -> None:
    scene = a_scene()
    scene.coat.hold_minutes = 24 * 60
    scene.coat.started_at = NOW - timedelta(hours=2)
    scene.coat.save()
    say_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=NOW)
    scene.coat.refresh_from_db()
    assert scene.coat.finished_at == scene.coat.started_at == NOW - timedelta(hours=2)


def test_a_start_that_nobody_noted_is_when_the_piece_arrived() -> None:
    scene = a_scene()
    scene.coat.started_at = None
    scene.coat.save()
    say_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=NOW)
    scene.coat.refresh_from_db()
    assert scene.coat.started_at == scene.frame.since


def test_saying_it_twice_gets_a_sentence_and_changes_nothing() -> None:
    scene = a_scene()
    say_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=NOW)
    entries = JournalEntry.objects.count()
    with pytest.raises(IllegalMove, match="already said to be ready by Eiderholm Coatings"):
        say_ready(handoff=Handoff.objects.get(), actor=A_MANAGER, now=LATER)
    assert JournalEntry.objects.count() == entries
    assert Handoff.objects.get().ready_at == NOW


def test_two_people_who_opened_the_page_together_do_it_once() -> None:
    scene = a_scene()
    first, second = Handoff.objects.get(), Handoff.objects.get()
    say_ready(handoff=first, actor=scene.vendor_actor, now=NOW)
    with pytest.raises(IllegalMove):
        say_ready(handoff=second, actor=A_MANAGER, now=NOW)
    assert JournalEntry.objects.filter(verb="said ready").count() == 1


def test_a_piece_that_never_arrived_cannot_be_ready() -> None:
    scene = a_scene()
    scene.frame.place = scene.home
    scene.frame.save()
    with pytest.raises(IllegalMove, match="has not arrived at Eiderholm shop"):
        say_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=NOW)
    scene.coat.refresh_from_db()
    assert scene.coat.finished_at is None
    assert Handoff.objects.get().state == HandoffState.PLANNED


def test_a_package_with_two_pieces_is_finished_when_both_are_ready() -> None:
    scene = a_scene()
    brackets = a_piece(scene.refit, name="Brackets", place=scene.shop, since=NOW)
    PieceUse.objects.create(package=scene.coat, piece=brackets)
    other = a_handoff(brackets, scene.shop, scene.home, after_package=scene.coat)
    say_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=NOW)
    scene.coat.refresh_from_db()
    assert scene.coat.finished_at is None
    say_ready(handoff=other, actor=scene.vendor_actor, now=LATER)
    scene.coat.refresh_from_db()
    assert scene.coat.finished_at == LATER


def test_packages_of_the_next_stay_at_the_same_shop_are_left_alone() -> None:
    scene = a_scene()
    fittings = a_package(
        scene.refit, vendor=scene.vendor, place=scene.shop, pieces=[scene.frame], code="F07"
    )
    buffing = a_package(
        scene.refit, vendor=scene.vendor, place=scene.shop, pieces=[scene.frame], code="F08"
    )
    a_dependency(fittings, buffing)
    a_handoff(scene.frame, scene.home, scene.shop, for_package=fittings)
    say_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=NOW)
    for package in (scene.coat, fittings, buffing):
        package.refresh_from_db()
    assert scene.coat.finished_at == NOW
    assert fittings.finished_at is None
    assert buffing.finished_at is None


def test_an_earlier_package_of_the_same_stay_is_finished_with_it() -> None:
    scene = a_scene()
    blasting = a_package(
        scene.refit, vendor=scene.vendor, place=scene.shop, pieces=[scene.frame], code="F02"
    )
    a_dependency(blasting, scene.coat)
    say_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=NOW)
    blasting.refresh_from_db()
    assert blasting.finished_at == NOW


def test_taking_it_back_restores_handoff_and_package() -> None:
    scene = a_scene()
    scene.coat.remaining_minutes = 240
    scene.coat.save()
    say_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=NOW)
    take_back_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=LATER)
    stored = Handoff.objects.get()
    assert (stored.state, stored.ready_at, stored.ready_by) == (HandoffState.PLANNED, None, "")
    scene.coat.refresh_from_db()
    assert scene.coat.finished_at is None
    assert scene.coat.remaining_minutes == 240
    assert scene.coat.started_at == scene.frame.since


def test_taking_it_back_leaves_a_package_that_somebody_changed_since() -> None:
    scene = a_scene()
    say_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=NOW)
    scene.coat.refresh_from_db()
    scene.coat.finished_at = NOW - timedelta(hours=3)
    scene.coat.save()
    take_back_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=LATER)
    scene.coat.refresh_from_db()
    assert scene.coat.finished_at == NOW - timedelta(hours=3)


def test_taking_back_what_was_collected_gets_a_sentence() -> None:
    scene = a_scene()
    say_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=NOW)
    send(handoff=scene.handoff, actor=A_MANAGER, now=LATER)
    with pytest.raises(IllegalMove, match="already under way to Home shed"):
        take_back_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=LATER)

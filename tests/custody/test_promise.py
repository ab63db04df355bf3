"""Promising a date."""

from __future__ import annotations

from datetime import timedelta

import pytest

from refit.custody.models import Handoff, HandoffState
from refit.custody.services import promise, say_ready
from refit.custody.transitions import IllegalMove
from refit.work.models import JournalEntry, PieceUse
from tests.builders import A_MANAGER, NOW, a_handoff, a_package, a_piece
from tests.custody.scene import LATER, a_scene

pytestmark = pytest.mark.django_db

FRIDAY = NOW + timedelta(days=9)


def test_a_promise_stands_on_the_handoff_and_leaves_what_was_agreed() -> None:
    scene = a_scene()
    agreed = scene.handoff.due_at
    promise(
        handoff=scene.handoff, at=FRIDAY, actor=scene.vendor_actor, now=NOW, note=" oven is down "
    )
    stored = Handoff.objects.get()
    assert (stored.promised_at, stored.promise_note) == (FRIDAY, "oven is down")
    assert stored.due_at == agreed
    assert stored.expected_at == FRIDAY
    assert stored.state == HandoffState.PLANNED


def test_the_package_is_promised_a_hold_earlier() -> None:
    scene = a_scene()
    scene.coat.hold_minutes = 36 * 60
    scene.coat.save()
    promise(handoff=scene.handoff, at=FRIDAY, actor=scene.vendor_actor, now=NOW)
    scene.coat.refresh_from_db()
    assert scene.coat.promised == FRIDAY - timedelta(hours=36)


def test_a_package_with_two_pieces_is_promised_for_the_later_one() -> None:
    scene = a_scene()
    brackets = a_piece(scene.refit, place=scene.shop)
    PieceUse.objects.create(package=scene.coat, piece=brackets)
    other = a_handoff(brackets, scene.shop, scene.home, after_package=scene.coat)
    promise(handoff=scene.handoff, at=FRIDAY, actor=scene.vendor_actor, now=NOW)
    promise(handoff=other, at=FRIDAY - timedelta(days=3), actor=scene.vendor_actor, now=NOW)
    scene.coat.refresh_from_db()
    assert scene.coat.promised == FRIDAY


def test_packages_of_other_vendors_are_left_alone() -> None:
    scene = a_scene()
    fitting = a_package(scene.refit, place=scene.home, pieces=[scene.frame])
    promise(handoff=scene.handoff, at=FRIDAY, actor=scene.vendor_actor, now=NOW)
    fitting.refresh_from_db()
    assert fitting.promised is None


def test_the_journal_says_from_what_to_what_and_why() -> None:
    scene = a_scene()
    promise(handoff=scene.handoff, at=FRIDAY, actor=scene.vendor_actor, now=NOW, note="oven")
    entry = JournalEntry.objects.get(verb="promised", subject_kind="handoff")
    assert entry.actor_name == "Eiderholm Coatings"
    assert entry.before["promised_at"] is None
    assert entry.after["promised_at"].startswith(f"{FRIDAY:%Y-%m-%d}")
    assert entry.note == "oven"
    package_entry = JournalEntry.objects.get(verb="promised", subject_kind="workpackage")
    assert package_entry.subject_id == scene.coat.pk


def test_a_date_that_is_past_is_no_promise() -> None:
    scene = a_scene()
    with pytest.raises(IllegalMove, match="must lie ahead"):
        promise(handoff=scene.handoff, at=NOW, actor=scene.vendor_actor, now=NOW)
    assert Handoff.objects.get().promised_at is None


def test_the_same_promise_twice_is_written_once() -> None:
    scene = a_scene()
    promise(handoff=scene.handoff, at=FRIDAY, actor=scene.vendor_actor, now=NOW)
    entries = JournalEntry.objects.count()
    with pytest.raises(IllegalMove, match="already promised"):
        promise(handoff=Handoff.objects.get(), at=FRIDAY, actor=scene.vendor_actor, now=LATER)
    assert JournalEntry.objects.count() == entries


def test_what_is_ready_cannot_be_promised_for_another_day() -> None:
    scene = a_scene()
    say_ready(handoff=scene.handoff, actor=scene.vendor_actor, now=NOW)
    with pytest.raises(IllegalMove, match="Take that back first"):
        promise(handoff=scene.handoff, at=FRIDAY, actor=A_MANAGER, now=LATER)
    assert Handoff.objects.get().promised_at is None


def test_overdue_goes_by_the_last_promise() -> None:
    scene = a_scene(due_at=NOW - timedelta(days=1))
    assert Handoff.objects.overdue(NOW).count() == 1
    assert scene.handoff.is_overdue(NOW)
    promise(handoff=scene.handoff, at=FRIDAY, actor=scene.vendor_actor, now=NOW)
    assert Handoff.objects.overdue(NOW).count() == 0
    assert not scene.handoff.is_overdue(NOW)
    assert Handoff.objects.overdue(FRIDAY + timedelta(minutes=1)).count() == 1

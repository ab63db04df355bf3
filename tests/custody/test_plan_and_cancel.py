"""Handoffs planned by hand, agreed, cancelled; and the table of legal moves."""

from __future__ import annotations

from datetime import timedelta

import pytest

from refit.custody.models import Carrier, Handoff, HandoffState
from refit.custody.services import (
    agree,
    cancel,
    plan_handoff,
    promise,
    receive,
    say_ready,
    send,
    take_back_ready,
)
from refit.custody.transitions import MOVES, Act, IllegalMove, allowed
from refit.work.models import JournalEntry, Piece
from tests.builders import A_MANAGER, NOW, a_place, a_refit
from tests.custody.scene import LATER, a_scene

pytestmark = pytest.mark.django_db


def test_a_handoff_by_hand_is_planned_and_in_the_journal() -> None:
    scene = a_scene()
    yard = a_place(scene.refit, name="Rail yard")
    handoff = plan_handoff(
        piece=scene.frame,
        origin=scene.home,
        destination=yard,
        actor=A_MANAGER,
        now=NOW,
        carrier=Carrier.HAULIER,
        due_at=LATER,
    )
    assert (handoff.state, handoff.carrier, handoff.due_at) == (
        HandoffState.PLANNED,
        Carrier.HAULIER,
        LATER,
    )
    assert JournalEntry.objects.get(verb="planned").subject_id == handoff.pk


def test_the_same_handoff_is_planned_once() -> None:
    scene = a_scene()
    yard = a_place(scene.refit)

    def plan_it() -> Handoff:
        return plan_handoff(
            piece=scene.frame, origin=scene.home, destination=yard, actor=A_MANAGER, now=NOW
        )

    plan_it()
    with pytest.raises(IllegalMove, match="already planned"):
        plan_it()
    assert Handoff.objects.count() == 2


def test_a_handoff_leads_to_another_place_of_the_same_refit() -> None:
    scene = a_scene()
    with pytest.raises(IllegalMove, match="the place where it is"):
        plan_handoff(
            piece=scene.frame, origin=scene.shop, destination=scene.shop, actor=A_MANAGER, now=NOW
        )
    strange = a_place(a_refit())
    with pytest.raises(IllegalMove, match="another refit"):
        plan_handoff(
            piece=scene.frame, origin=scene.shop, destination=strange, actor=A_MANAGER, now=NOW
        )
    assert Handoff.objects.count() == 1


def test_what_was_agreed_is_changed_by_the_manager_and_noted() -> None:
    scene = a_scene()
    agree(handoff=scene.handoff, due_at=LATER, carrier=Carrier.VENDOR, actor=A_MANAGER, now=NOW)
    stored = Handoff.objects.get()
    assert (stored.due_at, stored.carrier) == (LATER, Carrier.VENDOR)
    assert JournalEntry.objects.get(verb="agreed").before["carrier"] == "crew"
    agree(handoff=stored, due_at=LATER, carrier=Carrier.VENDOR, actor=A_MANAGER, now=NOW)
    assert JournalEntry.objects.filter(verb="agreed").count() == 1


def test_cancelling_what_is_planned_leaves_the_piece_where_it_is() -> None:
    scene = a_scene()
    cancel(handoff=scene.handoff, actor=A_MANAGER, now=NOW)
    assert Handoff.objects.get().state == HandoffState.CANCELLED
    frame = Piece.objects.get()
    assert (frame.place, frame.since) == (scene.shop, NOW - timedelta(days=5))


def test_cancelling_on_the_road_means_that_it_turned_back() -> None:
    scene = a_scene()
    send(handoff=scene.handoff, actor=A_MANAGER, now=NOW)
    cancel(handoff=scene.handoff, actor=A_MANAGER, now=LATER)
    frame = Piece.objects.get()
    assert (frame.place, frame.since) == (scene.shop, LATER)


ACTS = {
    Act.PROMISE: lambda handoff: promise(
        handoff=handoff, at=LATER + timedelta(days=1), actor=A_MANAGER, now=LATER
    ),
    Act.SAY_READY: lambda handoff: say_ready(handoff=handoff, actor=A_MANAGER, now=LATER),
    Act.TAKE_BACK_READY: lambda handoff: take_back_ready(
        handoff=handoff, actor=A_MANAGER, now=LATER
    ),
    Act.SEND: lambda handoff: send(handoff=handoff, actor=A_MANAGER, now=LATER),
    Act.RECEIVE: lambda handoff: receive(handoff=handoff, actor=A_MANAGER, now=LATER),
    Act.CANCEL: lambda handoff: cancel(handoff=handoff, actor=A_MANAGER, now=LATER),
}
PATHS = {
    HandoffState.PLANNED: [],
    HandoffState.READY: [Act.SAY_READY],
    HandoffState.UNDER_WAY: [Act.SEND],
    HandoffState.RECEIVED: [Act.RECEIVE],
    HandoffState.CANCELLED: [Act.CANCEL],
}


@pytest.mark.parametrize("state", list(HandoffState))
@pytest.mark.parametrize("act", list(Act))
def test_every_act_in_every_state_follows_the_table_or_changes_nothing(
    state: HandoffState, act: Act
) -> None:
    scene = a_scene()
    for step in PATHS[state]:
        ACTS[step](scene.handoff)
    before = Handoff.objects.values().get()
    assert before["state"] == state
    if allowed(act, state):
        ACTS[act](scene.handoff)
        assert Handoff.objects.get().state == MOVES[act][state]
    else:
        with pytest.raises(IllegalMove) as why:
            ACTS[act](scene.handoff)
        assert str(why.value).endswith(".")
        assert Handoff.objects.values().get() == before

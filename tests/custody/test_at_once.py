"""Two people press at the same moment: one does it, the other reads a sentence."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable
from functools import partial

import pytest
from django.db import DatabaseError, connection

from refit.custody.models import Handoff, HandoffState
from refit.custody.services import receive, say_ready, send
from refit.custody.transitions import IllegalMove
from refit.work.models import JournalEntry, Piece, PieceEffect, PieceUse, WorkPackage
from refit.work.services import Refused, finish_package
from tests.builders import A_MANAGER, NOW, a_handoff, a_piece
from tests.custody.scene import LATER, a_scene

pytestmark = pytest.mark.django_db(transaction=True)


def together(*acts: Callable[[], object]) -> list[str]:
    """Run all of them at once; what each came to, "done" or the sentence."""
    outcomes: list[str] = []
    start = threading.Barrier(len(acts))

    def run(act: Callable[[], object]) -> None:
        try:
            start.wait()
            act()
            outcomes.append("done")
        except (IllegalMove, DatabaseError) as why:
            outcomes.append(str(why))
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(act,)) for act in acts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sorted(outcomes)


@pytest.mark.parametrize(
    ("act", "verb"), [(say_ready, "said ready"), (send, "sent"), (receive, "received")]
)
def test_the_same_act_four_times_at_once_is_done_once(
    act: Callable[..., object], verb: str
) -> None:
    scene = a_scene()
    pk = scene.handoff.pk
    outcomes = together(
        *[lambda: act(handoff=Handoff.objects.get(pk=pk), actor=A_MANAGER, now=LATER)] * 4
    )
    assert outcomes.count("done") == 1
    assert len(outcomes) == 4
    assert JournalEntry.objects.filter(verb=verb).count() == 1


def test_one_piece_sent_two_ways_at_once_goes_one_way() -> None:
    scene = a_scene()
    other = a_handoff(scene.frame, scene.shop, scene.home)
    outcomes = together(
        *[
            lambda pk=pk: send(handoff=Handoff.objects.get(pk=pk), actor=A_MANAGER, now=LATER)
            for pk in (scene.handoff.pk, other.pk)
        ]
    )
    assert outcomes.count("done") == 1
    assert Handoff.objects.filter(state=HandoffState.UNDER_WAY).count() == 1
    assert Piece.objects.get().place is None


def test_both_pieces_of_a_package_said_ready_at_once_finish_it() -> None:
    for _ in range(5):
        scene = a_scene()
        brackets = a_piece(scene.refit, place=scene.shop, since=NOW)
        PieceUse.objects.create(package=scene.coat, piece=brackets)
        other = a_handoff(brackets, scene.shop, scene.home, after_package=scene.coat)
        outcomes = together(
            *[
                lambda pk=pk: say_ready(
                    handoff=Handoff.objects.get(pk=pk), actor=A_MANAGER, now=LATER
                )
                for pk in (scene.handoff.pk, other.pk)
            ]
        )
        assert outcomes == ["done", "done"]
        scene.coat.refresh_from_db()
        assert scene.coat.finished_at == LATER


def test_a_vendor_says_ready_while_the_crew_finishes_the_package() -> None:
    for _ in range(5):
        scene = a_scene()
        PieceUse.objects.update(effect=PieceEffect.TAKES_OFF)
        Piece.objects.update(fitted=True)

        def finish(package: WorkPackage) -> None:
            with contextlib.suppress(Refused):
                finish_package(package=package, at=LATER, actor=A_MANAGER, now=LATER)

        outcomes = together(
            partial(say_ready, handoff=scene.handoff, actor=A_MANAGER, now=LATER),
            partial(finish, scene.coat),
        )
        assert outcomes == ["done", "done"]
        assert JournalEntry.objects.filter(verb="finished", subject_id=scene.coat.pk).count() == 1

"""Whatever people press, in whatever order: a piece is at one place, or under way, never both."""

from __future__ import annotations

from datetime import timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from refit.custody.models import Handoff, HandoffState
from refit.custody.services import cancel, promise, receive, say_ready, send, take_back_ready
from refit.custody.transitions import IllegalMove
from refit.work.models import Piece
from tests.builders import A_MANAGER, NOW, a_handoff, a_package, a_piece, a_place, a_refit, a_vendor

ACTS = ("promise", "ready", "take back", "send", "receive", "cancel")
STEPS = st.lists(st.tuples(st.sampled_from(ACTS), st.integers(0, 8)), min_size=1, max_size=25)


class Histories(TestCase):
    """A class, because hypothesis needs one database transaction an example."""

    @settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
    @given(steps=STEPS)
    def test_every_piece_is_at_one_place_or_under_way(self, steps: list[tuple[str, int]]) -> None:
        refit = a_refit()
        vendor = a_vendor(refit)
        home, shop, yard = a_place(refit), a_place(refit, vendor=vendor), a_place(refit)
        handoffs = []
        for number in range(3):
            piece = a_piece(refit, place=home, is_boat=number == 0, since=NOW - timedelta(days=9))
            work = a_package(refit, vendor=vendor, place=shop, pieces=[piece])
            handoffs += [
                a_handoff(piece, home, shop, for_package=work),
                a_handoff(piece, shop, yard, after_package=work),
                a_handoff(piece, yard, home),
            ]
        now = NOW
        for act, which in steps:
            now += timedelta(minutes=10)
            handoff = Handoff.objects.get(pk=handoffs[which].pk)
            before = Handoff.objects.values().get(pk=handoff.pk)
            try:
                match act:
                    case "promise":
                        promise(
                            handoff=handoff, at=now + timedelta(days=2), actor=A_MANAGER, now=now
                        )
                    case "ready":
                        say_ready(handoff=handoff, actor=A_MANAGER, now=now)
                    case "take back":
                        take_back_ready(handoff=handoff, actor=A_MANAGER, now=now)
                    case "send":
                        send(handoff=handoff, actor=A_MANAGER, now=now)
                    case "receive":
                        receive(handoff=handoff, actor=A_MANAGER, now=now)
                    case _:
                        cancel(handoff=handoff, actor=A_MANAGER, now=now)
            except IllegalMove:
                assert Handoff.objects.values().get(pk=handoff.pk) == before
            for piece in Piece.objects.filter(refit=refit):
                ways = Handoff.objects.filter(piece=piece, state=HandoffState.UNDER_WAY).count()
                assert (piece.place is not None) + ways == 1, (piece, piece.place, ways)
                last = (
                    Handoff.objects.filter(piece=piece, state=HandoffState.RECEIVED)
                    .order_by("-received_at")
                    .first()
                )
                if last and piece.place and piece.since == last.received_at:
                    assert piece.place == last.destination

"""Handoffs follow the plan and stay the same rows."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from refit.custody.models import Carrier, Handoff, HandoffState
from refit.planning.services import replan
from refit.work.models import Booking, BookingKind, Refit, WorkPackage
from tests.builders import NOW, a_dependency, a_package, a_piece, a_place, a_refit, a_vendor

pytestmark = pytest.mark.django_db

HOUR = timedelta(hours=1)


@pytest.fixture
def yard() -> Refit:
    """The frame goes from the shed to the booth (A) and back to be fitted (B)."""
    refit = a_refit()
    shed = a_place(refit, name="Shed")
    booth = a_place(refit, name="Booth", vendor=a_vendor(refit, name="Coater"))
    frame = a_piece(refit, name="Frame", place=shed)
    coat = a_package(
        refit, code="A", place=booth, vendor=booth.vendor, pieces=[frame], minutes=60,
        hold_minutes=120,
    )  # fmt: skip
    fit = a_package(refit, code="B", place=shed, pieces=[frame], minutes=60)
    a_dependency(coat, fit)
    return refit


def code(package: WorkPackage | None) -> str | None:
    return None if package is None else package.code


def out_and_back(refit: Refit) -> tuple[Handoff, Handoff]:
    replan(refit=refit, now=NOW)
    out = Handoff.objects.get(refit=refit, origin__name="Shed")
    return out, Handoff.objects.get(refit=refit, origin__name="Booth")


def delay(refit: Refit, code: str, moment: datetime) -> None:
    Booking.objects.update_or_create(
        package=refit.packages.get(code=code),
        defaults={"kind": BookingKind.NOT_BEFORE, "at": moment},
    )


def test_every_move_becomes_a_handoff_with_its_window(yard: Refit) -> None:
    out, back = out_and_back(yard)
    # Wednesday 09:00: an hour on the road (a guess), A 10-11, cured at 13:00, back at 14:00.
    assert (out.state, out.carrier) == (HandoffState.PLANNED, Carrier.CREW)
    assert (out.free_at, out.depart_at, out.arrive_at) == (NOW, NOW, NOW + HOUR)
    assert (code(out.for_package), out.after_package) == ("A", None)
    assert (code(back.for_package), code(back.after_package)) == ("B", "A")
    assert (back.free_at, back.needed_at) == (NOW + 4 * HOUR, NOW + 5 * HOUR)
    assert back.leave_by == NOW + 4 * HOUR


def test_due_back_is_the_end_of_the_cure_and_only_vendors_owe_it(yard: Refit) -> None:
    out, back = out_and_back(yard)
    assert out.due_at is None
    assert back.due_at == NOW + 4 * HOUR


def test_replanning_changes_no_row_without_a_reason(yard: Refit) -> None:
    before = [out_and_back(yard), list(Handoff.objects.values())][1]
    replan(refit=yard, now=NOW)
    assert list(Handoff.objects.values()) == before


def test_what_people_agreed_survives_a_replan(yard: Refit) -> None:
    _, back = out_and_back(yard)
    Handoff.objects.filter(pk=back.pk).update(
        carrier=Carrier.HAULIER, promised_at=NOW + 9 * HOUR, promise_note="Friday"
    )
    delay(yard, "A", NOW + 24 * HOUR)
    replan(refit=yard, now=NOW)
    moved = Handoff.objects.get(pk=back.pk)
    assert moved.free_at == NOW + 27 * HOUR
    assert (moved.carrier, moved.promised_at, moved.promise_note) == (
        Carrier.HAULIER, NOW + 9 * HOUR, "Friday",
    )  # fmt: skip


def test_due_back_follows_the_plan_until_the_piece_is_there_and_then_stands_still(
    yard: Refit,
) -> None:
    _, back = out_and_back(yard)
    delay(yard, "A", NOW + 24 * HOUR)
    replan(refit=yard, now=NOW)
    back.refresh_from_db()
    # A starts Thursday 09:00: an hour of work, two of cure.
    assert back.due_at == back.free_at == NOW + 27 * HOUR
    yard.pieces.update(place=back.origin, since=NOW)
    delay(yard, "A", NOW + 48 * HOUR)
    replan(refit=yard, now=NOW)
    back.refresh_from_db()
    assert back.free_at == NOW + 51 * HOUR
    assert back.due_at == NOW + 27 * HOUR


def test_a_second_visit_to_the_same_shop_is_not_due_yet(yard: Refit) -> None:
    """The piece is in the booth for A; what it owes for a later visit still follows the plan."""
    booth = yard.places.get(name="Booth")
    yard.pieces.update(place=booth, since=NOW)
    shed = yard.places.get(name="Shed")
    again = a_package(
        yard, code="C", place=booth, vendor=booth.vendor, pieces=list(yard.pieces.all()), minutes=60
    )
    last = a_package(yard, code="D", place=shed, pieces=list(yard.pieces.all()), minutes=60)
    a_dependency(yard.packages.get(code="B"), again)
    a_dependency(again, last)
    replan(refit=yard, now=NOW)
    first, second = Handoff.objects.filter(origin=booth)
    delay(yard, "A", NOW + 24 * HOUR)
    replan(refit=yard, now=NOW)
    due = first.due_at, second.due_at
    first.refresh_from_db()
    second.refresh_from_db()
    assert first.due_at == due[0]
    assert second.due_at == second.free_at
    assert second.due_at != due[1]


def test_a_handoff_that_is_no_longer_needed_is_cancelled_and_revived_when_it_is(
    yard: Refit,
) -> None:
    out, back = out_and_back(yard)
    shed, booth = yard.places.get(name="Shed"), yard.places.get(name="Booth")
    WorkPackage.objects.filter(code="A").update(place=shed)
    replan(refit=yard, now=NOW + HOUR)
    states = set(Handoff.objects.values_list("state", "cancelled_at"))
    assert states == {(HandoffState.CANCELLED, NOW + HOUR)}
    WorkPackage.objects.filter(code="A").update(place=booth)
    replan(refit=yard, now=NOW + 2 * HOUR)
    assert set(Handoff.objects.values_list("pk", "state", "cancelled_at")) == {
        (out.pk, HandoffState.PLANNED, None),
        (back.pk, HandoffState.PLANNED, None),
    }


def test_the_same_way_for_another_package_is_the_same_handoff(yard: Refit) -> None:
    out, _ = out_and_back(yard)
    booth = yard.places.get(name="Booth")
    earlier = a_package(
        yard, code="0", place=booth, vendor=booth.vendor, pieces=list(yard.pieces.all()), minutes=60
    )
    a_dependency(earlier, yard.packages.get(code="A"))
    replan(refit=yard, now=NOW)
    out.refresh_from_db()
    assert out.for_package == earlier
    assert Handoff.objects.count() == 2


def test_what_is_ready_or_under_way_keeps_its_state(yard: Refit) -> None:
    out, back = out_and_back(yard)
    booth = yard.places.get(name="Booth")
    Handoff.objects.filter(pk=out.pk).update(
        state=HandoffState.UNDER_WAY, sent_at=NOW, arrive_at=NOW + 3 * HOUR
    )
    yard.pieces.update(place=None, since=NOW)
    Handoff.objects.filter(pk=back.pk).update(state=HandoffState.READY, due_at=NOW)
    replan(refit=yard, now=NOW)
    out.refresh_from_db()
    back.refresh_from_db()
    assert (out.state, out.arrive_at) == (HandoffState.UNDER_WAY, NOW + 3 * HOUR)
    # The piece arrives at noon: A until 13:00, cured at 15:00.
    assert (back.state, back.due_at, back.free_at) == (HandoffState.READY, NOW, NOW + 6 * HOUR)
    assert Handoff.objects.filter(destination=booth).count() == 1


def test_what_was_ready_is_not_cancelled_by_a_plan(yard: Refit) -> None:
    _, back = out_and_back(yard)
    Handoff.objects.filter(pk=back.pk).update(state=HandoffState.READY)
    WorkPackage.objects.filter(code="A").update(place=yard.places.get(name="Shed"))
    replan(refit=yard, now=NOW)
    back.refresh_from_db()
    assert back.state == HandoffState.READY


def test_a_handoff_entered_by_hand_stays(yard: Refit) -> None:
    out_and_back(yard)
    loft = a_place(yard, name="Loft")
    by_hand = Handoff.objects.create(
        refit=yard, piece=yard.pieces.get(), origin=yard.places.get(name="Shed"), destination=loft
    )
    replan(refit=yard, now=NOW)
    by_hand.refresh_from_db()
    assert by_hand.state == HandoffState.PLANNED


def test_a_handoff_that_turned_back_is_not_revived(yard: Refit) -> None:
    out, _ = out_and_back(yard)
    Handoff.objects.filter(pk=out.pk).update(
        state=HandoffState.CANCELLED, sent_at=NOW, cancelled_at=NOW
    )
    replan(refit=yard, now=NOW)
    assert Handoff.objects.filter(origin__name="Shed").count() == 2


def test_what_the_last_package_was_is_still_known_when_it_is_over(yard: Refit) -> None:
    _, back = out_and_back(yard)
    yard.pieces.update(place=back.origin, since=NOW)
    WorkPackage.objects.filter(code="A").update(
        started_at=NOW + HOUR, finished_at=NOW + 2 * HOUR, hold_minutes=0
    )
    replan(refit=yard, now=NOW + 3 * HOUR)
    back.refresh_from_db()
    assert code(back.after_package) == "A"
    assert back.due_at == NOW + 4 * HOUR

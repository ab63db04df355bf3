"""What the planner says, rule by rule. `NOW` is Wednesday 25 November 2026, 09:00 UTC."""

from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from refit.accounts.models import LinkKind, Role
from refit.notices.models import DeadAddress, NoticeKind, Side
from refit.notices.things import Thing
from refit.notices.wishes import person_key, wish_for_dates
from refit.planning.models import PlannedPackage, PlanTrouble
from refit.quality.models import Decision, Finding
from refit.work.models import Actor, Booking, record
from tests.builders import NOW, a_dependency, a_handoff, a_link, a_member, a_package, a_vendor

from .scene import Scene, a_scene

pytestmark = pytest.mark.django_db

MORNING = datetime(2026, 11, 26, 7, tzinfo=UTC)
"""Of the next day."""


def of(things: list[Thing], kind: NoticeKind) -> list[Thing]:
    return [thing for thing in things if thing.kind == kind]


def sides(things: list[Thing]) -> set[str]:
    return {str(thing.person.side) for thing in things}


def test_nothing_to_tell_is_nothing() -> None:
    assert a_scene().things() == []


# --- due back soon ---------------------------------------------------------------------------


def test_vendor_and_manager_hear_two_days_before_a_piece_is_due_back() -> None:
    scene = a_scene()
    scene.handoff(datetime(2026, 11, 27, 16, tzinfo=UTC))
    wednesday = datetime(2026, 11, 25, 6, 30, tzinfo=UTC)
    things = of(scene.things(wednesday), NoticeKind.DUE_SOON)
    assert sides(things) == {"manager", "vendor"}
    assert {thing.tell_at for thing in things} == {datetime(2026, 11, 25, 7, tzinfo=UTC)}
    assert not any(thing.urgent for thing in things)
    vendor = next(thing for thing in things if thing.person.side == Side.VENDOR)
    assert vendor.sentence.startswith("Due back from you on Fri 27 Nov 16:00: Windshield frame.")


def test_a_date_on_tuesday_is_told_on_friday_and_not_on_the_weekend() -> None:
    scene = a_scene()
    scene.handoff(datetime(2026, 12, 1, 16, tzinfo=UTC))  # two days before is Sunday
    assert of(scene.things(datetime(2026, 11, 25, 9, tzinfo=UTC)), NoticeKind.DUE_SOON) == []
    things = of(scene.things(datetime(2026, 11, 26, 9, tzinfo=UTC)), NoticeKind.DUE_SOON)
    assert {thing.tell_at for thing in things} == {datetime(2026, 11, 27, 7, tzinfo=UTC)}


def test_a_piece_that_has_not_arrived_at_the_vendor_is_not_due_back() -> None:
    scene = a_scene()
    scene.handoff(NOW + timedelta(days=1))
    scene.frame.place = scene.shed
    scene.frame.save()
    assert scene.things() == []


def test_a_promise_takes_the_place_of_the_agreed_date() -> None:
    scene = a_scene()
    scene.handoff(NOW - timedelta(days=1), promised_at=NOW + timedelta(days=1))
    assert {thing.kind for thing in scene.things()} == {NoticeKind.DUE_SOON}


def test_the_manager_hears_what_lateness_does_to_the_launch() -> None:
    scene = a_scene()
    fit = a_package(scene.refit, place=scene.shed)
    scene.handoff(NOW + timedelta(days=1), for_package=fit)
    planned = PlannedPackage.objects.create(
        plan=scene.plan(NOW + timedelta(days=40)),
        package=fit,
        start=NOW,
        work_finish=NOW,
        finish=NOW,
        drives=True,
    )
    manager = next(t for t in scene.things() if t.person.side == Side.MANAGER)
    assert "every further day moves the launch a day" in manager.sentence
    assert "Call Jory Penhale, 01632 960114." in manager.sentence
    planned.drives, planned.slip_minutes = False, 3 * 1440
    planned.save()
    manager = next(t for t in scene.things() if t.person.side == Side.MANAGER)
    assert "It may come 3 days later before the launch moves." in manager.sentence


def test_a_vendor_without_an_address_gets_no_notice() -> None:
    scene = a_scene()
    scene.vendor.email = ""
    scene.vendor.save()
    scene.handoff(NOW - timedelta(hours=1))
    assert sides(scene.things()) == {"manager"}


# --- overdue ---------------------------------------------------------------------------------


def test_an_overdue_piece_is_told_at_once_to_both() -> None:
    scene = a_scene()
    scene.handoff(NOW - timedelta(minutes=1))
    things = scene.things()
    assert {thing.kind for thing in things} == {NoticeKind.OVERDUE}
    assert sides(things) == {"manager", "vendor"}
    assert all(thing.urgent and thing.tell_at == NOW for thing in things)


@pytest.mark.parametrize(
    ("days", "same_as"), [(1, 2), (3, 4), (3, 6), (7, 8), (7, 13), (14, 20), (21, 27)]
)
def test_reminders_of_an_overdue_piece_come_at_growing_intervals(days: int, same_as: int) -> None:
    scene = a_scene()
    due = datetime(2026, 11, 2, 9, tzinfo=UTC)
    scene.handoff(due)
    keys = [{t.key for t in scene.things(due + timedelta(days=n, hours=1))} for n in range(30)]
    assert keys[days] == keys[same_as]
    assert keys[days] != keys[days - 1]
    things = scene.things(due + timedelta(days=days, hours=1))
    assert not any(thing.urgent for thing in things)


def test_in_the_quiet_hours_the_urgent_waits_for_the_morning() -> None:
    scene = a_scene()
    night = datetime(2026, 11, 25, 22, tzinfo=UTC)
    scene.handoff(night - timedelta(minutes=5))
    things = scene.things(night)
    assert {thing.tell_at for thing in things} == {MORNING}
    assert not any(thing.urgent for thing in things)


# --- ready, booking, hold --------------------------------------------------------------------


def test_ready_to_collect_is_told_to_those_who_drive_but_not_to_who_said_it() -> None:
    scene = a_scene()
    a_member(scene.refit, Role.CREW, name="Ivo Marsh")
    a_member(scene.refit, Role.READER, name="Only Looking")
    scene.handoff(NOW, state="ready", ready_at=NOW, ready_by="Brackwater Metalwork")
    things = scene.things()
    assert sides(things) == {"manager", "crew"}
    assert {thing.kind for thing in things} == {NoticeKind.READY}
    assert all(thing.urgent for thing in things)
    scene.refit.handoffs.update(ready_by="Runa Ostlund")
    assert sides(scene.things()) == {"crew"}


def test_what_was_ready_days_ago_is_no_news() -> None:
    scene = a_scene()
    then = NOW - timedelta(days=3)
    scene.handoff(then, state="ready", ready_at=then, ready_by="Brackwater Metalwork")
    assert scene.things() == []


def test_a_booking_is_told_the_morning_before() -> None:
    scene = a_scene()
    package = a_package(scene.refit, vendor=scene.vendor, place=scene.shop, title="Weld the frame")
    Booking.objects.create(
        package=package, at=datetime(2026, 11, 27, 8, tzinfo=UTC), agreed_with="Jory Penhale"
    )
    things = scene.things()
    assert {thing.kind for thing in things} == {NoticeKind.BOOKING}
    assert sides(things) == {"manager", "vendor"}
    assert {thing.tell_at for thing in things} == {MORNING}
    vendor = next(thing for thing in things if thing.person.side == Side.VENDOR)
    assert vendor.sentence == "Weld the frame is booked with you for Fri 27 Nov 08:00: it starts."
    package.started_at = NOW
    package.save()
    assert scene.things() == []


def test_a_date_that_nobody_agreed_to_is_asked_for_again_as_it_comes_nearer() -> None:
    scene = a_scene()
    package = a_package(scene.refit, vendor=scene.vendor, place=scene.shop, title="Weld the frame")
    booking = Booking.objects.create(package=package, at=datetime(2026, 12, 9, 8, tzinfo=UTC))
    things = scene.things()
    assert {thing.kind for thing in things} == {NoticeKind.CONFIRM}
    assert {thing.person.side: thing.sentence for thing in things} == {
        Side.MANAGER: "Weld the frame at Brackwater Metalwork on Wed 9 Dec 08:00: nobody there"
        " has agreed to it yet. Ask Jory Penhale, 01632 960114.",
        Side.VENDOR: "Weld the frame is pencilled in with you for Wed 9 Dec 08:00. Please answer"
        " whether that holds: an answer to this mail or a call will do.",
    }
    assert {thing.tell_at for thing in things} == {MORNING}
    # The 25th is 14 days before the 9th.
    keys = [
        {thing.key for thing in of(scene.things(NOW + timedelta(days=n)), NoticeKind.CONFIRM)}
        for n in range(-3, 14)
    ]
    new = [n - 3 for n in range(1, len(keys)) if keys[n] - keys[n - 1]]
    assert new == [0, 7, 11, 13]
    booking.agreed_with = "Jory Penhale"
    booking.save()
    assert scene.things() == []


def test_what_comes_to_a_vendor_is_told_two_days_before_and_when_it_leaves() -> None:
    scene = a_scene()
    scene.frame.place = scene.shed
    scene.frame.save()
    job = a_package(scene.refit, vendor=scene.vendor, place=scene.shop, title="Weld the frame")
    arrive = datetime(2026, 11, 27, 10, tzinfo=UTC)
    handoff = a_handoff(
        scene.frame, scene.shed, scene.shop, arrive_at=arrive, depart_at=arrive, for_package=job
    )
    early = datetime(2026, 11, 25, 6, tzinfo=UTC)
    (thing,) = scene.things(early)
    assert (thing.kind, thing.person.side, thing.urgent) == (
        NoticeKind.COMING, Side.VENDOR, False,
    )  # fmt: skip
    assert thing.tell_at == datetime(2026, 11, 25, 7, tzinfo=UTC)
    assert thing.sentence == (
        "Coming to you on Fri 27 Nov 10:00: Windshield frame. It is brought to you. It is for"
        " “Weld the frame”."
    )
    assert thing.spot == f"coming-{handoff.pk}"
    handoff.state, handoff.sent_at = "under way", NOW
    handoff.save()
    scene.frame.place = None
    scene.frame.save()
    (thing,) = scene.things()
    assert thing.urgent
    assert thing.sentence.startswith("On the way to you: Windshield frame, planned for Fri 27 Nov")
    handoff.state, handoff.received_at = "received", NOW
    handoff.save()
    assert scene.things() == []


def test_a_dead_address_is_told_nothing_and_the_manager_is() -> None:
    scene = a_scene()
    scene.handoff(NOW - timedelta(hours=1))
    DeadAddress.objects.create(refit=scene.refit, email="shop@brackwater.example", since=NOW)
    assert sides(scene.things()) == {"manager"}


def test_dates_are_said_in_the_language_that_each_person_chose() -> None:
    scene = a_scene()
    scene.handoff(NOW - timedelta(hours=1))
    vendor = person_key("vendor", "shop@brackwater.example")
    wish_for_dates(refit=scene.refit, person=vendor, language="de")
    said = {thing.person.side: thing.sentence for thing in scene.things()}
    assert "since Wed 25 Nov 08:00" in said[Side.MANAGER]
    assert "Due back on Mi 25. November 08:00" in said[Side.VENDOR]


def test_the_end_of_a_hold_is_told_on_its_morning_with_what_waits_for_it() -> None:
    scene = a_scene()
    coat = a_package(
        scene.refit,
        place=scene.shed,
        code="H04",
        title="Prime",
        hold_minutes=24 * 60,
        hold_reason="cure",
        started_at=NOW - timedelta(days=1),
        finished_at=NOW + timedelta(hours=1),
    )
    a_dependency(coat, a_package(scene.refit, place=scene.shed, code="H05", title="Sand"))
    things = scene.things(NOW + timedelta(hours=2))
    assert {thing.kind for thing in things} == {NoticeKind.HOLD_ENDED}
    assert things[0].tell_at == MORNING
    assert things[0].sentence == (
        "The hold of H04 Prime (cure) ends on Thu 26 Nov 10:00. Waiting for it: H05 Sand."
    )


# --- decisions -------------------------------------------------------------------------------


def a_finding(scene: Scene, **fields: object) -> Finding:
    values = {"code": "F1", "title": "Soft core at the step", "found_at": NOW} | fields
    return Finding.objects.create(refit=scene.refit, **values)


def test_a_waiting_decision_is_told_the_next_morning_and_again() -> None:
    scene = a_scene()
    a_finding(scene)
    first = scene.things()
    assert [(t.kind, t.tell_at, t.urgent) for t in first] == [(NoticeKind.DECISION, MORNING, False)]
    keys = [scene.things(NOW + timedelta(days=n))[0].key for n in range(15)]
    assert [n for n in range(1, 15) if keys[n] != keys[n - 1]] == [3, 7, 14]


def test_on_the_last_day_a_decision_is_urgent() -> None:
    scene = a_scene()
    a_finding(scene, decide_by=NOW + timedelta(hours=20))
    (thing,) = scene.things()
    assert thing.urgent
    assert "Decide by Thu 26 Nov 05:00." in thing.sentence


def test_the_owner_hears_of_a_decision_only_when_asked_and_only_with_a_page() -> None:
    scene = a_scene()
    scene.refit.owner_name, scene.refit.owner_email = "Tamsin Hale", "owner@refit.example"
    scene.refit.save()
    finding = a_finding(scene, decision=Decision.ASK_OWNER, price="480.00")
    assert sides(scene.things()) == {"manager"}
    a_link(scene.refit, LinkKind.OWNER)
    things = scene.things()
    assert sides(things) == {"manager", "owner"}
    assert not any("480" in thing.sentence for thing in things)
    finding.decision = Decision.FIX_NOW
    finding.save()
    assert scene.things() == []


# --- the plan --------------------------------------------------------------------------------


def test_a_promise_is_told_with_what_it_does_to_the_launch_once_there_is_a_plan() -> None:
    scene = a_scene()
    due, promised = NOW + timedelta(days=5), NOW + timedelta(days=8)
    handoff = scene.handoff(due, promised_at=promised)
    scene.plan(datetime(2027, 1, 15, 12, tzinfo=UTC), NOW - timedelta(hours=1))
    record(
        refit=scene.refit,
        actor=Actor("Brackwater Metalwork", "vendor"),
        now=NOW,
        verb="promised",
        subject=handoff,
        before={"promised_at": None, "due_at": due},
        after={"promised_at": promised},
    )
    minute = timedelta(minutes=1)
    assert of(scene.things(NOW + minute), NoticeKind.PROMISE) == []
    scene.plan(datetime(2027, 1, 18, 12, tzinfo=UTC), NOW)
    (thing,) = of(scene.things(NOW + minute), NoticeKind.PROMISE)
    assert thing.urgent
    assert thing.person.side == Side.MANAGER
    assert thing.sentence == (
        "Brackwater Metalwork promises Windshield frame for Thu 3 Dec 09:00 instead of"
        " Mon 30 Nov 09:00. The launch moves from Fri 15 Jan 2027 to Mon 18 Jan 2027,"
        " 3 days later."
    )


def test_a_promise_does_not_wait_for_a_plan_for_ever() -> None:
    scene = a_scene()
    handoff = scene.handoff(NOW + timedelta(days=5), promised_at=NOW + timedelta(days=8))
    record(
        refit=scene.refit,
        actor=Actor("Brackwater Metalwork", "vendor"),
        now=NOW,
        verb="promised",
        subject=handoff,
    )
    (thing,) = of(scene.things(NOW + timedelta(minutes=16)), NoticeKind.PROMISE)
    assert "launch" not in thing.sentence


def test_the_manager_is_not_told_of_a_promise_entered_by_a_manager() -> None:
    scene = a_scene()
    handoff = scene.handoff(NOW + timedelta(days=5), promised_at=NOW + timedelta(days=8))
    record(
        refit=scene.refit,
        actor=Actor("Runa Ostlund", "manager"),
        now=NOW,
        verb="promised",
        subject=handoff,
    )
    assert scene.things(NOW + timedelta(minutes=16)) == []


def test_the_owner_hears_when_the_launch_moves_from_what_they_found() -> None:
    scene = a_scene()
    scene.refit.owner_email = "owner@refit.example"
    scene.refit.save()
    scene.plan(datetime(2027, 1, 15, 12, tzinfo=UTC), NOW - timedelta(days=9))
    a_link(scene.refit, LinkKind.OWNER, now=NOW - timedelta(days=8))
    assert scene.things() == []
    scene.plan(datetime(2027, 1, 15, 16, tzinfo=UTC), NOW - timedelta(hours=2))
    assert scene.things() == [], "the same day is no news"
    scene.plan(datetime(2027, 1, 13, 12, tzinfo=UTC), NOW - timedelta(hours=1))
    things = scene.things()
    assert sides(things) == {"manager", "owner"}
    assert {thing.tell_at for thing in things} == {MORNING}
    assert things[0].sentence == (
        "The launch is now planned for Wed 13 Jan 2027, 2 days earlier than Fri 15 Jan 2027,"
        " the date before."
    )


def test_trouble_with_the_plan_is_told_when_it_stays() -> None:
    scene = a_scene()
    PlanTrouble.objects.create(
        refit=scene.refit, refit_version=1, at=NOW, sentence="P01 and P02 wait for each other."
    )
    assert scene.things(NOW + timedelta(minutes=5)) == []
    (thing,) = scene.things(NOW + timedelta(minutes=10))
    assert thing.urgent
    assert "P01 and P02 wait for each other." in thing.sentence


# --- all together ----------------------------------------------------------------------------


def test_keys_fit_into_their_column_and_are_never_shared() -> None:
    scene = a_scene()
    long_address = "a" * 60 + "@" + "b" * 60 + "." + "c" * 60 + ".example"
    second = a_vendor(scene.refit, name="Second", email=long_address)
    scene.shop.vendor = second
    scene.shop.save()
    scene.handoff(NOW - timedelta(hours=1))
    a_finding(scene, decision=Decision.ASK_OWNER)
    keys = [thing.key for thing in scene.things()]
    assert len(set(keys)) == len(keys)
    assert max(map(len, keys)) <= 320


def test_looking_takes_the_same_number_of_queries_however_much_there_is() -> None:
    scene = a_scene()
    counts = []
    for rows in (1, 6):
        for _ in range(rows):
            package = a_package(scene.refit, vendor=scene.vendor, place=scene.shop)
            Booking.objects.create(package=package, at=NOW + timedelta(days=1))
            scene.handoff(NOW + timedelta(days=1), for_package=package)
            a_finding(scene, code=f"F{package.code}")
            done = a_package(
                scene.refit, place=scene.shed, hold_minutes=60, started_at=NOW, finished_at=NOW
            )
            a_dependency(done, package)
        with CaptureQueriesContext(connection) as queries:
            scene.things()
        counts.append(len(queries))
    assert counts[0] == counts[1]

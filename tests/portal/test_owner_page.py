"""What the owner reads: the launch and why, what is done, what is next, where everything is."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from refit.custody.models import End
from refit.custody.pictures import add_picture
from refit.custody.services import send
from refit.planning.models import Plan, PlannedPackage
from refit.portal.owner import owner_page, say_against_wanted, say_why
from refit.quality.models import Decision, Finding
from refit.work.models import Refit, WorkPackage
from tests.builders import (
    A_MANAGER,
    NOW,
    a_dependency,
    a_handoff,
    a_package,
    a_piece,
    a_place,
    a_refit,
)
from tests.custody.scene import a_photo
from tests.portal.stage import a_stage

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("launch", "said"),
    [
        (datetime(2027, 2, 12, 9, tzinfo=UTC), "the very day you wanted, Fri 12 Feb."),
        (datetime(2027, 2, 10, 9, tzinfo=UTC), "2 days before the day you wanted, Fri 12 Feb."),
        (datetime(2027, 2, 13, 9, tzinfo=UTC), "1 day after the day you wanted, Fri 12 Feb."),
        # 23:30 in UTC is half an hour into the 13th in Paris.
        (datetime(2027, 2, 12, 23, 30, tzinfo=UTC), "1 day after the day you wanted"),
        (None, "You want it afloat by Fri 12 Feb."),
    ],
)
def test_the_launch_is_set_against_the_day_that_is_wanted(
    launch: datetime | None, said: str
) -> None:
    refit = a_refit(wanted_launch=date(2027, 2, 12), time_zone="Europe/Paris")
    assert said in say_against_wanted(launch, refit)


def test_without_a_wanted_day_nothing_is_said() -> None:
    assert say_against_wanted(NOW, a_refit()) == ""


def a_plan(refit: Refit, *packages: WorkPackage, driving: list[str]) -> Plan:
    plan = Plan.objects.create(
        refit=refit,
        refit_version=refit.version,
        computed_at=timezone.now(),
        seconds=0.1,
        launch_at=timezone.now() + timedelta(days=30),
        driving=driving,
    )
    for number, package in enumerate(packages):
        start = timezone.now() + timedelta(days=number)
        PlannedPackage.objects.create(
            plan=plan, package=package, start=start, work_finish=start, finish=start
        )
    return plan


def test_one_sentence_says_what_the_date_hangs_on() -> None:
    refit = a_refit()
    jobs = [a_package(refit, code=f"J{n}", title=f"Job {n}") for n in range(5)]
    plan = a_plan(refit, driving=["J9", "J0", "J1", "J2", "J3", "J4"])
    assert say_why(plan, jobs) == (
        "The date hangs on “Job 0”, then “Job 1”, then “Job 2”, and 2 more jobs after that: "
        "a day lost there is a day lost at the launch."
    )
    plan.driving, plan.because = ["J1"], "J1 Job 1 is booked for Wed 2 Dec 08:00"
    assert say_why(plan, jobs) == (
        "The date hangs on “Job 1”: a day lost there is a day lost at the launch. "
        "“Job 1” is booked for Wed 2 Dec 08:00."
    )
    assert say_why(plan, []) == ""
    assert say_why(None, jobs) == ""


def test_done_newest_first_with_its_pictures_then_next_in_order() -> None:
    stage = a_stage()
    scene, now = stage.scene, timezone.now()
    old = a_package(
        scene.refit, title="Strip", started_at=now - timedelta(9), finished_at=now - timedelta(8)
    )
    new = a_package(
        scene.refit, title="Weld", started_at=now - timedelta(7), finished_at=now - timedelta(6)
    )
    came = a_handoff(scene.frame, scene.home, scene.shop, after_package=new)
    add_picture(
        piece=scene.frame,
        upload=a_photo(),
        actor=A_MANAGER,
        now=now,
        handoff=came,
        end=End.SENT,
        caption="Seams ground flush",
    )
    late, early = a_package(scene.refit, code="A9"), a_package(scene.refit, code="Z9")
    a_plan(scene.refit, early, late, driving=[])
    page = owner_page(refit=scene.refit, now=now)
    assert [item.package for item in page.done] == [new, old]
    assert [item.package for item in page.next] == [early, late]
    assert [item.package for item in page.under_way] == [scene.coat]
    assert page.rivets == ["done", "done", "now", "to-do", "to-do"]
    said = stage.owner.get().content.decode()
    assert "2 of 5 jobs are done" in said
    assert 'alt="Seams ground flush,' in said


def test_where_the_boat_and_the_pieces_are() -> None:
    stage = a_stage()
    scene = stage.scene
    boat = a_piece(scene.refit, name="Sallow Tern", is_boat=True, place=scene.home)
    a_piece(scene.refit, name="Hatch", fitted=True, place=scene.home)
    said = stage.owner.get().content.decode()
    assert "at Home shed, with 1 piece fitted" in said
    assert "At Eiderholm shop" in said
    ramp = a_place(scene.refit, name="Kelp ramp")
    send(handoff=a_handoff(boat, scene.home, ramp), actor=A_MANAGER, now=timezone.now())
    assert "on the way to Kelp ramp, with 1 piece fitted" in stage.owner.get().content.decode()


def test_decisions_that_wait_for_the_owner_and_no_others() -> None:
    stage = a_stage()
    for code, decision in (("F1", Decision.ASK_OWNER), ("F2", Decision.WAITING)):
        Finding.objects.create(
            refit=stage.scene.refit,
            code=code,
            title=f"Soft core {code}",
            found_at=timezone.now(),
            decision=decision,
            work_minutes=720,
            price=Decimal("480"),
        )
    said = stage.owner.get().content.decode()
    assert "Waiting for your word" in said
    assert "Soft core F1" in said
    assert "about 1½ days" in said
    assert "480 EUR" in said
    assert "Soft core F2" not in said


def test_no_price_of_a_vendor_is_on_the_page() -> None:
    stage = a_stage()
    coat = stage.scene.coat
    coat.budget, coat.agreed_price = Decimal("7771.50"), Decimal("8888")
    coat.save()
    stage.scene.vendor.note = "slow payer"
    stage.scene.vendor.save()
    said = stage.owner.get().content.decode()
    assert "Coat the frame" in said
    for secret in ("7771", "7,771", "8888", "8,888", "EUR", "slow payer"):
        assert secret not in said


def test_an_empty_refit_and_one_without_a_plan_are_sensible() -> None:
    stage = a_stage()
    said = stage.owner.get().content.decode()
    assert "No launch date yet" in said
    assert "There is no plan yet" in said
    WorkPackage.objects.all().delete()
    said = stage.owner.get().content.decode()
    assert "No jobs are planned yet" in said
    assert "Nothing is finished yet" in said


def test_a_plan_of_before_the_last_change_says_so() -> None:
    stage = a_stage()
    a_plan(stage.scene.refit, driving=[])
    assert "a newer plan is being worked out" not in stage.owner.get().content.decode()
    Refit.objects.update(version=99)
    assert "a newer plan is being worked out" in stage.owner.get().content.decode()


def test_after_the_launch_the_page_says_when_it_was() -> None:
    stage = a_stage()
    at = timezone.now() - timedelta(days=1)
    a_package(stage.scene.refit, is_launch=True, started_at=at, finished_at=at)
    assert "<h1>Launched " in stage.owner.get().content.decode()


def test_the_number_of_queries_does_not_grow() -> None:
    stage = a_stage()
    scene, now = stage.scene, timezone.now()

    def more(count: int) -> None:
        for _ in range(count):
            piece = a_piece(scene.refit, place=scene.shop)
            done = a_package(scene.refit, pieces=[piece], started_at=now, finished_at=now)
            to_do = a_package(scene.refit, vendor=scene.vendor, place=scene.shop)
            a_dependency(done, to_do)
            a_handoff(piece, scene.home, scene.shop, after_package=done)

    more(1)
    a_plan(scene.refit, *scene.refit.packages.all(), driving=[])
    with CaptureQueriesContext(connection) as few:
        stage.owner.get()
    more(15)
    with CaptureQueriesContext(connection) as many:
        stage.owner.get()
    assert len(many) == len(few)
    assert len(many) <= 12

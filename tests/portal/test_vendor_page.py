"""What a vendor reads, and what it never reads."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.staticfiles import finders
from django.db import connection
from django.template.loader import render_to_string
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from refit.accounts.models import LinkKind, Membership
from refit.custody.models import Handoff
from refit.planning.models import Plan, PlannedPackage
from refit.portal.vendor import say_collecting, say_consequence, vendor_page
from refit.quality.models import PunchItem
from refit.work.models import Booking, CrewMember, PlaceKind, WorkPackage
from tests.builders import (
    NOW,
    a_handoff,
    a_link,
    a_member,
    a_package,
    a_piece,
    a_place,
    a_vendor,
)
from tests.custody.scene import Scene, a_scene
from tests.portal.stage import a_stage

pytestmark = pytest.mark.django_db


def planned(package: WorkPackage, *, start_in: timedelta, slip: int | None) -> PlannedPackage:
    plan, _ = Plan.objects.get_or_create(
        refit=package.refit,
        defaults={"refit_version": 1, "computed_at": NOW, "seconds": 0.1},
    )
    return PlannedPackage.objects.create(
        plan=plan,
        package=package,
        start=NOW + start_in,
        work_finish=NOW + start_in + timedelta(hours=8),
        finish=NOW + start_in + timedelta(hours=8),
        slip_minutes=slip,
    )


def fitting(scene: Scene) -> WorkPackage:
    package = a_package(scene.refit, title="Fit the frame", place=scene.home, pieces=[scene.frame])
    scene.handoff.for_package = package
    scene.handoff.save()
    return package


def test_the_consequence_says_what_waits_and_from_when_the_launch_moves() -> None:
    scene = a_scene()
    # Wednesday 25 November 2026, 09:00. The job that waits starts on Friday 09:00 and may start
    # 24 h later; the piece must leave two hours before: after Saturday 07:00 the launch moves.
    row = planned(fitting(scene), start_in=timedelta(days=2), slip=24 * 60)
    scene.handoff.leave_by = NOW + timedelta(days=2) - timedelta(hours=2)
    said = say_consequence(scene.handoff, row, refit=scene.refit, now=NOW)
    assert said == (
        "“Fit the frame” waits for it and is planned for Fri 27 Nov. "
        "If it leaves you after Sat 28 Nov 07:00, the launch moves."
    )


def test_when_the_slack_is_used_up_every_day_counts() -> None:
    scene = a_scene()
    row = planned(fitting(scene), start_in=-timedelta(days=2), slip=24 * 60)
    said = say_consequence(scene.handoff, row, refit=scene.refit, now=NOW)
    assert said.endswith("Every further day moves the launch.")


def test_a_job_that_does_not_touch_the_launch_says_nothing_of_it() -> None:
    scene = a_scene()
    row = planned(fitting(scene), start_in=timedelta(days=2), slip=None)
    assert "launch" not in say_consequence(scene.handoff, row, refit=scene.refit, now=NOW)


def test_without_a_plan_or_a_job_the_sentence_still_stands() -> None:
    scene = a_scene()
    assert say_consequence(scene.handoff, None, refit=scene.refit, now=NOW) == (
        "No job waits for it at the moment."
    )
    fitting(scene)
    assert say_consequence(scene.handoff, None, refit=scene.refit, now=NOW) == (
        "“Fit the frame” waits for it."
    )


@pytest.mark.parametrize(
    ("carrier", "days", "said"),
    [
        ("crew", 1, "We plan to collect it Thu 26 Nov."),
        ("crew", -3, "We collect it as soon as we can."),
        ("vendor", 1, "You bring it to Home shed, Thu 26 Nov."),
        ("haulier", 1, "A haulier collects it Thu 26 Nov."),
        ("haulier", -3, "A haulier will collect it."),
    ],
)
def test_who_carries_it_and_when(carrier: str, days: int, said: str) -> None:
    scene = a_scene(carrier=carrier, depart_at=NOW + timedelta(days=days))
    assert say_collecting(scene.handoff, refit=scene.refit, now=NOW) == said


def test_the_most_urgent_stands_first_and_what_is_ready_last() -> None:
    scene = a_scene(due_at=NOW + timedelta(days=2))
    for name, fields in (
        ("Late one", {"due_at": NOW - timedelta(days=2)}),
        ("Undated one", {}),
        ("Ready one", {"state": "ready", "ready_at": NOW, "due_at": NOW - timedelta(days=9)}),
        ("Promised one", {"due_at": NOW - timedelta(days=5), "promised_at": NOW + timedelta(3)}),
    ):
        a_handoff(
            a_piece(scene.refit, name=name, place=scene.shop), scene.shop, scene.home, **fields
        )
    page = vendor_page(refit=scene.refit, vendor=scene.vendor, now=NOW)
    assert [item.handoff.piece.name for item in page.held] == [
        "Late one",
        "Top frame",
        "Promised one",
        "Undated one",
        "Ready one",
    ]
    assert page.headline == "Late one is late"
    assert page.held[0].late_days == 2


def test_a_later_stay_of_the_same_piece_waits_its_turn() -> None:
    scene = a_scene(depart_at=NOW + timedelta(days=2))
    a_handoff(scene.frame, scene.shop, scene.home, depart_at=NOW + timedelta(days=20))
    page = vendor_page(refit=scene.refit, vendor=scene.vendor, now=NOW)
    assert [item.handoff for item in page.held] == [scene.handoff]


def test_a_piece_without_a_way_on_is_listed_without_a_date() -> None:
    stage = a_stage()
    a_piece(stage.scene.refit, name="Spare bracket", place=stage.scene.shop)
    said = stage.vendor.get().content.decode()
    assert "Spare bracket" in said
    assert "no way on for it yet" in said


def test_what_comes_says_when_for_what_and_whether_it_is_booked() -> None:
    stage = a_stage()
    scene = stage.scene
    lid = a_piece(scene.refit, name="Locker lid", place=scene.home)
    work = a_package(
        scene.refit, title="Coat the lid", vendor=scene.vendor, place=scene.shop, pieces=[lid]
    )
    Booking.objects.create(package=work, at=timezone.now() + timedelta(days=6))
    a_handoff(lid, scene.home, scene.shop, for_package=work)
    said = stage.vendor.get().content.decode()
    assert "Coming to you" in said
    assert "booked" in said
    assert "For “Coat the lid”: starts" in said


def test_scope_acceptance_and_cautions_of_the_own_jobs_are_there() -> None:
    stage = a_stage()
    coat = stage.scene.coat
    coat.scope, coat.acceptance, coat.cautions = "Two coats", "60 microns", "Supplied air"
    coat.save()
    said = stage.vendor.get().content.decode()
    assert "Two coats" in said
    assert "60 microns" in said
    assert "Supplied air" in said
    assert "data sheet" in said


def test_no_price_and_nothing_of_other_vendors_is_on_the_page() -> None:
    stage = a_stage()
    scene = stage.scene
    scene.coat.budget = scene.coat.agreed_price = Decimal("7771.50")
    scene.coat.save()
    other = a_vendor(scene.refit, name="Corbel Metalwork", note="slow payer")
    yard = a_place(scene.refit, name="Corbel yard", vendor=other)
    a_package(
        scene.refit, title="Weld the rail", vendor=other, place=yard, agreed_price=Decimal("8888")
    )
    rail = a_piece(scene.refit, name="Bow rail", place=yard)
    a_handoff(rail, yard, scene.home)
    # The frame goes on to the other shop: its next job may be named, not who does it.
    scene.handoff.destination = yard
    scene.handoff.for_package = a_package(
        scene.refit, title="Hang the fittings", vendor=other, place=yard, pieces=[scene.frame]
    )
    scene.handoff.save()
    said = stage.vendor.get().content.decode()
    assert "Hang the fittings" in said
    for secret in (
        "7771",
        "7,771",
        "8888",
        "8,888",
        "Corbel",
        "slow payer",
        "Weld the rail",
        "EUR",
    ):
        assert secret not in said
    assert "Bow rail" not in said


def test_an_empty_page_says_so() -> None:
    stage = a_stage()
    Handoff.objects.all().delete()
    WorkPackage.objects.all().delete()
    stage.scene.frame.delete()
    said = stage.vendor.get().content.decode()
    assert "You hold nothing of this boat" in said
    assert "Nothing is planned with you" in said


def test_the_managers_own_number_is_given_and_else_the_sheds() -> None:
    stage = a_stage()
    refit = stage.scene.refit
    assert "tel:" not in stage.vendor.get().content.decode()
    a_place(refit, name="Other shed", kind=PlaceKind.HOME, phone="01632 960200")
    assert 'href="tel:01632960200"' in stage.vendor.get().content.decode()
    manager = a_member(refit, name="Runa Ostlund")
    CrewMember.objects.create(refit=refit, name="Runa", user=manager, phone="+44 1632 960117")
    said = stage.vendor.get().content.decode()
    assert 'href="tel:+441632960117"' in said
    assert "Runa Ostlund" in said
    assert Membership.objects.count() == 1


def test_names_cannot_bring_markup_along() -> None:
    stage = a_stage()
    stage.scene.frame.name = "<script>alert(1)</script>"
    stage.scene.frame.save()
    said = stage.vendor.get().content.decode()
    assert "<script>alert" not in said
    assert "&lt;script&gt;alert" in said


def test_dates_are_those_of_the_refits_zone() -> None:
    stage = a_stage()
    refit = stage.scene.refit
    refit.time_zone = "Pacific/Auckland"
    refit.save()
    stage.scene.handoff.refresh_from_db()
    assert stage.scene.handoff.due_at is not None
    local = refit.local(stage.scene.handoff.due_at)
    assert f'<span class="label">{local:%H:%M}</span>' in stage.vendor.get().content.decode()


def more_of_everything(scene: Scene, count: int) -> None:
    for _ in range(count):
        piece = a_piece(scene.refit, place=scene.shop)
        work = a_package(scene.refit, vendor=scene.vendor, place=scene.shop, pieces=[piece])
        Booking.objects.create(package=work, at=timezone.now())
        a_handoff(piece, scene.shop, scene.home, after_package=work)
        lid = a_piece(scene.refit, place=scene.home)
        job = a_package(scene.refit, vendor=scene.vendor, place=scene.shop, pieces=[lid])
        a_handoff(lid, scene.home, scene.shop, for_package=job)


def test_the_number_of_queries_does_not_grow() -> None:
    stage = a_stage()
    more_of_everything(stage.scene, 1)
    with CaptureQueriesContext(connection) as few:
        stage.vendor.get()
    more_of_everything(stage.scene, 15)
    with CaptureQueriesContext(connection) as many:
        stage.vendor.get()
    assert len(many) == len(few)
    assert len(many) <= 12


def test_the_page_with_all_it_loads_weighs_less_than_100_kilobytes() -> None:
    """Uncompressed, first visit, with seven pieces held and six coming."""
    stage = a_stage()
    more_of_everything(stage.scene, 6)
    page = stage.vendor.get().content
    weight = len(page)
    for name in ("css/refit.css", "css/portal.css", "vendor/htmx-2.0.11.min.js", "img/refit.svg"):
        assert f"{settings.STATIC_URL}{name}".encode() in page
        weight += Path(str(finders.find(name))).stat().st_size
    assert page.count(b"<script") == 1
    assert page.count(b'<link rel="stylesheet"') == 2
    assert weight < 100_000


def test_to_put_right_is_only_ones_own_open_lines_without_their_cost() -> None:
    scene = a_scene()
    other = a_vendor(scene.refit, name="Another shop")
    for code, vendor, state in (
        ("Own line", scene.vendor, "open"), ("Done line", scene.vendor, "done"),
        ("Line of another", other, "open"), ("Nobody's line", None, "open"),
    ):  # fmt: skip
        PunchItem.objects.create(
            refit=scene.refit, code=code, title=code, vendor=vendor, state=state, found_at=NOW,
            cost="87.65",
        )  # fmt: skip
    page = vendor_page(refit=scene.refit, vendor=scene.vendor, now=NOW)
    assert [item.title for item in page.to_put_right] == ["Own line"]
    link, _ = a_link(scene.refit, LinkKind.VENDOR, scene.vendor)
    text = render_to_string("portal/_vendor_content.html", {"page": page, "link": link})
    assert "Own line" in text
    assert "87.65" not in text

"""The page: who sees it, what it gathers, what the form may ask, how many queries it takes."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from refit.accounts.models import Role
from refit.custody.models import Handoff, HandoffState
from refit.desk.whereabouts.courses import Choice
from refit.desk.whereabouts.model import gather
from refit.desk.whereabouts.pictured import draw
from refit.planning.models import Plan, PlannedMove, PlannedPackage
from refit.work.models import Booking, Closure, PieceEffect, Refit, WorkPackage
from tests import builders as a

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def plan_of(refit: Refit, **fields: Any) -> Plan:
    fields.setdefault("refit_version", refit.version)
    return Plan.objects.create(refit=refit, computed_at=timezone.now(), seconds=0.1, **fields)


def dated(plan: Plan, package: WorkPackage, start: Any, days: float = 1, **fields: Any) -> None:
    finish = start + timedelta(days=days)
    fields.setdefault("finish", finish)
    PlannedPackage.objects.create(
        plan=plan, package=package, start=start, work_finish=finish, **fields
    )


def a_busy_refit(packages: int = 3) -> Refit:
    refit = a.a_refit(start=timezone.now().date() - 21 * DAY)
    shed = a.a_place(refit, name="Alder shed", kind="home")
    shop = a.a_place(refit, name="Gannetry metal shop", vendor=a.a_vendor(refit, trade="welding"))
    boat = a.a_piece(refit, name="Sallow Tern", is_boat=True, place=shed)
    arch = a.a_piece(refit, name="Arch", place=shed)
    plan = plan_of(refit)
    now = timezone.now()
    for number in range(packages):
        on_boat = number % 2 == 0
        package = a.a_package(
            refit,
            title=f"Job number {number}",
            place=shed if on_boat else shop,
            pieces=[boat if on_boat else arch],
        )
        dated(plan, package, now + number * DAY, 0.5, cause="waits for its turn")
        if not on_boat:
            PlannedMove.objects.create(
                plan=plan, piece=arch, origin=shed, destination=shop, for_package=package,
                free_at=now, depart=now + number * DAY - 2 * HOUR, arrive=now + number * DAY - HOUR,
            )  # fmt: skip
    return refit


def opened(refit: Refit, query: str = "", role: str = Role.MANAGER) -> Any:
    client = Client()
    client.force_login(a.a_member(refit, role))
    return client.get(f"/r/{refit.slug}/whereabouts/{query}")


def test_a_member_sees_every_package_as_a_link_with_its_reason() -> None:
    refit = a_busy_refit()
    page = opened(refit, role=Role.READER).content.decode()
    for package in refit.packages.all():
        assert f'href="/r/{refit.slug}/packages/{package.pk}/"' in page
    assert page.count('<a class="wa-package"') == 3
    assert "It waits for its turn." in page


def test_a_stranger_is_told_that_there_is_no_such_page() -> None:
    refit = a_busy_refit()
    client = Client()
    client.force_login(a.a_member(a.a_refit()))
    assert client.get(f"/r/{refit.slug}/whereabouts/").status_code == 404


def test_nobody_may_post_to_it() -> None:
    refit = a_busy_refit()
    client = Client()
    client.force_login(a.a_member(refit))
    assert client.post(f"/r/{refit.slug}/whereabouts/").status_code == 405


def test_the_number_of_queries_is_small_and_does_not_grow_with_the_packages() -> None:
    counts = []
    for packages in (4, 40):
        refit = a_busy_refit(packages)
        plan = Plan.objects.get(refit=refit)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            rows = gather(refit, plan, timezone.now())
        assert len(rows.packages) == packages
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 9
    refit = a_busy_refit(40)
    client = Client()
    client.force_login(a.a_member(refit))
    with CaptureQueriesContext(connection) as queries:
        assert client.get(f"/r/{refit.slug}/whereabouts/").status_code == 200
    assert len(queries) <= 15


def test_without_anything_dated_the_page_says_what_is_missing() -> None:
    refit = a.a_refit()
    a.a_place(refit)
    a.a_package(refit, code="Z9", title="Someday")
    page = opened(refit).content.decode()
    assert "There is nothing to draw yet" in page
    assert "Z9 Someday" in page
    assert "<svg" not in page


def test_a_package_without_a_date_is_named_below_the_picture() -> None:
    refit = a_busy_refit()
    a.a_package(refit, code="Z9", title="Someday")
    page = opened(refit).content.decode()
    assert "because they have no date yet: Z9 Someday." in " ".join(page.split())


def test_a_choice_that_is_not_in_the_refit_is_refused_at_its_field() -> None:
    refit = a_busy_refit()
    for query in ("?piece=999999", "?piece=abc", "?place=-1"):
        response = opened(refit, query)
        assert response.status_code == 200
        page = response.content.decode()
        assert "There is no such p" in page
        assert page.count('<a class="wa-package"') == 3


def test_the_form_chooses_a_piece_a_place_and_a_closer_look() -> None:
    refit = a_busy_refit(4)
    arch = refit.pieces.get(name="Arch")
    shop = refit.places.get(name="Gannetry metal shop")
    assert opened(refit, f"?piece={arch.pk}").content.decode().count('<a class="wa-package"') == 2
    assert opened(refit, f"?place={shop.pk}").content.decode().count('<a class="wa-package"') == 2
    assert "Nothing fits this choice" not in opened(refit, "?driving=on").content.decode()
    width = []
    for query in ("", "?weeks=8", "?weeks=3"):
        page = opened(refit, query).content.decode()
        (found,) = re.findall(r'class="wa-picture" width="([\d.]+)"', page)
        width.append(float(found))
    assert width[2] > width[1]
    assert width[2] > width[0]


def test_words_of_the_refit_cannot_become_markup() -> None:
    refit = a_busy_refit(1)
    refit.packages.update(title='<script>alert("x")</script> & more')
    refit.pieces.update(name='"><img src=x>')
    page = opened(refit).content.decode()
    assert "<script>alert" not in page
    assert "<img src=x>" not in page
    assert " style=" not in page


def test_what_happened_goes_before_what_is_planned() -> None:
    refit = a_busy_refit(1)
    package = refit.packages.get()
    started = timezone.now() - 9 * DAY
    package.started_at, package.finished_at = started, started + DAY
    package.hold_minutes = 60
    package.save()
    (row,) = gather(refit, Plan.objects.get(refit=refit), timezone.now()).packages
    assert (row.start, row.work_finish) == (started, started + DAY)
    assert row.finish == started + DAY + HOUR
    assert row.finished


def test_a_recorded_move_is_drawn_as_it_was_and_a_planned_one_as_planned() -> None:
    refit = a_busy_refit(2)
    arch = refit.pieces.get(name="Arch")
    shed, shop = refit.places.get(kind="home"), refit.places.get(name="Gannetry metal shop")
    sent = timezone.now() - 5 * DAY
    Handoff.objects.create(
        refit=refit, piece=arch, origin=shop, destination=shed, state=HandoffState.RECEIVED,
        sent_at=sent, received_at=sent + 2 * HOUR,
    )  # fmt: skip
    past, coming = gather(refit, Plan.objects.get(refit=refit), timezone.now()).legs
    assert (past.depart, past.arrive, past.sent, past.arrived) == (
        sent,
        sent + 2 * HOUR,
        True,
        True,
    )
    assert (coming.origin, coming.sent) == (shed.pk, False)


def test_a_move_whose_piece_is_overdue_carries_the_sign() -> None:
    refit = a_busy_refit(2)
    shed, shop = refit.places.get(kind="home"), refit.places.get(name="Gannetry metal shop")
    Handoff.objects.create(
        refit=refit, piece=refit.pieces.get(name="Arch"), origin=shed, destination=shop,
        due_at=timezone.now() - DAY,
    )  # fmt: skip
    rows = gather(refit, Plan.objects.get(refit=refit), timezone.now())
    assert [leg.late.startswith("Due for ") for leg in rows.legs] == [True]
    assert 'class="wa-sign"' in draw(rows, Choice()).drawn


def test_a_broken_promise_a_deadline_and_a_missed_booking_are_late() -> None:
    refit = a_busy_refit(3)
    now = timezone.now()
    promised, due, booked = refit.packages.order_by("pk")
    promised.promised = now - DAY
    promised.started_at = now - 2 * DAY
    promised.save()
    due.deadline = now + HOUR
    due.save()
    Booking.objects.create(package=booked, at=now - 3 * DAY)
    rows = gather(refit, Plan.objects.get(refit=refit), now)
    late = {row.code: row.late[0].split(" for ")[0].split(" by ")[0] for row in rows.packages}
    assert late == {
        promised.code: "Promised",
        due.code: "Must be finished",
        booked.code: "Booked",
    }


def test_closures_and_public_holidays_of_a_place_are_shaded_with_their_reason() -> None:
    refit = a_busy_refit(1)
    today = timezone.now().date()
    place = refit.places.get(kind="home")
    Closure.objects.create(place=place, first_day=today, last_day=today, reason="stocktaking")
    page = opened(refit).content.decode()
    assert ": stocktaking</title>" in page


def test_public_holidays_come_from_the_country_of_the_place() -> None:
    # Canada Day is 1 July in all of Canada (Holidays Act, R.S.C. 1985, c. H-5)
    refit = a.a_refit(start=date(2026, 6, 1))
    place = a.a_place(refit, name="Alder shed", kind="home", holiday_country="CA")
    package = a.a_package(refit, place=place)
    plan = plan_of(refit)
    now = datetime(2026, 6, 20, 9, tzinfo=UTC)
    dated(plan, package, now, 20)
    (row,) = gather(refit, plan, now).places
    assert "Canada Day" in [closed.reason for closed in row.closed]


def test_a_country_that_is_not_known_shades_nothing() -> None:
    refit = a_busy_refit(1)
    refit.places.update(holiday_country="XX")
    rows = gather(refit, Plan.objects.get(refit=refit), timezone.now())
    assert [place.closed for place in rows.places] == [(), ()]


def test_a_piece_that_comes_off_the_boat_branches_from_the_package_that_takes_it_off() -> None:
    refit = a_busy_refit(0)
    boat, arch = refit.pieces.get(is_boat=True), refit.pieces.get(name="Arch")
    plan = Plan.objects.get(refit=refit)
    package = a.a_package(refit, place=refit.places.get(kind="home"), pieces=[boat])
    package.piece_uses.create(piece=arch, effect=PieceEffect.TAKES_OFF)
    dated(plan, package, timezone.now(), 2)
    shown = draw(gather(refit, plan, timezone.now()), Choice())
    (branch,) = shown.picture.branches
    assert (branch.piece, branch.off) == (arch.pk, True)

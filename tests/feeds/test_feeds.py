"""Calendars of the three parties, as fetched, read back by our lint and by a second parser."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import vobject
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from refit.accounts.models import LinkKind, PrivateLink
from refit.accounts.services import revoke_link
from refit.custody.models import Handoff
from refit.feeds.models import Feed, FeedEvent
from refit.feeds.services import refresh_feed, refresh_feeds
from refit.planning.models import Plan, PlannedPackage, PlanState
from refit.work.models import Booking, Refit, Vendor, WorkPackage
from tests.builders import (
    a_dependency,
    a_handoff,
    a_link,
    a_package,
    a_piece,
    a_place,
    a_refit,
    a_vendor,
)

from .lint import lint

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 11, 25, 9, tzinfo=UTC)


class Scene:
    """A refit in Halifax (UTC−4 in winter): a frame is welded and comes back, then the launch."""

    def __init__(self) -> None:
        self.refit: Refit = a_refit(time_zone="America/Halifax", wanted_launch=date(2027, 1, 20))
        self.vendor: Vendor = a_vendor(self.refit, name="Brackwater Metalwork")
        self.other: Vendor = a_vendor(self.refit, name="Skerry Canvas Loft")
        self.shop = a_place(
            self.refit, name="Brackwater yard", vendor=self.vendor, address="1 Slip Lane, Brack"
        )
        self.shed = a_place(self.refit, name="Our shed", kind="home")
        self.frame = a_piece(self.refit, name="Windshield frame", place=self.shop)
        self.weld: WorkPackage = a_package(
            self.refit,
            code="M01",
            title="Weld the frame",
            vendor=self.vendor,
            place=self.shop,
            agreed_price="1840.00",
        )
        self.sew = a_package(
            self.refit, code="C01", title="Sew the top", vendor=self.other, place=self.shed
        )
        a_dependency(self.weld, self.sew)
        self.back: Handoff = a_handoff(
            self.frame,
            self.shop,
            self.shed,
            depart_at=datetime(2026, 12, 4, 18, tzinfo=UTC),
            arrive_at=datetime(2026, 12, 4, 19, tzinfo=UTC),
            # 3 December 22:00 in Halifax.
            due_at=datetime(2026, 12, 4, 2, tzinfo=UTC),
        )
        Booking.objects.create(package=self.weld, at=datetime(2026, 11, 30, 12, tzinfo=UTC))
        self.replan(datetime(2027, 1, 22, 15, tzinfo=UTC))

    def replan(self, launch_at: datetime, weld_start: datetime | None = None) -> Plan:
        Plan.objects.filter(refit=self.refit).update(state=PlanState.EARLIER)
        plan = Plan.objects.create(
            refit=self.refit,
            refit_version=1,
            computed_at=NOW,
            seconds=0.01,
            launch_at=launch_at,
        )
        start = weld_start or datetime(2026, 11, 30, 12, tzinfo=UTC)
        for package, begins in ((self.weld, start), (self.sew, start + timedelta(days=7))):
            PlannedPackage.objects.create(
                plan=plan,
                package=package,
                start=begins,
                # Ends on the third day at midnight, local time: the fourth is not taken.
                work_finish=begins + timedelta(days=2, hours=16),
                finish=begins + timedelta(days=3),
                drives=package == self.weld,
                cause="it is booked for then",
            )
        return plan

    def link(self, kind: LinkKind) -> tuple[PrivateLink, str]:
        vendor = self.vendor if kind == LinkKind.VENDOR_FEED else None
        return a_link(self.refit, kind, vendor, now=timezone.now())


@pytest.fixture
def scene() -> Scene:
    return Scene()


def fetch(token: str, **headers: str) -> Any:
    return Client().get(f"/calendar/{token}.ics", headers=headers)


def events(body: bytes) -> dict[str, Any]:
    """By title, as the second parser reads them."""
    assert lint(body) == []
    calendar = vobject.readOne(body.decode())
    return {event.summary.value: event for event in getattr(calendar, "vevent_list", [])}


def test_the_manager_sees_work_moves_bookings_due_dates_and_the_launch(scene: Scene) -> None:
    _, token = scene.link(LinkKind.MANAGER_FEED)
    answer = fetch(token)
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    found = events(answer.content)
    assert set(found) == {
        "M01 Weld the frame (Brackwater Metalwork)",
        "C01 Sew the top (Skerry Canvas Loft)",
        "Booked: M01 Weld the frame",
        "Windshield frame: Brackwater yard to Our shed",
        "Due back: Windshield frame (Brackwater Metalwork)",
        "Launch of Sallow Tern, as planned now",
    }
    work = found["M01 Weld the frame (Brackwater Metalwork)"]
    assert (work.dtstart.value, work.dtend.value) == (date(2026, 11, 30), date(2026, 12, 3))
    assert work.transp.value == "TRANSPARENT"
    assert work.location.value == "Brackwater yard, 1 Slip Lane, Brack"
    sewing = found["C01 Sew the top (Skerry Canvas Loft)"]
    assert sewing.description.value == "Why then: it is booked for then\nWaits for M01."
    booked = found["Booked: M01 Weld the frame"]
    assert booked.dtstart.value == datetime(2026, 11, 30, 12, tzinfo=UTC)
    assert booked.transp.value == "OPAQUE"
    due = found["Due back: Windshield frame (Brackwater Metalwork)"]
    assert due.dtstart.value == date(2026, 12, 3), "the day in the zone of the refit"
    drive = found["Windshield frame: Brackwater yard to Our shed"]
    assert drive.dtend.value - drive.dtstart.value == timedelta(hours=1)


def test_the_owner_sees_the_launch_and_what_decides_it_but_no_prices(scene: Scene) -> None:
    _, token = scene.link(LinkKind.OWNER_FEED)
    answer = fetch(token)
    found = events(answer.content)
    assert set(found) == {"Launch of Sallow Tern, as planned now", "Sallow Tern: Weld the frame"}
    launch = found["Launch of Sallow Tern, as planned now"]
    assert launch.dtstart.value == date(2027, 1, 22)
    assert launch.description.value == "Wanted for Wed 20 Jan 2027."
    assert b"1840" not in answer.content


def test_a_vendor_sees_its_own_and_nothing_of_another(scene: Scene) -> None:
    piece = a_piece(scene.refit, name="Bow rail", place=scene.shed)
    a_handoff(piece, scene.shed, scene.shop, arrive_at=datetime(2026, 12, 1, 15, tzinfo=UTC))
    _, token = scene.link(LinkKind.VENDOR_FEED)
    answer = fetch(token)
    assert set(events(answer.content)) == {
        "Sallow Tern: Weld the frame",
        "Sallow Tern, booked: Weld the frame",
        "Sallow Tern: Windshield frame due back",
        "Sallow Tern: Bow rail comes to you",
    }
    assert b"Skerry" not in answer.content
    assert b"1840" not in answer.content
    assert b"Why then" not in answer.content


def test_nothing_changed_is_answered_without_looking_at_the_plan(scene: Scene) -> None:
    _, token = scene.link(LinkKind.MANAGER_FEED)
    first = fetch(token)
    with CaptureQueriesContext(connection) as queries:
        again = fetch(token, if_none_match=first["ETag"])
    assert again.status_code == 304
    assert again.content == b""
    assert again["Cache-Control"] == first["Cache-Control"] == "private, no-cache"
    assert again["ETag"] == first["ETag"]
    assert len(queries) == 2
    assert not any("planning_" in query["sql"] for query in queries)
    assert fetch(token, if_modified_since=first["Last-Modified"]).status_code == 304
    assert fetch(token, if_none_match='"another"').status_code == 200


def test_writing_again_without_a_change_gives_the_same_bytes(scene: Scene) -> None:
    link, token = scene.link(LinkKind.MANAGER_FEED)
    first = fetch(token)
    plan = Plan.objects.current(scene.refit)
    refresh_feed(link=link, plan=plan, now=timezone.now() + timedelta(hours=7))
    again = fetch(token)
    assert again.content == first.content
    assert (again["ETag"], again["Last-Modified"]) == (first["ETag"], first["Last-Modified"])


def test_a_moved_date_raises_the_sequence_and_keeps_the_uid(scene: Scene) -> None:
    _, token = scene.link(LinkKind.VENDOR_FEED)
    before = events(fetch(token).content)
    scene.replan(
        datetime(2027, 1, 22, 15, tzinfo=UTC), weld_start=datetime(2026, 12, 2, 12, tzinfo=UTC)
    )
    later = timezone.now() + timedelta(minutes=1)
    assert refresh_feeds(now=later) == 1
    assert refresh_feeds(now=later) == 0
    after = events(fetch(token).content)
    title = "Sallow Tern: Weld the frame"
    assert after[title].uid.value == before[title].uid.value
    assert (before[title].sequence.value, after[title].sequence.value) == ("0", "1")
    assert after[title].dtstart.value == date(2026, 12, 2)
    assert after[title].dtstamp.value > before[title].dtstamp.value
    booked = "Sallow Tern, booked: Weld the frame"
    assert after[booked].sequence.value == "0"
    assert after[booked].dtstamp.value == before[booked].dtstamp.value


def test_a_new_title_is_a_change_but_no_new_sequence(scene: Scene) -> None:
    link, token = scene.link(LinkKind.VENDOR_FEED)
    first = fetch(token)
    WorkPackage.objects.filter(pk=scene.weld.pk).update(title="Weld and grind the frame")
    refresh_feed(link=link, plan=Plan.objects.current(scene.refit), now=timezone.now())
    answer = fetch(token, if_none_match=first["ETag"])
    assert answer.status_code == 200
    assert events(answer.content)["Sallow Tern: Weld and grind the frame"].sequence.value == "0"


def test_what_is_called_off_is_shown_as_cancelled_for_thirty_days(scene: Scene) -> None:
    link, token = scene.link(LinkKind.VENDOR_FEED)
    fetch(token)
    Booking.objects.all().delete()
    now = timezone.now()
    plan = Plan.objects.current(scene.refit)
    refresh_feed(link=link, plan=plan, now=now)
    gone = events(fetch(token).content)["Cancelled: Sallow Tern, booked: Weld the frame"]
    assert gone.status.value == "CANCELLED"
    assert gone.sequence.value == "1"
    assert gone.transp.value == "TRANSPARENT"
    refresh_feed(link=link, plan=plan, now=now + timedelta(days=29))
    assert len(events(fetch(token).content)) == 3
    refresh_feed(link=link, plan=plan, now=now + timedelta(days=30))
    assert len(events(fetch(token).content)) == 2


def test_what_comes_back_is_the_same_event_again(scene: Scene) -> None:
    link, token = scene.link(LinkKind.VENDOR_FEED)
    plan = Plan.objects.current(scene.refit)
    refresh_feed(link=link, plan=plan, now=NOW)
    Handoff.objects.update(state="cancelled")
    refresh_feed(link=link, plan=plan, now=NOW)
    Handoff.objects.update(state="planned")
    refresh_feed(link=link, plan=plan, now=NOW)
    back = events(fetch(token).content)["Sallow Tern: Windshield frame due back"]
    assert back.status.value == "CONFIRMED"
    assert back.sequence.value == "2"


def test_a_link_taken_back_says_that_it_is_closed_and_is_gone_later(scene: Scene) -> None:
    link, token = scene.link(LinkKind.MANAGER_FEED)
    fetch(token)
    revoke_link(link=link, now=timezone.now() - timedelta(days=29))
    answer = fetch(token)
    assert set(events(answer.content)) == {"This calendar is closed; please remove it"}
    assert fetch(token).content == answer.content
    assert fetch(token, if_none_match=answer["ETag"]).status_code == 304
    PrivateLink.objects.update(revoked_at=timezone.now() - timedelta(days=30))
    assert fetch(token).status_code == 410


def test_an_expired_link_is_closed_too(scene: Scene) -> None:
    link, token = scene.link(LinkKind.MANAGER_FEED)
    PrivateLink.objects.filter(pk=link.pk).update(expires_at=timezone.now() - timedelta(days=1))
    assert b"closed" in fetch(token).content


def test_an_address_that_never_was_is_not_found(scene: Scene) -> None:
    assert fetch("x" * 43).status_code == 404


def test_the_token_of_a_page_opens_no_calendar(scene: Scene) -> None:
    _, token = scene.link(LinkKind.OWNER)
    assert fetch(token).status_code == 404


def test_only_reading_is_allowed(scene: Scene) -> None:
    _, token = scene.link(LinkKind.MANAGER_FEED)
    assert Client().post(f"/calendar/{token}.ics").status_code == 405
    assert Client().head(f"/calendar/{token}.ics").status_code == 200


def test_names_with_everything_in_them_make_a_whole_calendar(scene: Scene) -> None:
    nasty = "Kübel, \\ ; “Ω” \x07\x0b\x85 \r\nEND:VEVENT\r\nX: 船" + "é" * 80
    scene.refit.boat.name = nasty[:120]
    scene.refit.boat.save()
    WorkPackage.objects.update(title=nasty[:160])
    scene.shop.name, scene.shop.address = nasty[:120], nasty
    scene.shop.save()
    for kind in (LinkKind.MANAGER_FEED, LinkKind.OWNER_FEED, LinkKind.VENDOR_FEED):
        _, token = scene.link(kind)
        body = fetch(token).content
        assert lint(body) == []
        calendar = vobject.readOne(body.decode())
        assert len(calendar.vevent_list) == FeedEvent.objects.filter(feed__link__kind=kind).count()


@pytest.mark.parametrize(
    ("zone", "start", "day"),
    [
        # The night of the clock change: 23:30 local on the day before, and 00:30 on the day.
        ("America/Halifax", datetime(2027, 3, 14, 3, 30, tzinfo=UTC), date(2027, 3, 13)),
        ("America/Halifax", datetime(2027, 11, 7, 3, 30, tzinfo=UTC), date(2027, 11, 7)),
        ("Europe/Lisbon", datetime(2027, 3, 28, 0, 30, tzinfo=UTC), date(2027, 3, 28)),
        ("Europe/Lisbon", datetime(2027, 10, 30, 23, 30, tzinfo=UTC), date(2027, 10, 31)),
    ],
)
def test_days_are_those_of_the_refit_around_a_clock_change(
    scene: Scene, zone: str, start: datetime, day: date
) -> None:
    Refit.objects.update(time_zone=zone)
    scene.refit.refresh_from_db()
    scene.replan(start + timedelta(days=30), weld_start=start)
    Booking.objects.update(at=start)
    _, token = scene.link(LinkKind.VENDOR_FEED)
    found = events(fetch(token).content)
    assert found["Sallow Tern: Weld the frame"].dtstart.value == day
    assert found["Sallow Tern, booked: Weld the frame"].dtstart.value == start


def test_queries_do_not_grow_with_the_refit(scene: Scene) -> None:
    link, _ = scene.link(LinkKind.MANAGER_FEED)
    plan = Plan.objects.current(scene.refit)
    refresh_feed(link=link, plan=plan, now=NOW)
    with CaptureQueriesContext(connection) as few:
        refresh_feed(link=link, plan=plan, now=NOW)
    assert plan
    for number in range(10):
        package = a_package(scene.refit, place=scene.shed)
        a_dependency(scene.weld, package)
        a_handoff(scene.frame, scene.shop, scene.shed, due_at=NOW)
        PlannedPackage.objects.create(
            plan=plan,
            package=package,
            start=NOW + timedelta(days=number),
            work_finish=NOW + timedelta(days=number, hours=2),
            finish=NOW + timedelta(days=number, hours=2),
        )
    refresh_feed(link=link, plan=plan, now=NOW)
    with CaptureQueriesContext(connection) as many:
        refresh_feed(link=link, plan=plan, now=NOW)
    assert len(many) == len(few)


def test_one_calendar_that_cannot_be_written_does_not_stop_the_others(scene: Scene) -> None:
    broken = Scene()
    Refit.objects.filter(pk=broken.refit.pk).update(time_zone="Nowhere/At All")
    broken.link(LinkKind.MANAGER_FEED)
    scene.link(LinkKind.MANAGER_FEED)
    assert refresh_feeds(now=timezone.now()) == 1
    assert Feed.objects.get().link.refit == scene.refit

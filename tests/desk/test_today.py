"""The page of the day: what it says, and the acts in place."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from refit.accounts.models import Role
from refit.custody.models import Handoff, HandoffState
from refit.planning.models import Plan
from refit.planning.services import replan
from refit.quality.models import Finding
from refit.work.models import Booking, JournalEntry, Refit, Vendor, record
from refit.work.wording import say_moment
from tests.builders import A_MANAGER, a_dependency, a_package, a_piece, a_place, a_refit, a_vendor

from .people import check_get_changes_nothing, check_only_members_post, signed_in

pytestmark = pytest.mark.django_db


def _url(refit: Refit) -> str:
    return reverse("desk:today", args=[refit.slug])


def _page(refit: Refit, role: str = Role.MANAGER) -> str:
    page: str = signed_in(refit, role).get(_url(refit)).content.decode()
    return page


def _day(refit: Refit) -> Any:
    return signed_in(refit).get(_url(refit)).context["day"]


def _late_shop(refit: Refit, **fields: Any) -> tuple[Vendor, Handoff]:
    """A vendor that has had our frame for too long; the launch waits for it."""
    vendor = a_vendor(refit, name="Scoter Coating", phone="01632 960153", contact="Dag")
    shop, home = a_place(refit, vendor=vendor), a_place(refit)
    frame = a_piece(refit, name="Top frame", place=shop)
    coat = a_package(
        refit, vendor=vendor, place=shop, pieces=[frame], is_launch=True,
        started_at=timezone.now() - timedelta(days=9),
    )  # fmt: skip
    replan(refit=refit, now=timezone.now())
    due = timezone.now() - timedelta(days=3)
    handoff = Handoff.objects.create(
        refit=refit, piece=frame, origin=shop, destination=home, after_package=coat,
        due_at=due, depart_at=due, **fields,
    )  # fmt: skip
    return vendor, handoff


def test_an_empty_refit_is_taught_the_three_steps() -> None:
    refit = a_refit()
    page = _page(refit)
    assert "A plan needs three things" in page
    assert reverse("desk:package-add", args=[refit.slug]) in page
    assert reverse("desk:import", args=[refit.slug]) in page


def test_the_launch_is_told_against_the_day_wanted() -> None:
    refit = a_refit(wanted_launch=timezone.now().date() + timedelta(days=200))
    a_package(refit, is_launch=True)
    replan(refit=refit, now=timezone.now())
    launch = signed_in(refit).get(_url(refit)).context["launch"]
    assert launch.look == "ok"
    assert "days before" in launch.against_wanted
    Refit.objects.update(wanted_launch=date(2020, 1, 1))
    launch = signed_in(refit).get(_url(refit)).context["launch"]
    assert launch.look == "late"
    assert "days after" in launch.against_wanted


def test_the_launch_that_moved_since_yesterday_says_how_far_and_what_was_first() -> None:
    refit = a_refit()
    a_package(refit, is_launch=True)
    now = timezone.now()
    replan(refit=refit, now=now)
    launch_at = Plan.objects.get().launch_at
    assert launch_at is not None
    Plan.objects.create(
        refit=refit, state="earlier", refit_version=1, seconds=0.1,
        computed_at=now - timedelta(days=2), launch_at=launch_at - timedelta(days=3),
    )  # fmt: skip
    JournalEntry.objects.create(
        refit=refit, at=now - timedelta(days=1), actor_name="Dag Ellery", actor_side="vendor",
        verb="promised", subject_kind="handoff", subject_name="Top frame",
    )  # fmt: skip
    launch = signed_in(refit).get(_url(refit)).context["launch"]
    assert launch.moved == "3 days later than yesterday."
    assert launch.why_moved == "First change since then: Dag Ellery promised Top frame."


def test_a_late_shop_is_to_be_called_with_its_number_and_what_it_costs() -> None:
    refit = a_refit()
    _late_shop(refit)
    page = _page(refit)
    assert "Scoter Coating" in page
    assert 'href="tel:01632 960153"' in page
    assert "ask for Dag" in page
    [call] = _day(refit).calls
    assert call.is_late
    assert "Top frame was due back" in call.lines[0]
    assert "3 days ago." in call.lines[0]
    assert "Every further day moves the launch a day." in call.lines[0]


def test_a_shop_that_said_ready_or_promised_a_later_day_is_not_called() -> None:
    refit = a_refit()
    _late_shop(refit)
    Handoff.objects.update(promised_at=timezone.now() + timedelta(days=1))
    assert _day(refit).calls == []
    Handoff.objects.update(promised_at=None, state=HandoffState.READY)
    day = _day(refit)
    assert day.calls == []
    assert [load.act for load in day.loads] == ["send"]


def test_a_booking_of_tomorrow_is_to_be_confirmed() -> None:
    refit = a_refit()
    vendor = a_vendor(refit)
    package = a_package(refit, vendor=vendor, title="Pattern")
    far = a_package(refit, vendor=vendor, title="Sew")
    tomorrow = timezone.now() + timedelta(days=1)
    Booking.objects.create(package=package, at=tomorrow, agreed_with="Odile")
    Booking.objects.create(package=far, at=tomorrow + timedelta(days=20))
    replan(refit=refit, now=timezone.now())
    [call] = _day(refit).calls
    assert not call.is_late
    assert len(call.lines) == 1
    assert call.lines[0].startswith("Confirm Pattern: booked for")


def _called(refit: Refit) -> str:
    return reverse("desk:called", args=[refit.slug])


@pytest.mark.parametrize("role", [Role.MANAGER, Role.CREW])
def test_called_is_noted_and_hides_the_call_until_tomorrow(role: str) -> None:
    refit = a_refit()
    vendor, _ = _late_shop(refit)
    version = refit.version
    client = signed_in(refit, role)
    answer = client.post(_called(refit), {"vendor": vendor.pk}, follow=True)
    assert "Noted: Scoter Coating was called." in answer.content.decode()
    assert _day(refit).calls == []
    refit.refresh_from_db()
    assert refit.version == version


def test_a_call_of_yesterday_hides_nothing_today() -> None:
    refit = a_refit()
    vendor, _ = _late_shop(refit)
    for days, shown in ((1, 1), (0, 0)):
        now = timezone.now() - timedelta(days=days)
        record(refit=refit, actor=A_MANAGER, now=now, verb="called", subject=vendor, replan=False)
        assert len(_day(refit).calls) == shown


def test_called_twice_is_noted_once() -> None:
    refit = a_refit()
    vendor, _ = _late_shop(refit)
    client = signed_in(refit)
    for _ in range(2):
        client.post(_called(refit), {"vendor": vendor.pk})
    assert JournalEntry.objects.filter(verb="called").count() == 1


def test_only_members_note_calls_and_only_to_their_own_vendors() -> None:
    refit = a_refit()
    vendor, _ = _late_shop(refit)
    check_only_members_post(refit, _called(refit), {"vendor": vendor.pk})
    check_get_changes_nothing(refit, _called(refit))
    client = signed_in(refit)
    foreign = a_vendor(a_refit())
    assert client.post(_called(refit), {"vendor": foreign.pk}).status_code == 404
    assert client.post(_called(refit), {"vendor": "x"}).status_code == 404
    assert not JournalEntry.objects.filter(verb="called").exists()


def _move(refit: Refit, **fields: Any) -> Handoff:
    origin, destination = a_place(refit), a_place(refit)
    piece = a_piece(refit, name="Rail", place=origin, travels_with="bag of screws")
    fields.setdefault("depart_at", timezone.now())
    return Handoff.objects.create(
        refit=refit, piece=piece, origin=origin, destination=destination, **fields
    )


def test_what_leaves_today_is_to_be_loaded_and_sent_in_place() -> None:
    refit = a_refit()
    a_package(refit)
    replan(refit=refit, now=timezone.now())
    handoff = _move(refit)
    assert "With it: bag of screws." in _page(refit)
    client = signed_in(refit, Role.CREW)
    url = reverse("desk:handoff-send", args=[refit.slug, handoff.pk])
    answer = client.post(url, {"next": "today"})
    assert answer["Location"] == _url(refit)
    handoff.refresh_from_db()
    assert handoff.state == HandoffState.UNDER_WAY
    [load] = _day(refit).loads
    assert (load.act, load.state.word) == ("receive", "on the road")


def test_what_leaves_next_week_is_not_to_be_loaded_yet() -> None:
    refit = a_refit()
    a_package(refit)
    replan(refit=refit, now=timezone.now())
    _move(refit, depart_at=timezone.now() + timedelta(days=4))
    assert _day(refit).loads == []


def test_open_findings_and_what_the_plan_cannot_keep_wait_for_a_decision() -> None:
    refit = a_refit()
    package = a_package(refit, code="H1", title="Sand", deadline=timezone.now())
    replan(refit=refit, now=timezone.now())
    Finding.objects.create(
        refit=refit, code="N1", title="Soft core", found_at=timezone.now(), work_minutes=1440,
        price="640", decide_by=timezone.now() + timedelta(days=1),
    )  # fmt: skip
    Finding.objects.create(
        refit=refit, code="N2", title="Old news", found_at=timezone.now(), decision="leave"
    )
    day = _day(refit)
    assert [item.finding.title for item in day.waiting] == ["Soft core"]
    assert day.waiting[0].line == "To repair it now: 3 days and 640 EUR."
    assert day.waiting[0].state.word == "decide tomorrow"
    assert any(
        package.title in note.said and "must be finished by" in note.said for note in day.notes
    )


def test_a_package_under_way_says_which_day_it_is_and_a_hold_when_it_ends() -> None:
    refit = a_refit()
    now = timezone.now()
    a_package(refit, title="Sand", started_at=now - timedelta(days=7), remaining_minutes=480)
    a_package(
        refit, title="Coat", started_at=now - timedelta(days=2), finished_at=now,
        hold_minutes=2880, hold_reason="cure",
    )  # fmt: skip
    a_package(
        refit, title="Done", started_at=now - timedelta(days=9), finished_at=now - timedelta(days=8)
    )
    replan(refit=refit, now=now)
    lines = {item.row.package.title: item.line for item in _day(refit).going}
    assert set(lines) == {"Sand", "Coat"}
    assert lines["Sand"].startswith("Day ")
    assert lines["Coat"].startswith("Work is done; the hold (cure) ends ")


def test_packages_that_start_soon_are_next_and_those_of_today_can_be_started() -> None:
    refit = a_refit()
    place = a_place(refit, hours=False)
    for day in range(7):
        place.hours.create(
            weekday=day, opens=datetime.min.time(), closes=datetime.min.time().replace(hour=0)
        )
    package = a_package(refit, title="Sand", place=place)
    later = a_package(refit, title="Polish", place=place)
    Booking.objects.create(package=later, kind="not before", at=timezone.now() + timedelta(days=12))
    replan(refit=refit, now=timezone.now())
    [item] = _day(refit).following
    assert item.row.package == package
    start = reverse("desk:package-start", args=[refit.slug, package.pk])
    assert start in _page(refit)
    assert start not in _page(refit, Role.READER)


def test_a_quiet_day_says_so() -> None:
    refit = a_refit()
    package = a_package(refit, is_launch=True)
    Booking.objects.create(
        package=package, kind="not before", at=timezone.now() + timedelta(days=12)
    )
    replan(refit=refit, now=timezone.now())
    page = _page(refit)
    for words in ("Nobody to call", "Nothing to load", "Nothing waits for a decision",
                  "Nothing is under way", "Nothing starts"):  # fmt: skip
        assert words in page


def test_a_window_that_runs_says_by_when_the_next_package_must_begin() -> None:
    refit = a_refit()
    now = timezone.now()
    coat = a_package(
        refit, title="First coat", hold_minutes=60,
        started_at=now - timedelta(days=1), finished_at=now - timedelta(hours=2),
    )  # fmt: skip
    again = a_package(refit, title="Second coat")
    link = a_dependency(coat, again, max_lag_minutes=2880, reason="recoat window")
    replan(refit=refit, now=now)
    [item] = _day(refit).windows
    closes = now - timedelta(hours=2) + timedelta(minutes=60 + 2880)
    said = f"It must begin by {say_moment(closes, UTC, now.date())} after First coat"
    assert item.line.startswith(said)
    assert item.state.word == "window closes"
    assert "Second coat" in _page(refit)
    link.max_lag_minutes = 30
    link.save()
    assert _day(refit).windows[0].state.word == "window missed"
    again.started_at = now
    again.save()
    assert _day(refit).windows == []

"""Stopping a kind with one click, once a day or at once, quiet hours; and who sees what of it."""

from __future__ import annotations

import re
from datetime import UTC, datetime, time, timedelta
from typing import Any

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from refit.accounts.models import LinkKind, Role
from refit.notices.models import How, KindWish, Letter, LetterState, Notice, NoticeKind, Side
from refit.notices.moments import QuietHours
from refit.notices.wishes import (
    person_key,
    stop_token,
    wish_for_hours,
    wish_for_kinds,
)
from tests.builders import NOW, a_link, a_member, a_refit
from tests.desk.people import signed_in
from tests.portal.stage import dump

from .scene import Scene, a_scene

pytestmark = pytest.mark.django_db
VENDOR = "vendor:shop@brackwater.example"
ONE_CLICK = {"List-Unsubscribe": "One-Click"}


def wish(scene: Scene, kind: NoticeKind, how: How, person: str = VENDOR) -> None:
    wish_for_kinds(refit=scene.refit, person=person, wishes={kind: how}, now=NOW)


def told(scene: Scene, now: datetime = NOW, person: str = VENDOR) -> list[Any]:
    return [thing for thing in scene.things(now) if thing.person.key == person]


def an_overdue_scene() -> Scene:
    scene = a_scene()
    scene.handoff(due_at=NOW - timedelta(minutes=5))
    return scene


def stop_path(letter: Letter) -> str:
    return reverse("notices:stop", args=[stop_token(letter)])


def the_vendors_letter(scene: Scene) -> Letter:
    scene.pass_time(NOW, NOW)
    return Letter.objects.get(refit=scene.refit, side=Side.VENDOR)


# --- one click ----------------------------------------------------------------------------------


def test_a_mail_program_stops_the_kind_with_one_post_without_cookie_or_token() -> None:
    scene = an_overdue_scene()
    letter = the_vendors_letter(scene)
    stranger = Client(enforce_csrf_checks=True)
    answer = stranger.post(stop_path(letter), ONE_CLICK)
    assert answer.status_code == 200
    assert not answer.cookies
    assert [(w.person, w.kind, w.how) for w in KindWish.objects.all()] == [
        (VENDOR, NoticeKind.OVERDUE, How.NEVER)
    ]
    assert stranger.post(stop_path(letter), ONE_CLICK).status_code == 200
    assert KindWish.objects.count() == 1
    mail.outbox.clear()
    scene.pass_time(NOW + timedelta(days=1), NOW + timedelta(days=9), minutes=120)
    assert {to for letter in mail.outbox for to in letter.to} == {
        f"Runa Ostlund <{scene.manager.email}>"
    }


def test_looking_at_the_address_stops_nothing() -> None:
    letter = the_vendors_letter(an_overdue_scene())
    before = dump()
    for _ in range(2):
        assert Client().get(stop_path(letter)).status_code == 200
        assert Client().head(stop_path(letter)).status_code == 200
    assert dump() == before


def test_the_page_stops_one_kind_and_brings_it_back() -> None:
    scene = an_overdue_scene()
    letter = the_vendors_letter(scene)
    client = Client(enforce_csrf_checks=True)
    page = client.get(stop_path(letter)).content.decode()
    assert "Stop these" in page
    assert "Overdue" in page
    answer = client.post(stop_path(letter), {"kind": "overdue"}, follow=True)
    assert "You are not told of this by mail" in answer.content.decode()
    assert told(scene) == []
    client.post(stop_path(letter), {"kind": "overdue", "act": "again"})
    assert not KindWish.objects.exists()
    assert len(told(scene)) == 1


def test_a_letter_stops_only_kinds_that_it_told_of() -> None:
    letter = the_vendors_letter(an_overdue_scene())
    Client().post(stop_path(letter), {"kind": "booking"})
    assert not KindWish.objects.exists()


def test_one_click_on_a_letter_of_the_day_stops_all_that_it_told() -> None:
    scene = an_overdue_scene()
    letter = the_vendors_letter(scene)
    Notice.objects.create(
        refit=scene.refit, key="booking:1", kind="booking", recipient=letter.recipient,
        side="vendor", sentence="Booked.", tell_at=NOW, state="sent", letter=letter,
    )  # fmt: skip
    assert "Stop all of them" in Client().get(stop_path(letter)).content.decode()
    Client().post(stop_path(letter), ONE_CLICK)
    assert {w.kind for w in KindWish.objects.all()} == {"overdue", "booking"}


@pytest.mark.parametrize("token", ["1", "1:forged", "x:y", ""])
def test_a_forged_address_is_not_there(token: str) -> None:
    the_vendors_letter(an_overdue_scene())
    assert Client().get(f"/told/stop/{token}").status_code == 404
    assert Client().post(f"/told/stop/{token}", ONE_CLICK).status_code == 404
    assert not KindWish.objects.exists()


def test_stopping_takes_no_access_away() -> None:
    scene = an_overdue_scene()
    link, token = a_link(scene.refit, LinkKind.VENDOR, scene.vendor)
    client = Client()
    client.get(f"/p/in/{token}")
    Client().post(stop_path(the_vendors_letter(scene)), ONE_CLICK)
    assert client.get(f"/p/{link.public_id}/").status_code == 200


def test_the_letter_carries_the_headers_of_rfc_8058_over_https(settings: Any) -> None:
    settings.SITE_ADDRESS = "https://refit.example"
    scene = an_overdue_scene()
    letter = the_vendors_letter(scene)
    sent = next(m for m in mail.outbox if scene.vendor.email in m.to[0])
    header = str(sent.message()["List-Unsubscribe"])
    assert re.fullmatch(r"<https://refit\.example/told/stop/[^<>, ]+>", header)
    assert sent.message()["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    path = header.removeprefix("<https://refit.example").removesuffix(">")
    assert path == stop_path(letter)
    assert path in str(sent.body)
    assert Client(enforce_csrf_checks=True).post(path, ONE_CLICK).status_code == 200


def test_over_plain_http_one_click_is_not_promised() -> None:
    scene = an_overdue_scene()
    the_vendors_letter(scene)
    sent = mail.outbox[0].message()
    assert sent["List-Unsubscribe"]
    assert sent["List-Unsubscribe-Post"] is None


# --- how and when -------------------------------------------------------------------------------


def test_what_waits_to_be_sent_is_dropped_when_it_is_stopped_first() -> None:
    scene = an_overdue_scene()
    scene.write()
    wish(scene, NoticeKind.OVERDUE, How.NEVER)
    scene.pass_time(NOW, NOW)
    assert all(scene.vendor.email not in letter.to[0] for letter in mail.outbox)
    assert Letter.objects.get(side=Side.VENDOR).state == LetterState.DROPPED


def test_an_urgent_thing_waits_for_the_letter_of_the_day_if_wished() -> None:
    scene = an_overdue_scene()
    wish(scene, NoticeKind.OVERDUE, How.DAILY)
    (thing,) = told(scene)
    assert not thing.urgent
    assert thing.tell_at == datetime(2026, 11, 26, 7, tzinfo=UTC)


def test_what_would_wait_comes_at_once_if_wished() -> None:
    scene = a_scene()
    scene.handoff(due_at=NOW - timedelta(days=1))
    (usual,) = told(scene)
    assert not usual.urgent
    wish(scene, NoticeKind.OVERDUE, How.AT_ONCE)
    (thing,) = told(scene)
    assert (thing.urgent, thing.tell_at) == (True, NOW)


def test_nothing_is_sent_in_ones_own_quiet_hours_and_the_digest_comes_at_their_end() -> None:
    scene = a_scene()
    scene.handoff(due_at=NOW + timedelta(hours=9))
    wish_for_hours(refit=scene.refit, person=VENDOR, hours=QuietHours(time(17), time(9, 30)))
    scene.pass_time(NOW, NOW + timedelta(days=1, hours=4))
    letters = Letter.objects.filter(side=Side.VENDOR, state=LetterState.SENT)
    moments = [letter.sent_at for letter in letters if letter.sent_at]
    assert [m for m in moments if not 9.5 <= m.hour + m.minute / 60 < 17] == []
    assert datetime(2026, 11, 26, 9, 30, tzinfo=UTC) in moments
    told_manager = Letter.objects.filter(side=Side.MANAGER, state=LetterState.SENT)
    assert any(letter.sent_at and letter.sent_at.hour == 18 for letter in told_manager)


def test_the_digest_of_earlier_risers_holds_what_the_usual_one_would() -> None:
    scene = a_scene()
    scene.handoff(due_at=NOW + timedelta(days=3))
    wish_for_hours(refit=scene.refit, person=VENDOR, hours=QuietHours(time(20), time(5)))
    scene.pass_time(NOW, NOW + timedelta(days=1))
    letter = Letter.objects.get(side=Side.VENDOR, state=LetterState.SENT)
    assert letter.sent_at == datetime(2026, 11, 26, 5, tzinfo=UTC)
    assert letter.notices.get().kind == NoticeKind.DUE_SOON


def test_a_wish_of_one_person_is_none_of_anothers() -> None:
    scene = an_overdue_scene()
    wish(scene, NoticeKind.OVERDUE, How.NEVER)
    assert [thing.person.side for thing in scene.things()] == [Side.MANAGER]
    other = an_overdue_scene()
    assert len(told(other)) == 1


# --- the pages ----------------------------------------------------------------------------------


def sent_form(**changed: str) -> dict[str, str]:
    return {
        "starts": "21:00",
        "ends": "07:00",
        "kind-due-soon": "usual",
        "kind-overdue": "usual",
        "kind-coming": "usual",
        "kind-booking": "usual",
        "kind-confirm": "usual",
        "kind-request": "usual",
        "kind-papers": "usual",
    } | changed


def at_the_vendors_door(scene: Scene) -> tuple[Client, str]:
    link, token = a_link(scene.refit, LinkKind.VENDOR, scene.vendor)
    client = Client()
    client.get(f"/p/in/{token}")
    return client, reverse("notices:wishes", args=[link.public_id])


def test_a_vendor_chooses_on_the_page_behind_its_link() -> None:
    scene = an_overdue_scene()
    client, path = at_the_vendors_door(scene)
    assert path in client.get(path.replace("/told/", "/p/")).content.decode()
    assert "shop@brackwater.example" in client.get(path).content.decode()
    form = sent_form(**{"kind-overdue": "never", "starts": "19:00", "ends": "08:15"})
    assert client.post(path, form).status_code == 302
    assert told(scene) == []
    page = client.get(path).content.decode()
    assert 'value="08:15"' in page
    client.post(path, sent_form())
    assert len(told(scene)) == 1
    assert not KindWish.objects.exists()


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"starts": "06:00"}, "starts"),
        ({"starts": "late"}, "starts"),
        ({"starts": "23:45"}, "starts"),
        ({"ends": "03:00"}, "ends"),
        ({"kind-overdue": "hourly"}, "kind-overdue"),
    ],
)
def test_what_cannot_be_is_said_at_its_field_and_nothing_is_kept(
    changed: dict[str, str], field: str
) -> None:
    scene = an_overdue_scene()
    client, path = at_the_vendors_door(scene)
    answer = client.post(path, sent_form(**{"kind-booking": "never"} | changed))
    assert list(answer.context["form"].errors) == [field]
    assert not KindWish.objects.exists()


def test_who_gets_no_mail_is_told_so() -> None:
    scene = a_scene()
    scene.vendor.email = ""
    scene.vendor.save()
    client, path = at_the_vendors_door(scene)
    assert "No mail is sent to you" in client.get(path).content.decode()
    assert client.post(path, sent_form()).status_code == 200


def test_a_member_chooses_from_the_menu() -> None:
    refit = a_refit()
    client = signed_in(refit, Role.CREW)
    path = reverse("desk:wishes", args=[refit.slug])
    assert path in client.get(reverse("desk:today", args=[refit.slug])).content.decode()
    form = {"starts": "21:00", "ends": "07:00", "kind-ready": "daily", "kind-hold-ended": "never"}
    assert client.post(path, form).status_code == 302
    email = refit.memberships.get().user.email
    assert {(w.person, w.kind, w.how) for w in KindWish.objects.all()} == {
        (person_key("crew", email), "ready", "daily"),
        (person_key("crew", email), "hold ended", "never"),
    }


def test_the_manager_sees_who_has_stopped_what() -> None:
    scene = an_overdue_scene()
    wish(scene, NoticeKind.OVERDUE, How.NEVER)
    wish(scene, NoticeKind.BOOKING, How.DAILY)
    wish_for_hours(refit=scene.refit, person=VENDOR, hours=QuietHours(time(19), time(8)))
    client = Client()
    client.force_login(a_member(scene.refit))
    page = client.get(reverse("desk:sent", args=[scene.refit.slug])).content.decode()
    assert "shop@brackwater.example" in page
    assert "Has stopped: overdue" in page
    assert "Booking tomorrow: once a day." in page
    assert "Quiet from 19:00 to 08:00." in page

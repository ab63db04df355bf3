"""From notices to mails, over a day. `NOW` is Wednesday 25 November 2026, 09:00 UTC."""

from datetime import UTC, datetime, timedelta
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

import pytest
from django.core import mail
from django.test import Client
from django.utils import timezone

from refit.accounts.mailed import link_for_mailed_token
from refit.accounts.models import LinkKind, Membership
from refit.accounts.services import revoke_link
from refit.notices.models import Letter, LetterState, Notice, NoticeState
from refit.notices.sending import sweep
from refit.notices.services import plan_all
from refit.quality.models import Finding
from tests.builders import NOW, a_link

from .scene import Scene, a_scene

pytestmark = pytest.mark.django_db

MORNING = datetime(2026, 11, 26, 7, tzinfo=UTC)


def test_writing_twice_tells_once() -> None:
    scene = a_scene()
    scene.handoff(NOW - timedelta(hours=1))
    assert scene.write() == 2
    assert scene.write() == 0
    assert sweep(clock=lambda: NOW) == 2
    assert sweep(clock=lambda: NOW) == 0
    assert len(mail.outbox) == 2
    assert set(Notice.objects.values_list("state", flat=True)) == {NoticeState.SENT}


def test_everything_that_can_wait_comes_in_one_letter_in_the_morning() -> None:
    scene = a_scene()
    for number in range(3):
        Finding.objects.create(
            refit=scene.refit, code=f"F{number}", title="Soft core", found_at=NOW
        )
    scene.handoff(datetime(2026, 11, 27, 16, tzinfo=UTC))
    scene.write()
    assert sweep(clock=lambda: MORNING - timedelta(seconds=1)) == 0
    assert sweep(clock=lambda: MORNING) == 2
    to_manager = next(m for m in mail.outbox if scene.manager.email in m.to[0])
    assert to_manager.subject == "Sallow Tern, Thu 26 Nov: 4 things to know"
    assert to_manager.body.count("Soft core waits for your decision.") == 3


def test_what_came_true_while_the_letter_waited_is_not_told() -> None:
    scene = a_scene()
    handoff = scene.handoff(datetime(2026, 11, 27, 16, tzinfo=UTC))
    scene.write()
    handoff.state = "received"
    handoff.sent_at = handoff.received_at = NOW
    handoff.save()
    assert sweep(clock=lambda: MORNING) == 0
    assert mail.outbox == []
    assert set(Notice.objects.values_list("state", flat=True)) == {NoticeState.DROPPED}
    assert set(Letter.objects.values_list("state", flat=True)) == {LetterState.DROPPED}


def test_what_is_true_again_is_told_after_all() -> None:
    scene = a_scene()
    finding = Finding.objects.create(refit=scene.refit, code="F1", title="Core", found_at=NOW)
    scene.write()
    Finding.objects.update(decision="watch")
    assert sweep(clock=lambda: MORNING) == 0
    Finding.objects.filter(pk=finding.pk).update(decision="waiting")
    scene.pass_time(MORNING + timedelta(hours=1), MORNING + timedelta(days=1), minutes=30)
    assert len(mail.outbox) == 1


def test_a_manager_who_left_is_told_nothing_more() -> None:
    scene = a_scene()
    Finding.objects.create(refit=scene.refit, code="F1", title="Core", found_at=NOW)
    scene.write()
    Membership.objects.all().delete()
    assert sweep(clock=lambda: MORNING) == 0


def test_a_server_that_slept_through_the_morning_sends_the_letter_when_it_wakes() -> None:
    scene = a_scene()
    Finding.objects.create(refit=scene.refit, code="F1", title="Core", found_at=NOW)
    scene.write()
    scene.pass_time(MORNING + timedelta(hours=4), MORNING + timedelta(hours=5))
    assert len(mail.outbox) == 1


def test_a_server_that_wakes_at_night_waits_for_the_morning_and_sends_one_letter() -> None:
    scene = a_scene()
    Finding.objects.create(refit=scene.refit, code="F1", title="Core", found_at=NOW)
    scene.handoff(NOW - timedelta(hours=1))
    scene.write()
    night = MORNING + timedelta(hours=15)
    scene.pass_time(night, night + timedelta(hours=8))
    assert mail.outbox == []
    scene.pass_time(night + timedelta(hours=9), night + timedelta(hours=12))
    to_manager = [m for m in mail.outbox if scene.manager.email in m.to[0]]
    assert len(to_manager) == 1
    assert "Core" in to_manager[0].body
    assert "Overdue at Brackwater" in to_manager[0].body


def test_a_closed_refit_is_left_in_peace() -> None:
    scene = a_scene()
    scene.handoff(NOW - timedelta(hours=1))
    scene.refit.closed_at = NOW
    scene.refit.save()
    assert plan_all(now=NOW) is False
    assert not Notice.objects.exists()


def test_a_refit_that_cannot_be_looked_at_does_not_stop_the_others() -> None:
    broken, whole = a_scene(), a_scene()
    broken.refit.time_zone = "Nowhere/At All"
    broken.refit.save()
    for scene in (broken, whole):
        scene.handoff(NOW - timedelta(hours=1))
    assert plan_all(now=NOW) is True
    assert {notice.refit_id for notice in Notice.objects.all()} == {whole.refit.pk}


def a_finding(scene: Scene, found_at: datetime, title: str = "Core") -> None:
    code = f"F{Finding.objects.count()}"
    Finding.objects.create(refit=scene.refit, code=code, title=title, found_at=found_at)


# --- clocks ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("zone", "around"),
    [
        ("Europe/Lisbon", datetime(2027, 3, 28, tzinfo=UTC)),
        ("Europe/Lisbon", datetime(2027, 10, 31, tzinfo=UTC)),
        ("America/Halifax", datetime(2027, 3, 14, tzinfo=UTC)),
        ("America/Halifax", datetime(2027, 11, 7, tzinfo=UTC)),
    ],
)
def test_one_letter_a_local_day_over_a_clock_change(zone: str, around: datetime) -> None:
    scene = a_scene(zone)
    start = around - timedelta(days=2)
    # Something new to decide every six hours: there is a reason for a letter each morning.
    for number in range(20):
        then = start + timedelta(hours=6 * number)
        a_finding(scene, then)
        scene.pass_time(then, then + timedelta(hours=6), minutes=20)
    local = [
        letter.sent_at.astimezone(ZoneInfo(zone))
        for letter in Letter.objects.filter(state=LetterState.SENT).order_by("sent_at")
        if letter.sent_at
    ]
    assert len(local) == len(mail.outbox) == 5
    assert len({moment.date() for moment in local}) == len(local)
    assert {moment.hour for moment in local} == {7}


@pytest.mark.parametrize("back", [timedelta(hours=1), timedelta(days=1)])
def test_a_clock_set_back_does_not_repeat_the_letter_of_the_day(back: timedelta) -> None:
    scene = a_scene()
    a_finding(scene, NOW - timedelta(days=1))
    scene.pass_time(NOW - timedelta(days=1), NOW, minutes=30)
    a_finding(scene, NOW)
    scene.pass_time(NOW, MORNING + timedelta(minutes=30), minutes=30)
    days = [letter.due_at for letter in Letter.objects.filter(state=LetterState.SENT)]
    assert len(days) == len(mail.outbox) == 2
    a_finding(scene, MORNING - back, title="Late")
    scene.pass_time(
        MORNING + timedelta(minutes=30) - back, MORNING + timedelta(minutes=30), minutes=30
    )
    assert len(mail.outbox) == 2
    scene.pass_time(MORNING + timedelta(hours=1), MORNING + timedelta(days=1), minutes=30)
    assert len(mail.outbox) == 3
    assert "Late" in mail.outbox[-1].body


# --- what a letter looks like ----------------------------------------------------------------


def test_the_letter_to_a_vendor() -> None:
    scene = a_scene()
    link, token = a_link(scene.refit, LinkKind.VENDOR, scene.vendor, now=timezone.now())
    scene.handoff(NOW - timedelta(hours=1))
    scene.write()
    sweep(clock=lambda: NOW)
    (letter,) = [m for m in mail.outbox if "brackwater" in m.to[0]]
    assert letter.subject == "Sallow Tern, overdue: Windshield frame"
    assert letter.to == ["Jory Penhale <shop@brackwater.example>"]
    assert letter.reply_to == [f"Runa Ostlund <{scene.manager.email}>"]
    sent = letter.message()
    assert [part.get_content_type() for part in sent.walk()] == [
        "multipart/alternative",
        "text/plain",
        "text/html",
    ]
    assert sent["Auto-Submitted"] == "auto-generated"
    assert sent["List-Id"].startswith("Sallow Tern <refit-")
    assert sent["References"] == sent["In-Reply-To"] != sent["Message-ID"]
    address = next(word for word in letter.body.split() if word.startswith("http"))
    onward = Client().get(urlsplit(address).path)
    assert (
        link_for_mailed_token(urlsplit(onward.headers["Location"]).path.rpartition("/in/")[2])
        == link
    )
    assert token not in letter.body


def test_letters_to_one_party_stand_in_one_thread_with_an_id_each() -> None:
    scene = a_scene()
    handoff = scene.handoff(NOW - timedelta(hours=1))
    scene.write()
    sweep(clock=lambda: NOW)
    handoff.state, handoff.ready_at = "ready", NOW
    handoff.save()
    scene.pass_time(NOW, NOW + timedelta(hours=1))
    letters = [m.message() for m in mail.outbox if scene.manager.email in m.to[0]]
    assert len(letters) == 2
    assert len({letter["References"] for letter in letters}) == 1
    assert len({letter["Message-ID"] for letter in letters}) == 2
    vendor = next(m.message() for m in mail.outbox if "brackwater" in m.to[0])
    assert vendor["References"] != letters[0]["References"]


def test_a_vendor_without_an_open_page_is_asked_to_telephone() -> None:
    scene = a_scene()
    link, _token = a_link(scene.refit, LinkKind.VENDOR, scene.vendor)
    revoke_link(link=link, now=NOW)
    scene.handoff(NOW - timedelta(hours=1))
    scene.write()
    sweep(clock=lambda: NOW)
    (letter,) = [m for m in mail.outbox if "brackwater" in m.to[0]]
    assert "/told/open/" not in letter.body
    assert "telephone Runa Ostlund, 01632 960100" in letter.body


def test_names_cannot_break_a_header_or_the_html() -> None:
    scene = a_scene()
    scene.vendor.contact = "Jory\r\nBcc: everybody@refit.example"
    scene.vendor.save()
    scene.frame.name = "Frame\n<script>alert(1)</script>"
    scene.frame.save()
    scene.handoff(NOW - timedelta(hours=1))
    scene.write()
    assert sweep(clock=lambda: NOW) == 2
    for letter in mail.outbox:
        assert "Bcc" not in letter.message()
        html = str(letter.alternatives[0][0])  # type: ignore[union-attr]
        assert "<script>" not in html
        assert "\n" not in letter.subject

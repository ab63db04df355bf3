"""What is past keeping goes, and nothing else; nobody is told again because of it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.sessions.models import Session
from django.utils import timezone

from refit.notices.models import Letter, LetterState, Notice, NoticeState
from refit.notices.sending import sweep
from refit.notices.tidying import KEPT, tidy
from tests.builders import NOW

from .scene import a_scene

pytestmark = pytest.mark.django_db
LATER = NOW + KEPT + timedelta(days=2)


def test_old_letters_go_with_their_notices_and_younger_ones_stay() -> None:
    scene = a_scene()
    scene.handoff(NOW - timedelta(hours=1))
    scene.write()
    assert sweep(clock=lambda: NOW) == 2
    assert tidy(now=NOW + KEPT - timedelta(days=1)) == {"letters": 0, "notices": 0}
    assert tidy(now=LATER) == {"letters": 2, "notices": 2}
    assert not Letter.objects.exists()
    assert not Notice.objects.exists()


def test_what_waits_or_was_given_up_stays_however_old() -> None:
    scene = a_scene()
    scene.handoff(NOW - timedelta(hours=1))
    scene.write()
    waiting, parked = Letter.objects.order_by("pk")
    Letter.objects.filter(pk=parked.pk).update(state=LetterState.PARKED)
    parked.notices.update(state=NoticeState.PARKED)
    assert tidy(now=LATER) == {"letters": 0, "notices": 0}
    assert Letter.objects.count() == 2
    assert waiting.notices.exists()


def test_what_was_last_told_of_the_launch_is_remembered() -> None:
    scene = a_scene()
    scene.plan(NOW + timedelta(days=600), NOW - timedelta(days=9))
    scene.plan(NOW + timedelta(days=610), NOW - timedelta(hours=1))
    scene.pass_time(NOW, NOW + timedelta(days=1), minutes=60)
    assert Notice.objects.get().state == NoticeState.SENT
    tidy(now=LATER)
    assert scene.things(LATER) == [], "not told once more"
    assert Notice.objects.count() == Letter.objects.count() == 1


def test_sessions_that_ran_out_go() -> None:
    now = timezone.now()
    for key, until in (("old", now - timedelta(days=1)), ("new", now + timedelta(days=1))):
        Session.objects.create(session_key=key, session_data="", expire_date=until)
    tidy(now=now)
    assert [session.session_key for session in Session.objects.all()] == ["new"]

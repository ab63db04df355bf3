"""The door of a letter, followed as a vendor follows it. `NOW` is Wednesday 25 November 2026."""

from __future__ import annotations

from datetime import timedelta
from urllib.parse import urlsplit

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from refit.accounts.models import LinkKind
from refit.accounts.services import revoke_link
from refit.notices.doors import COOKIE
from refit.notices.models import Letter
from refit.notices.sending import sweep
from tests.builders import NOW, a_link, a_member
from tests.portal.stage import dump

from .scene import Scene, a_scene

pytestmark = pytest.mark.django_db


def a_vendors_letter(scene: Scene) -> tuple[str, Letter]:
    """The path of the door in it; the piece it is about is overdue."""
    scene.write()
    sweep(clock=lambda: NOW)
    sent = next(m for m in mail.outbox if "brackwater" in m.to[0])
    address = next(word for word in str(sent.body).split() if "/told/open/" in word)
    return urlsplit(address).path, Letter.objects.get(side="vendor")


def test_a_vendor_lands_on_the_one_thing_says_ready_there_and_the_letter_is_opened() -> None:
    scene = a_scene()
    link, _token = a_link(scene.refit, LinkKind.VENDOR, scene.vendor, now=timezone.now())
    handoff = scene.handoff(NOW - timedelta(hours=1))
    door, letter = a_vendors_letter(scene)
    phone = Client()
    onward = phone.get(door)
    assert urlsplit(onward.headers["Location"]).fragment == f"held-{handoff.pk}"
    page = phone.get(urlsplit(onward.headers["Location"]).path, follow=True)
    assert page.redirect_chain[-1][0] == reverse("portal:page", args=[link.public_id])
    assert f'id="held-{handoff.pk}"' in page.content.decode()
    letter.refresh_from_db()
    assert letter.opened_at is None

    phone.post(reverse("portal:ready", args=[link.public_id, handoff.pk]))
    handoff.refresh_from_db()
    letter.refresh_from_db()
    assert handoff.state == "ready"
    assert letter.opened_at is not None
    assert not phone.cookies[COOKIE].value

    desk = Client()
    desk.force_login(a_member(scene.refit))
    assert ", opened " in desk.get(reverse("desk:sent", args=[scene.refit.slug])).content.decode()


def test_a_browser_that_runs_scripts_opens_it_by_looking_and_a_scanner_does_not() -> None:
    scene = a_scene()
    link, _token = a_link(scene.refit, LinkKind.VENDOR, scene.vendor, now=timezone.now())
    scene.handoff(NOW - timedelta(hours=1))
    door, letter = a_vendors_letter(scene)
    before = dump()
    scanner, browser = Client(), Client()
    for _ in range(2):
        assert scanner.get(door, follow=True).status_code == 200
        scanner.head(door, follow=True)
    assert dump() == before
    browser.get(door, follow=True)
    assert browser.post(reverse("portal:seen", args=[link.public_id])).status_code == 204
    letter.refresh_from_db()
    assert letter.opened_at is not None


def test_a_letter_about_several_things_lands_on_the_page_as_a_whole() -> None:
    scene = a_scene()
    a_link(scene.refit, LinkKind.VENDOR, scene.vendor, now=timezone.now())
    scene.handoff(NOW + timedelta(days=2))
    scene.handoff(NOW + timedelta(days=1))
    scene.pass_time(NOW, NOW + timedelta(days=1), minutes=60)
    sent = next(m for m in mail.outbox if "brackwater" in m.to[0])
    address = next(word for word in str(sent.body).split() if "/told/open/" in word)
    assert "things to know" in sent.subject
    assert "#" not in Client().get(urlsplit(address).path).headers["Location"]


def test_a_door_ends_with_its_link_and_a_forged_mark_marks_nothing() -> None:
    scene = a_scene()
    link, _token = a_link(scene.refit, LinkKind.VENDOR, scene.vendor, now=timezone.now())
    scene.handoff(NOW - timedelta(hours=1))
    door, letter = a_vendors_letter(scene)
    revoke_link(link=link, now=NOW)
    assert Client().get(door, follow=True).status_code == 404
    forger = Client()
    forger.cookies[COOKIE] = str(letter.pk)
    forger.post(reverse("accounts:sign-in"), {"username": "a", "password": "b"})
    letter.refresh_from_db()
    assert letter.opened_at is None

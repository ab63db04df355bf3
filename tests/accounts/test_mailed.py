"""Doors that a mail carries: they open what the link opens, and end with it."""

from datetime import timedelta

import pytest
from django.core import signing
from django.test import Client
from django.utils import timezone

from refit.accounts.mailed import GOOD_FOR, link_for_mailed_token, mailed_token
from refit.accounts.models import LinkKind
from refit.accounts.services import revoke_link
from tests.builders import a_link, a_refit, a_vendor

pytestmark = pytest.mark.django_db


def test_a_mailed_door_leads_to_the_page_and_ends_with_the_link() -> None:
    refit = a_refit()
    link, _token = a_link(refit, LinkKind.VENDOR, a_vendor(refit), now=timezone.now())
    address = f"/p/in/{mailed_token(link)}"
    client = Client()
    assert client.get(address, follow=True).status_code == 200
    revoke_link(link=link, now=timezone.now())
    assert client.get(address, follow=True).status_code == 404
    assert client.get(f"/p/{link.public_id}/").status_code == 404


def test_a_door_that_was_tampered_with_opens_nothing() -> None:
    refit = a_refit()
    link, _ = a_link(refit)
    other, _ = a_link(a_refit())
    door = mailed_token(link)
    assert link_for_mailed_token(door) == link
    assert link_for_mailed_token(door.replace(link.public_id, other.public_id)) is None
    assert link_for_mailed_token(link.public_id) is None
    forged = signing.TimestampSigner(salt="another").sign(link.public_id)
    assert link_for_mailed_token(forged) is None


def test_an_old_mail_opens_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    link, _ = a_link(a_refit())
    past = timezone.now() - GOOD_FOR - timedelta(minutes=1)
    with monkeypatch.context() as clock:
        clock.setattr("django.core.signing.time.time", past.timestamp)
        door = mailed_token(link)
    assert link_for_mailed_token(door) is None


def test_a_calendar_is_never_mailed() -> None:
    link, _ = a_link(a_refit(), LinkKind.MANAGER_FEED)
    with pytest.raises(ValueError, match="never mailed"):
        mailed_token(link)

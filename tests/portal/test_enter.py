"""The door: from the token in the address to the cookie."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from refit.accounts.access import MAX_LINKS
from refit.accounts.mailed import mailed_token
from refit.accounts.models import LinkKind
from refit.accounts.services import issue_link, revoke_link
from tests.builders import a_link, a_refit, a_vendor
from tests.portal.stage import a_door, a_stage, dump

pytestmark = pytest.mark.django_db


def test_the_link_leads_to_an_address_without_the_token() -> None:
    link, token = a_link(a_refit())
    response = Client().get(f"/p/in/{token}")
    assert response.status_code == 302
    assert response.headers["Location"] == f"/p/{link.public_id}/"
    cookie = response.cookies["refit-links"]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"
    assert token not in cookie.value


def test_over_https_the_cookie_is_bound_to_the_host(settings: object) -> None:
    settings.HTTPS = True  # type: ignore[attr-defined]
    _, token = a_link(a_refit())
    cookie = Client().get(f"/p/in/{token}").cookies["__Host-refit-links"]
    assert cookie["secure"]
    assert cookie["path"] == "/"
    assert not cookie["domain"]


def test_opening_a_link_changes_no_row_however_often() -> None:
    _, token = a_link(a_refit())
    before = dump()
    client = Client()
    for _ in range(3):
        assert client.get(f"/p/in/{token}").status_code == 302
        assert client.head(f"/p/in/{token}").status_code == 302
    assert dump() == before


def test_a_mailed_door_opens_the_same_page() -> None:
    link, _ = a_link(a_refit())
    client = Client()
    assert client.get(f"/p/in/{mailed_token(link)}").status_code == 302
    assert client.get(f"/p/{link.public_id}/").status_code == 200


def test_a_mailed_door_ends_with_the_link() -> None:
    link, _ = a_link(a_refit())
    token = mailed_token(link)
    revoke_link(link=link, now=timezone.now())
    assert Client().get(f"/p/in/{token}").status_code == 404


def test_the_address_alone_opens_nothing() -> None:
    link, _ = a_link(a_refit())
    assert Client().get(f"/p/{link.public_id}/").status_code == 404


def test_a_cookie_written_by_somebody_else_opens_nothing() -> None:
    link, _ = a_link(a_refit())
    client = Client()
    for forged in (f'["{link.public_id}"]', "", "x", f"{link.public_id}:a:b"):
        client.cookies["refit-links"] = forged
        assert client.get(f"/p/{link.public_id}/").status_code == 404


def test_a_calendar_link_opens_no_page() -> None:
    _, token = a_link(a_refit(), LinkKind.OWNER_FEED)
    assert Client().get(f"/p/in/{token}").status_code == 404


def _without_form_token(page: bytes) -> bytes:
    return re.sub(rb'"X-CSRFToken": "\w+"', b"", page)


def test_never_ended_replaced_and_unknown_look_the_same() -> None:
    refit = a_refit()
    now = timezone.now()
    revoked, revoked_token = a_link(refit)
    revoke_link(link=revoked, now=now)
    vendor = a_vendor(refit)
    _, expired_token = a_link(refit, LinkKind.VENDOR, vendor, expires_at=now - timedelta(days=1))
    other = a_vendor(refit)
    _, replaced_token = a_link(refit, LinkKind.VENDOR, other)
    issue_link(refit=refit, kind=LinkKind.VENDOR, vendor=other, now=now)
    pages = set()
    for token in ("never-was-one", revoked_token, expired_token, replaced_token):
        response = Client().get(f"/p/in/{token}")
        assert response.status_code == 404
        pages.add(_without_form_token(response.content))
    pages.add(_without_form_token(Client().get("/p/0123456789ab/").content))
    (page,) = pages
    assert refit.boat.name.encode() not in page
    assert b"ask for a new link" in page


def test_a_revoked_link_stops_at_the_next_request() -> None:
    stage = a_stage()
    assert stage.vendor.get().status_code == 200
    revoke_link(link=stage.vendor.link, now=timezone.now())
    response = stage.vendor.get()
    assert response.status_code == 404
    assert b"Top frame" not in response.content


def test_one_browser_may_hold_several_links() -> None:
    first = a_door(a_refit(), LinkKind.OWNER)
    second_link, token = a_link(a_refit())
    first.client.get(f"/p/in/{token}")
    assert first.get().status_code == 200
    assert first.client.get(f"/p/{second_link.public_id}/").status_code == 200


def test_a_browser_forgets_the_earliest_link_when_it_holds_too_many() -> None:
    first = a_door(a_refit(), LinkKind.OWNER)
    for _ in range(MAX_LINKS):
        _, token = a_link(a_refit())
        first.client.get(f"/p/in/{token}")
    assert first.get().status_code == 404


def test_private_pages_are_kept_by_nobody() -> None:
    stage = a_stage()
    for response in (stage.vendor.get(), stage.owner.get(), Client().get("/p/in/nothing")):
        assert response.headers["Cache-Control"] == "no-store"
        assert response.headers["Referrer-Policy"] == "same-origin"
        assert "noindex" in response.headers["X-Robots-Tag"]
        assert "unsafe" not in response.headers["Content-Security-Policy"]

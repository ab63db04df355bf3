"""Mail scanners and curious eyes: GET and HEAD change no row, anywhere behind a private link."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import get_resolver
from django.utils import timezone

from refit.accounts.models import PrivateLink
from refit.custody.pictures import add_picture
from tests.builders import A_MANAGER
from tests.custody.scene import a_photo
from tests.portal.stage import a_stage, dump

pytestmark = pytest.mark.django_db


def addresses(public_id: str, token: str, handoff: int, picture: int) -> list[str]:
    """Every address of the portal and of the pictures, as the resolver knows them."""
    filled = []
    for entry in get_resolver().url_patterns:
        prefix = str(entry.pattern)
        if prefix not in ("p/", "pictures/"):
            continue
        for inner in entry.url_patterns:  # type: ignore[union-attr]
            number = handoff if prefix == "p/" else picture
            filled.append(
                "/"
                + prefix
                + str(inner.pattern)
                .replace("<slug:public_id>", public_id)
                .replace("<str:token>", token)
                .replace("<int:pk>", str(number))
            )
    return filled


def test_no_get_or_head_changes_a_row() -> None:
    stage = a_stage()
    scene = stage.scene
    picture = add_picture(
        piece=scene.frame,
        upload=a_photo(),
        actor=A_MANAGER,
        now=timezone.now(),
        handoff=scene.handoff,
    )
    before = dump()
    tried = 0
    for door in (stage.vendor, stage.owner):
        for address in addresses(door.link.public_id, door.token, scene.handoff.pk, picture.pk):
            assert "<" not in address
            for client in (door.client, Client()):
                for method in (client.get, client.head):
                    assert method(address).status_code in (200, 302, 404, 405), address
                    tried += 1
    assert tried >= 9 * 2 * 2 * 2
    assert dump() == before


def test_the_use_is_noted_by_a_form_that_the_page_sends_itself() -> None:
    stage = a_stage()
    page = stage.vendor.get().content.decode()
    assert f'hx-post="{stage.vendor.path("seen")}" hx-trigger="load"' in page
    assert PrivateLink.objects.get(pk=stage.vendor.link.pk).last_used_at is None
    assert stage.vendor.post("seen").status_code == 204
    assert PrivateLink.objects.get(pk=stage.vendor.link.pk).last_used_at is not None


def test_a_refresh_within_the_minute_is_not_worth_a_write() -> None:
    stage = a_stage()
    stage.vendor.post("seen")
    before = dump()
    assert stage.vendor.post("seen").status_code == 204
    assert dump() == before

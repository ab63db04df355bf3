"""What every act of a vendor has in common: strangers, wrong method, forged forms."""

from __future__ import annotations

import pytest
from django.test import Client

from refit.accounts.models import LinkKind
from tests.builders import a_handoff, a_piece, a_place
from tests.portal.stage import a_stage, dump, strangers

pytestmark = pytest.mark.django_db

ACTS = ["ready", "not-ready", "new-date", "arrived"]


@pytest.mark.parametrize("act", ACTS)
def test_to_strangers_the_handoff_does_not_exist_and_nothing_changes(act: str) -> None:
    stage = a_stage()
    path = f"handoff/{stage.scene.handoff.pk}/{act}"
    doors = strangers(stage)
    before = dump()
    for who, door in doors.items():
        for response in (door.post(path), door.post(path, headers={"HX-Request": "true"})):
            assert response.status_code == 404, who
            assert b"Top frame" not in response.content, who
    assert dump() == before


@pytest.mark.parametrize("act", ACTS)
@pytest.mark.parametrize("method", ["get", "head", "put", "delete", "patch"])
def test_only_a_form_that_is_sent_does_anything(act: str, method: str) -> None:
    stage = a_stage()
    before = dump()
    send = getattr(stage.vendor.client, method)
    response = send(stage.vendor.path(f"handoff/{stage.scene.handoff.pk}/{act}"))
    assert response.status_code == 405
    assert dump() == before


@pytest.mark.parametrize("act", [*ACTS, "seen"])
def test_a_form_from_another_site_is_refused(act: str) -> None:
    stage = a_stage()
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = stage.vendor.client.cookies
    rest = "seen" if act == "seen" else f"handoff/{stage.scene.handoff.pk}/{act}"
    before = dump()
    assert strict.post(stage.vendor.path(rest)).status_code == 403
    assert dump() == before


def test_a_handoff_that_is_not_there_is_404() -> None:
    stage = a_stage()
    for act in ACTS:
        assert stage.vendor.post(f"handoff/999999/{act}").status_code == 404


def test_a_vendor_acts_only_at_its_own_end() -> None:
    stage = a_stage()
    scene = stage.scene
    elsewhere = a_handoff(a_piece(scene.refit), scene.home, a_place(scene.refit))
    before = dump()
    # The frame leaves this vendor: it is not the vendor's to receive at the other end.
    assert stage.vendor.post(f"handoff/{scene.handoff.pk}/arrived").status_code == 404
    for act in ACTS:
        assert stage.vendor.post(f"handoff/{elsewhere.pk}/{act}").status_code == 404
    assert dump() == before


def test_a_vendor_page_is_not_opened_by_the_owner_nor_the_other_way_round() -> None:
    stage = a_stage()
    assert stage.owner.client.get(stage.vendor.path()).status_code == 404
    assert stage.vendor.client.get(stage.owner.path()).status_code == 404
    assert stage.owner.link.kind == LinkKind.OWNER

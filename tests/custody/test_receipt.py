"""What stands on the receipt of a handoff, and for whom."""

from __future__ import annotations

from datetime import timedelta
from io import BytesIO

import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from refit.accounts.models import LinkKind, Role
from refit.accounts.services import revoke_link
from refit.custody.models import Handoff
from refit.custody.services import receive, send
from refit.work.models import Actor, Paper, PaperKind
from tests.builders import A_MANAGER, a_handoff, a_member, a_place, a_refit, a_vendor
from tests.custody.scene import Scene, a_photo, a_scene
from tests.portal.stage import a_door

pytestmark = pytest.mark.django_db


def read(client: Client, handoff: Handoff) -> str:
    response = client.get(f"/receipts/{handoff.pk}.pdf")
    assert response.status_code == 200
    assert response["Content-Type"] == "application/pdf"
    assert response["Cache-Control"] == "private, no-store"
    pages = PdfReader(BytesIO(response.content)).pages
    return " ".join(" ".join(page.extract_text().split()) for page in pages)


def a_reader(scene: Scene) -> Client:
    client = Client()
    client.force_login(a_member(scene.refit, role=Role.READER))
    return client


def a_moved_frame() -> Scene:
    scene = a_scene(now=timezone.now())
    now = timezone.now()
    send(
        handoff=scene.handoff, actor=scene.vendor_actor, now=now - timedelta(hours=2), parts=15,
        condition="coat even, no runs", pictures=[a_photo(), a_photo(size=(480, 640))],
    )  # fmt: skip
    receive(
        handoff=scene.handoff, actor=A_MANAGER, now=now, parts=14, condition="one foot scratched"
    )
    return scene


def test_both_ends_and_what_differs_stand_on_it() -> None:
    scene = a_moved_frame()
    said = read(a_reader(scene), scene.handoff)
    for text in (
        "Receipt: Top frame", "Eiderholm shop → Home shed: received.", "15 parts",
        "It arrived at Home shed",
        "Eiderholm Coatings", "coat even, no runs", A_MANAGER.name, "one foot scratched",
        "15 parts left, 14 arrived.", "described differently",
        "Handed over: Eiderholm Coatings, date", "Received: our crew, date",
    ):  # fmt: skip
        assert text in said, text


def test_the_pictures_of_an_end_are_in_it() -> None:
    scene = a_moved_frame()
    content = a_reader(scene).get(f"/receipts/{scene.handoff.pk}.pdf").content
    assert sum(len(page.images) for page in PdfReader(BytesIO(content)).pages) == 2


def test_an_end_without_a_word_is_said_to_wait() -> None:
    scene = a_scene(now=timezone.now())
    said = read(a_reader(scene), scene.handoff)
    assert "Eiderholm Coatings: not yet confirmed." in said
    assert "It has not arrived yet." in said
    receive(handoff=scene.handoff, actor=A_MANAGER, now=timezone.now())
    said = read(a_reader(scene), scene.handoff)
    assert "nobody noted it" in said
    assert "Nobody confirmed that it left Eiderholm shop." in said


def test_a_vendor_reads_no_other_vendors_name() -> None:
    scene = a_scene(now=timezone.now())
    other = a_vendor(scene.refit, name="Skerry Canvas")
    loft = a_place(scene.refit, name="Skerry loft", vendor=other)
    handoff = a_handoff(scene.frame, scene.shop, loft, carrier="vendor")
    send(handoff=handoff, actor=scene.vendor_actor, now=timezone.now())
    receive(handoff=handoff, actor=Actor(name=other.name, side="vendor"), now=timezone.now())
    said = read(a_door(scene.refit, vendor=scene.vendor).client, handoff)
    assert "Skerry" not in said
    assert "another shop" in said
    assert "Eiderholm" not in read(a_door(scene.refit, vendor=other).client, handoff)
    both = read(a_door(scene.refit, LinkKind.OWNER).client, handoff)
    assert "Skerry" in both
    assert "Eiderholm" in both


def test_it_says_whether_the_keeper_is_covered() -> None:
    scene = a_scene(now=timezone.now())
    handoff = a_handoff(scene.frame, scene.home, scene.shop)
    assert "No insurance of Eiderholm Coatings is noted." in read(a_reader(scene), handoff)
    today = scene.refit.today(timezone.now())
    for kind in (PaperKind.LIABILITY, PaperKind.CUSTOMERS_PROPERTY):
        Paper.objects.create(
            refit=scene.refit, vendor=scene.vendor, kind=kind, valid_until=today + timedelta(90)
        )
    assert "As noted, Eiderholm Coatings is covered: " in read(a_reader(scene), handoff)
    Paper.objects.update(valid_until=today - timedelta(3))
    assert "of Eiderholm Coatings ended on" in read(a_reader(scene), handoff)


def test_nobody_else_gets_it() -> None:
    scene = a_moved_frame()
    path = f"/receipts/{scene.handoff.pk}.pdf"
    stranger = Client()
    stranger.force_login(a_member(a_refit()))
    ended = a_door(scene.refit, vendor=scene.vendor)
    revoke_link(link=ended.link, now=timezone.now())
    others = [
        Client(),
        stranger,
        a_door(scene.refit, vendor=a_vendor(scene.refit)).client,
        a_door(a_refit(), LinkKind.OWNER).client,
        ended.client,
    ]
    assert {client.get(path).status_code for client in others} == {404}

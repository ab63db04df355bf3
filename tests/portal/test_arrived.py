"""A vendor confirms that a piece has arrived."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from refit.custody.models import End, Handoff, HandoffState, Picture
from refit.custody.services import send
from refit.work.models import Piece
from tests.builders import A_MANAGER, a_handoff, a_package, a_piece
from tests.custody.scene import a_photo
from tests.portal.stage import Stage, a_stage, dump

pytestmark = pytest.mark.django_db


def a_lid_under_way(stage: Stage) -> Handoff:
    scene = stage.scene
    lid = a_piece(scene.refit, name="Locker lid", tag="ST-09", place=scene.home, parts=3)
    work = a_package(scene.refit, vendor=scene.vendor, place=scene.shop, pieces=[lid])
    handoff = a_handoff(lid, scene.home, scene.shop, for_package=work)
    return send(handoff=handoff, actor=A_MANAGER, now=timezone.now(), parts=3)


def typed(handoff: Handoff, **fields: Any) -> dict[str, Any]:
    return {f"receipt-{handoff.pk}-{name}": value for name, value in fields.items()}


def test_count_condition_and_photos_are_kept() -> None:
    stage = a_stage()
    handoff = a_lid_under_way(stage)
    response = stage.vendor.post(
        f"handoff/{handoff.pk}/arrived",
        typed(handoff, parts=3, condition="one dent", pictures=[a_photo(), a_photo()]),
        follow=True,
    )
    assert "Locker lid is noted as arrived with you, with 2 photos." in response.content.decode()
    stored = Handoff.objects.get(pk=handoff.pk)
    assert (stored.state, stored.received_by, stored.received_condition, stored.received_parts) == (
        HandoffState.RECEIVED,
        "Eiderholm Coatings",
        "one dent",
        3,
    )
    assert Piece.objects.get(pk=handoff.piece_id).place == stage.scene.shop
    assert Picture.objects.filter(handoff=handoff, end=End.RECEIVED).count() == 2


def test_nothing_has_to_be_typed() -> None:
    stage = a_stage()
    handoff = a_lid_under_way(stage)
    stage.vendor.post(f"handoff/{handoff.pk}/arrived")
    stored = Handoff.objects.get(pk=handoff.pk)
    assert (stored.state, stored.received_parts) == (HandoffState.RECEIVED, None)


def test_a_missing_part_is_said_at_once() -> None:
    stage = a_stage()
    handoff = a_lid_under_way(stage)
    response = stage.vendor.post(
        f"handoff/{handoff.pk}/arrived", typed(handoff, parts=2), follow=True
    )
    assert "3 parts left, 2 arrived." in response.content.decode()


def test_what_was_never_said_to_have_left_can_be_confirmed_too() -> None:
    stage = a_stage()
    scene = stage.scene
    lid = a_piece(scene.refit, name="Locker lid", place=scene.home)
    handoff = a_handoff(lid, scene.home, scene.shop)
    stage.vendor.post(f"handoff/{handoff.pk}/arrived")
    assert Handoff.objects.get(pk=handoff.pk).sent_by == "not recorded"


def test_confirmed_twice_the_first_receipt_stays() -> None:
    stage = a_stage()
    handoff = a_lid_under_way(stage)
    path = f"handoff/{handoff.pk}/arrived"
    stage.vendor.post(path, typed(handoff, condition="one dent"))
    response = stage.vendor.post(path, typed(handoff, condition="no dent"), follow=True)
    assert "already been received at Eiderholm shop" in response.content.decode()
    assert Handoff.objects.get(pk=handoff.pk).received_condition == "one dent"


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"parts": "many"}, "Write the count as a whole number."),
        ({"parts": "-1"}, "greater than or equal to 0"),
        ({"pictures": [SimpleUploadedFile("notes.pdf", b"%PDF-1.4")]}, "is not a picture we can"),
        ({"pictures": [SimpleUploadedFile("empty.jpg", b"")]}, "is empty"),
        (
            {"pictures": [SimpleUploadedFile(f"{n}.jpg", b"x") for n in range(7)]},
            "at most 6 photos",
        ),
    ],
)
def test_what_cannot_be_used_gets_a_sentence_and_nothing_is_stored(
    fields: dict[str, Any], sentence: str
) -> None:
    stage = a_stage()
    handoff = a_lid_under_way(stage)
    before = dump()
    for file in fields.get("pictures", []):
        file.seek(0)
    response = stage.vendor.post(f"handoff/{handoff.pk}/arrived", typed(handoff, **fields))
    assert response.status_code == 200
    assert sentence in response.content.decode()
    assert "Nothing was saved" in response.content.decode()
    assert dump() == before

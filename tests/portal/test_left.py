"""A vendor confirms its own end: the piece has left the shop."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from refit.custody.models import End, Handoff, HandoffState, Picture
from refit.custody.services import say_ready, send
from refit.work.models import WorkPackage
from tests.builders import A_MANAGER
from tests.custody.scene import a_photo
from tests.portal.stage import Stage, a_stage, dump

pytestmark = pytest.mark.django_db


def a_ready_stage() -> Stage:
    stage = a_stage()
    say_ready(handoff=stage.scene.handoff, actor=stage.scene.vendor_actor, now=timezone.now())
    return stage


def left(stage: Stage, **fields: Any) -> str:
    pk = stage.scene.handoff.pk
    typed = {f"leaving-{pk}-{name}": value for name, value in fields.items()}
    response = stage.vendor.post(f"handoff/{pk}/left", typed, follow=True)
    assert response.status_code == 200
    return str(response.content.decode())


def test_count_condition_and_photos_are_kept_and_its_receipt_is_offered() -> None:
    stage = a_ready_stage()
    assert f"handoff/{stage.scene.handoff.pk}/left" in stage.vendor.get().content.decode()
    said = left(stage, parts=15, condition="packed in felt", pictures=[a_photo()])
    stored = Handoff.objects.get(pk=stage.scene.handoff.pk)
    assert "Top frame has left you" in said
    assert f"/receipts/{stored.pk}.pdf" in said
    assert (stored.state, stored.sent_by, stored.sent_parts, stored.sent_condition) == (
        HandoffState.UNDER_WAY, "Eiderholm Coatings", 15, "packed in felt",
    )  # fmt: skip
    assert Picture.objects.filter(handoff=stored, end=End.SENT).count() == 1
    assert WorkPackage.objects.get(pk=stage.scene.coat.pk).is_finished


def test_a_wrong_picture_is_told_at_its_field_and_nothing_is_stored() -> None:
    stage = a_ready_stage()
    before = dump()
    said = left(stage, condition="kept", pictures=[SimpleUploadedFile("a.jpg", b"not one")])
    assert "is not a picture we can read" in said
    assert "kept</textarea>" in said
    assert dump() == before


def test_a_second_word_changes_nothing() -> None:
    stage = a_stage()
    send(handoff=stage.scene.handoff, actor=A_MANAGER, now=timezone.now())
    before = Handoff.objects.filter(pk=stage.scene.handoff.pk).values().get()
    left(stage, condition="again")
    assert Handoff.objects.filter(pk=stage.scene.handoff.pk).values().get() == before

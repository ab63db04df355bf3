"""A vendor says that a piece is ready, and takes it back."""

from __future__ import annotations

import pytest

from refit.custody.models import Handoff, HandoffState
from refit.planning.models import Plan
from refit.work.models import JournalEntry
from tests.portal.stage import a_stage, dump

pytestmark = pytest.mark.django_db


def test_it_is_noted_told_and_can_be_taken_back() -> None:
    stage = a_stage()
    pk = stage.scene.handoff.pk
    response = stage.vendor.post(f"handoff/{pk}/ready", follow=True)
    assert response.redirect_chain == [(stage.vendor.path(), 302)]
    assert "is told that Top frame is ready to collect" in response.content.decode()
    assert "Not ready after all" in response.content.decode()
    stored = Handoff.objects.get(pk=pk)
    assert (stored.state, stored.ready_by) == (HandoffState.READY, "Eiderholm Coatings")
    entry = JournalEntry.objects.get(verb="said ready")
    assert (entry.actor_side, entry.link_id) == ("vendor", stage.vendor.link.pk)


def test_the_plan_is_made_anew() -> None:
    stage = a_stage()
    stage.vendor.post(f"handoff/{stage.scene.handoff.pk}/ready")
    stage.scene.refit.refresh_from_db()
    plan = Plan.objects.current(stage.scene.refit)
    assert plan is not None
    assert plan.refit_version == stage.scene.refit.version


def test_pressed_twice_it_is_done_once_and_said_so() -> None:
    stage = a_stage()
    path = f"handoff/{stage.scene.handoff.pk}/ready"
    stage.vendor.post(path)
    response = stage.vendor.post(path, follow=True)
    assert "already said to be ready" in response.content.decode()
    assert JournalEntry.objects.filter(verb="said ready").count() == 1


def test_with_htmx_the_content_comes_back_alone() -> None:
    stage = a_stage()
    response = stage.vendor.post(
        f"handoff/{stage.scene.handoff.pk}/ready", headers={"HX-Request": "true"}
    )
    said = response.content.decode()
    assert response.status_code == 200
    assert "<html" not in said
    assert "is told that Top frame is ready to collect" in said
    assert "Not ready after all" in said


def test_taken_back_it_is_in_work_again() -> None:
    stage = a_stage()
    path = f"handoff/{stage.scene.handoff.pk}"
    stage.vendor.post(f"{path}/ready")
    response = stage.vendor.post(f"{path}/not-ready", follow=True)
    assert "Taken back: Top frame is not ready yet." in response.content.decode()
    assert Handoff.objects.get(pk=stage.scene.handoff.pk).state == HandoffState.PLANNED
    stage.scene.coat.refresh_from_db()
    assert stage.scene.coat.finished_at is None


def test_taken_back_twice_it_changes_nothing_more() -> None:
    stage = a_stage()
    path = f"handoff/{stage.scene.handoff.pk}"
    stage.vendor.post(f"{path}/ready")
    stage.vendor.post(f"{path}/not-ready")
    before = dump()
    response = stage.vendor.post(f"{path}/not-ready", follow=True)
    assert "not marked as ready any more" in response.content.decode()
    assert dump() == before

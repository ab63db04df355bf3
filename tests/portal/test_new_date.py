"""A vendor gives a new date."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from django.utils import timezone

from refit.custody.models import Handoff
from refit.work.models import JournalEntry, OpeningHours
from refit.work.wording import say_day
from tests.portal.stage import Stage, a_stage, dump

pytestmark = pytest.mark.django_db


def typed(stage: Stage, day: object, note: str = "") -> dict[str, str]:
    pk = stage.scene.handoff.pk
    return {f"promise-{pk}-day": str(day), f"promise-{pk}-note": note}


def path(stage: Stage) -> str:
    return f"handoff/{stage.scene.handoff.pk}/new-date"


def in_zone(stage: Stage, moment: datetime | None) -> datetime:
    assert moment is not None
    return stage.scene.refit.local(moment)


def a_workday(stage: Stage) -> date:
    """At least ten days ahead, Monday to Friday, as the shop of the scene is open."""
    day = stage.scene.refit.today(timezone.now()) + timedelta(days=10)
    while day.weekday() > 4:
        day += timedelta(days=1)
    return day


def test_the_manager_is_told_what_was_promised_and_the_vendor_reads_it() -> None:
    stage = a_stage()
    day, today = a_workday(stage), stage.scene.refit.today(timezone.now())
    agreed = in_zone(stage, stage.scene.handoff.due_at).date()
    response = stage.vendor.post(path(stage), typed(stage, day, "oven is down"), follow=True)
    said = response.content.decode()
    assert (
        f"is told: Top frame will be ready {say_day(day, today)} instead of "
        f"{say_day(agreed, today)} (oven is down)." in said
    )
    assert "This is your date" in said


def test_the_moment_meant_is_the_end_of_the_shops_day() -> None:
    stage = a_stage()
    day = a_workday(stage)
    stage.vendor.post(path(stage), typed(stage, day))
    promised = in_zone(stage, Handoff.objects.get().promised_at)
    assert (promised.date(), f"{promised:%H:%M}") == (day, "17:00")


def test_a_shop_that_told_no_hours_ends_its_day_at_five() -> None:
    stage = a_stage()
    OpeningHours.objects.all().delete()
    stage.vendor.post(path(stage), typed(stage, a_workday(stage)))
    assert f"{in_zone(stage, Handoff.objects.get().promised_at):%H:%M}" == "17:00"


@pytest.mark.parametrize(
    ("day", "sentence"),
    [
        ("", "Choose the day on which it will be ready."),
        ("soon", "Write the day like 2026-12-04."),
        ("2019-01-02", "is past. Choose today or a later day."),
        ("9999-01-01", "is the year right?"),
    ],
)
def test_a_date_that_cannot_be_meant_gets_a_sentence_at_its_field(day: str, sentence: str) -> None:
    stage = a_stage()
    before = dump()
    for extra in ({}, {"headers": {"HX-Request": "true"}}):
        response = stage.vendor.post(path(stage), typed(stage, day, "keep this"), **extra)
        said = response.content.decode()
        assert response.status_code == 200
        assert sentence in said
        assert "Nothing was saved" in said
        assert "keep this" in said
        assert "<details open>" in said
    assert dump() == before


def test_the_same_date_twice_is_written_once() -> None:
    stage = a_stage()
    day = a_workday(stage)
    stage.vendor.post(path(stage), typed(stage, day))
    entries = JournalEntry.objects.count()
    response = stage.vendor.post(path(stage), typed(stage, day), follow=True)
    assert "already promised" in response.content.decode()
    assert JournalEntry.objects.count() == entries


def test_a_note_that_is_too_long_is_refused_not_cut() -> None:
    stage = a_stage()
    response = stage.vendor.post(path(stage), typed(stage, a_workday(stage), "x" * 241))
    assert "at most 240 characters" in response.content.decode()
    assert Handoff.objects.get().promised_at is None

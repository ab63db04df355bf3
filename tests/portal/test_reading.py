"""A vendor sends a reading for one of their own packages."""

from __future__ import annotations

from typing import Any

import pytest

from refit.quality.models import Criterion, Reading
from refit.work.models import JournalEntry
from tests.builders import a_package, a_vendor
from tests.portal.stage import Stage, a_stage

pytestmark = pytest.mark.django_db


def a_criterion(stage: Stage, **package: Any) -> Criterion:
    vendor = package.pop("vendor", stage.vendor.link.vendor)
    refit = stage.scene.refit
    return Criterion.objects.create(
        refit=refit, package=a_package(refit, vendor=vendor, **package), name="Gloss",
        method="gloss", geometry="60", rule="at least", low=85, stations=1,
    )  # fmt: skip


def sent(criterion: Criterion, numbers: str) -> dict[str, str]:
    return {
        f"reading-{criterion.pk}-station": "Left, top",
        f"reading-{criterion.pk}-numbers": numbers,
    }


def test_a_reading_is_kept_in_the_kind_of_the_criterion() -> None:
    stage = a_stage()
    criterion = a_criterion(stage)
    assert "Send a reading" in stage.vendor.get().content.decode()
    answer = stage.vendor.post(
        f"criterion/{criterion.pk}/reading", sent(criterion, "88 89,5"), follow=True
    )
    assert "The reading at Left, top is noted" in answer.content.decode()
    reading = Reading.objects.get()
    assert (reading.method, reading.geometry, reading.stage) == ("gloss", "60", "after")
    assert reading.values == ["88", "89.5"]
    assert JournalEntry.objects.get(verb="measured").actor_side == "vendor"


def test_what_is_no_number_comes_back_at_its_field() -> None:
    stage = a_stage()
    criterion = a_criterion(stage)
    answer = stage.vendor.post(f"criterion/{criterion.pk}/reading", sent(criterion, "shiny"))
    assert answer.status_code == 200
    assert "is not a number" in answer.content.decode()
    assert "Nothing was saved" in answer.content.decode()
    assert Reading.objects.count() == 0


def test_another_vendor_s_package_does_not_exist() -> None:
    stage = a_stage()
    criterion = a_criterion(stage, vendor=a_vendor(stage.scene.refit))
    answer = stage.vendor.post(f"criterion/{criterion.pk}/reading", sent(criterion, "88"))
    assert answer.status_code == 404
    assert Reading.objects.count() == 0

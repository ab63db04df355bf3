"""Processes on the desk: read, worked out, applied, undone, kept as one's own."""

from __future__ import annotations

import json
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from refit.quality.models import Criterion, SurveyItem
from refit.work.models import JournalEntry, OwnProcess, Refit
from refit.work.processes import library
from tests.builders import a_package, a_place, a_refit, a_vendor

from .people import signed_in

pytestmark = pytest.mark.django_db


def url(refit: Refit, name: str, *args: object) -> str:
    return reverse(f"desk:{name}", args=[refit.slug, *args])


def wanted(refit: Refit, **more: object) -> dict[str, object]:
    place = refit.places.first() or a_place(refit)
    steps = [step.key for step in library()["gelcoat-refinish"].steps]
    return {"steps": steps, "prefix_code": "GE", "quantity": "18", "place": place.pk} | more


def test_a_process_says_how_far_each_value_can_be_trusted() -> None:
    refit = a_refit()
    page = signed_in(refit).get(url(refit, "process", "spray-coating")).content.decode()
    assert "published: a maker’s guide" in page or "published: a maker&#x27;s guide" in page
    assert "common practice, no source" in page
    assert "supplied air" in page
    assert "The product data sheet, local codes and licensed practice decide." in page


def test_the_quantity_gives_the_working_time_and_nonsense_is_said_at_the_field() -> None:
    refit = a_refit()
    client = signed_in(refit)
    address = url(refit, "process", "gelcoat-refinish")
    assert "5 days" in client.get(address, {"quantity": "18"}).content.decode()
    assert "10 days" in client.get(address, {"quantity": "36"}).content.decode()
    answer = client.get(address, {"quantity": "lots"})
    assert answer.status_code == 200
    assert "is not a number" in answer.content.decode()


def test_own_finished_work_is_shown_and_taken() -> None:
    refit = a_refit()
    place = a_place(refit)
    start = timezone.now() - timedelta(days=30)
    start = (start - timedelta(days=start.weekday())).replace(hour=8, minute=0, second=0)
    a_package(
        refit, place=place, process="gelcoat-refinish", step="wet-sand", quantity=Decimal(9),
        unit="m2", started_at=start, finished_at=start + timedelta(hours=9),
    )  # fmt: skip
    client = signed_in(refit)
    page = client.get(url(refit, "process", "gelcoat-refinish"), {"quantity": "18"})
    assert "From your own work" in page.content.decode()
    client.post(url(refit, "process-apply", "gelcoat-refinish"), wanted(refit))
    # 9 open hours for 9 square metres: 18 for 18.
    assert refit.packages.get(code="GE3").likely_minutes == 18 * 60


def test_applying_fills_in_packages_waits_and_criteria_and_the_journal_undoes_it() -> None:
    refit = a_refit()
    client = signed_in(refit)
    answer = client.post(url(refit, "process-apply", "gelcoat-refinish"), wanted(refit))
    assert answer.status_code == 302
    assert refit.packages.count() == 4
    assert refit.dependencies.count() == 3
    assert Criterion.objects.get().package.step == "compound-polish"
    entry = JournalEntry.objects.get(verb="applied")
    client.post(url(refit, "undo", entry.pk))
    assert refit.packages.count() == 0
    assert Criterion.objects.count() == 0


def test_what_cannot_be_applied_stores_nothing_and_says_why_at_the_field() -> None:
    refit = a_refit()
    client = signed_in(refit)
    place = a_place(refit, vendor=a_vendor(refit, name="Tarn"))
    other = a_vendor(refit)
    for sent, said in (
        ({"quantity": "none"}, "is not a number"),
        ({"quantity": "0"}, "must be more than 0"),
        ({"steps": []}, "Choose at least one step"),
        ({"vendor": other.pk, "place": place.pk}, "belongs to another vendor"),
    ):
        answer = client.post(url(refit, "process-apply", "gelcoat-refinish"), wanted(refit, **sent))
        assert answer.status_code == 200
        assert said in answer.content.decode()
    assert refit.packages.count() == 0


def test_a_line_of_the_survey_becomes_packages() -> None:
    refit = a_refit()
    client = signed_in(refit)
    item = SurveyItem.objects.create(
        refit=refit, code="S1", system="Hull", title="Dull", surveyed_at=timezone.now(),
        process="gelcoat-refinish", quantity=Decimal("22.5"), proposal="do",
    )  # fmt: skip
    assert "Apply the process" in client.get(url(refit, "survey")).content.decode()
    address = f"{url(refit, 'process-apply', 'gelcoat-refinish')}?survey={item.pk}"
    assert 'value="22.5"' in client.get(address).content.decode()
    client.post(address, wanted(refit))
    item.refresh_from_db()
    assert item.package is not None
    assert item.package.code == "GE1"


def test_one_s_own_process_is_a_copy_that_is_checked() -> None:
    refit = a_refit()
    client = signed_in(refit)
    address = url(refit, "process-copy", "canvas")
    assert "Pattern on the frame" in client.get(address).content.decode()
    data = library()["canvas"].data | {"key": "our-canvas", "name": "Our canvas"}
    assert client.post(address, {"text": json.dumps(data)}).status_code == 302
    assert OwnProcess.objects.get().key == "our-canvas"
    assert "Our canvas" in client.get(url(refit, "processes")).content.decode()
    for text, said in (
        ("{", "cannot be read: line 1"),
        (json.dumps(data), "You have a process “our-canvas” already"),
        (json.dumps(data | {"steps": []}), "steps"),
    ):
        answer = client.post(address, {"text": text})
        assert answer.status_code == 200
        assert said in answer.content.decode()
    assert OwnProcess.objects.count() == 1

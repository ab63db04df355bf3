"""Amounts on the page, surfaces in feet, the punch list where it matters, opening again."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from refit.planning.services import replan
from refit.quality.models import Criterion, Inspection, PunchItem, SurveyItem
from refit.work.models import JournalEntry, Refit, Surface
from refit.work.processes import library
from tests.builders import a_dependency, a_package, a_refit, a_vendor, a_zone

from .people import signed_in

pytestmark = pytest.mark.django_db
FIGURES = {
    "coats": "2", "coverage": "10", "extra": "10", "film": "0.5", "a_disc": "0.5", "grits": "4",
    "layers": "1", "roll": "1.27",
}  # fmt: skip


def url(refit: Refit, name: str, *args: object) -> str:
    return reverse(f"desk:{name}", args=[refit.slug, *args])


def test_an_area_gives_paint_gelcoat_discs_and_cloth() -> None:
    # By hand: 20 × 2 ÷ 10 × 1.1 = 4.4 l; 20 × 0.5 = 10 l; 20 ÷ 0.5 × 4 = 160; 20 ÷ 1.22 = 16.393.
    refit = a_refit()
    page = signed_in(refit).get(url(refit, "surfaces"), FIGURES | {"area": "20"}).content.decode()
    for said in ("4.4 l", "10 l", ">160<", "16.393 m", "area × coats ÷ coverage"):
        assert said in page, said


def test_in_a_refit_in_feet_the_same_is_told_in_feet_and_gallons() -> None:
    # By hand: 400 ft² × 2 ÷ 400 ft²/gal × 1.1 = 2.2 gal; 400 × 144 × 0.010 ÷ 231 in³ = 2.49 gal.
    refit = a_refit(units="us")
    asked = FIGURES | {"area": "400", "coverage": "400", "film": "10", "roll": "4"}
    page = signed_in(refit).get(url(refit, "surfaces"), asked).content.decode()
    assert "2.2 gal" in page
    assert "2.49 gal" in page


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        ("coverage", "0", "more than 0"), ("roll", "0.05", "wider than the overlap"),
        ("area", "lots", "is not a number"), ("coats", "0", "greater than or equal to 1"),
    ],
)  # fmt: skip
def test_a_figure_that_cannot_be_is_said_at_its_field(name: str, typed: str, said: str) -> None:
    refit = a_refit()
    answer = signed_in(refit).get(url(refit, "surfaces"), FIGURES | {"area": "20", name: typed})
    assert answer.status_code == 200
    assert said in answer.content.decode()


def test_applying_shows_hours_and_amounts_and_ticks_the_zones_that_are_named() -> None:
    refit = a_refit()
    named = library()["gelcoat-refinish"].steps[0].zones[0]
    zone, _ = a_zone(refit, name=named.upper()), a_zone(refit, name="Somewhere else")
    page = signed_in(refit).get(url(refit, "process-apply", "gelcoat-refinish"), {"quantity": "18"})
    text = page.content.decode()
    for said in ("What it takes", "5 days", "9 l"):
        assert said in text, said
    assert page.context["form"].initial["zones"] == [zone]


def test_a_surface_is_typed_in_feet_and_kept_in_metres() -> None:
    refit = a_refit(units="us")
    client = signed_in(refit)
    sent = {"name": "Hatch", "shape": "rectangle", "first": "10", "second": "3", "count": "1"}
    assert client.post(url(refit, "quality-add", "surface"), sent).status_code == 302
    row = Surface.objects.get()
    assert (row.first, row.second) == (Decimal("3.048"), Decimal("0.914"))
    address = url(refit, "quality-edit", "surface", row.pk)
    page = client.get(address)
    assert 'value="10"' in page.content.decode()
    again = sent | {"opened": page.context["form"].initial["opened"]}
    assert client.post(address, again).status_code == 302
    row.refresh_from_db()
    assert (row.first, row.second) == (Decimal("3.048"), Decimal("0.914"))
    area = sent | {"name": "Deck", "shape": "area", "first": "100", "second": ""}
    assert client.post(url(refit, "quality-add", "surface"), area).status_code == 302
    assert Surface.objects.get(name="Deck").first == Decimal("9.29")


def test_the_survey_takes_the_quantity_in_the_unit_of_its_process() -> None:
    refit = a_refit(units="us")
    sent = {
        "code": "S1", "system": "Hull", "title": "Dull", "process": "gelcoat-refinish",
        "quantity": "100", "proposal": "do", "surveyed_at": "2026-11-20T10:00",
    }  # fmt: skip
    client = signed_in(refit)
    assert client.post(url(refit, "quality-add", "survey"), sent).status_code == 302
    assert SurveyItem.objects.get().quantity == Decimal("9.29")
    count = sent | {"code": "S2", "process": "bedding", "quantity": "4"}
    client.post(url(refit, "quality-add", "survey"), count)
    assert SurveyItem.objects.get(code="S2").quantity == 4


def test_a_line_of_the_punch_list_stands_on_today_when_it_is_due() -> None:
    refit = a_refit()
    today = timezone.localtime(timezone.now(), refit.zone).date()
    vendor = a_vendor(refit)
    for code, due, state in (
        ("Due one", today, "open"), ("Later one", today + timedelta(days=3), "open"),
        ("Done one", today, "done"),
    ):  # fmt: skip
        PunchItem.objects.create(
            refit=refit, code=code, title=code, due=due, state=state, vendor=vendor,
            found_at=timezone.now(),
        )  # fmt: skip
    a_package(refit)
    replan(refit=refit, now=timezone.now())
    page = signed_in(refit).get(url(refit, "today")).content.decode()
    assert "Due one" in page
    assert vendor.name in page
    assert "Later one" not in page
    assert "Done one" not in page


def test_a_package_that_failed_is_opened_again_and_one_undo_takes_it_back() -> None:
    refit = a_refit()
    now = timezone.now()
    polish = a_package(
        refit, code="H4", started_at=now - timedelta(days=3), finished_at=now - timedelta(days=1)
    )
    launch = a_package(refit, code="X2")
    a_dependency(polish, launch, reason="wax before water")
    failed = Inspection.objects.create(
        refit=refit, package=polish, outcome="failed", sentence="Failed: dull.", inspected_at=now,
        inspected_by="Runa",
        criterion=Criterion.objects.create(
            refit=refit, package=polish, name="gloss", method="gloss", geometry="60",
            rule="at least", low=80, stations=1,
        ),
    )  # fmt: skip
    client = signed_in(refit)
    assert "Open the package again" in client.get(url(refit, "readings")).content.decode()
    address, sent = url(refit, "inspection-rework", failed.pk), {"minutes": "4 h", "way": "reopen"}
    assert client.post(address, sent).status_code == 302
    polish.refresh_from_db()
    assert (polish.finished_at, polish.remaining_minutes) == (None, 240)
    assert refit.packages.count() == 2, "no rework package beside it"
    client.post(url(refit, "undo", JournalEntry.objects.get(verb="reopened").pk))
    polish.refresh_from_db()
    assert polish.finished_at is not None
    assert polish.remaining_minutes is None
    launch.started_at = now
    launch.save()
    page = client.post(address, sent, follow=True).content.decode()
    assert "has begun after it" in page
    polish.refresh_from_db()
    assert polish.finished_at is not None

"""Quality on the desk: readings, verdicts, rework, climate, punch list, close-out."""

from __future__ import annotations

import csv
import io
import zipfile
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from refit.demo.scenario import demo_document
from refit.interchange.store import import_document
from refit.planning.services import replan
from refit.quality.models import ClimateEntry, Criterion, Inspection, PunchItem, Reading
from refit.work.models import THE_SOFTWARE, Dependency, Refit, Surface
from tests.builders import a_dependency, a_package, a_place, a_refit

from .people import signed_in

pytestmark = pytest.mark.django_db


def url(refit: Refit, name: str, *args: object) -> str:
    return reverse(f"desk:{name}", args=[refit.slug, *args])


def read(client: Client, refit: Refit, package: int, station: str, numbers: str) -> None:
    sent = {
        "package": package, "method": "gloss", "geometry": "60", "station": station,
        "stage": "after", "numbers": numbers,
        "read_at": timezone.localtime(timezone.now(), refit.zone).strftime("%Y-%m-%dT%H:%M"),
    }  # fmt: skip
    answer = client.post(url(refit, "quality-add", "reading"), sent)
    assert answer.status_code == 302, answer.content.decode()


def test_a_gloss_acceptance_fails_is_reworked_and_passes() -> None:
    refit = a_refit()
    polish, launch = a_package(refit, code="H4"), a_package(refit, code="X2")
    a_dependency(polish, launch, reason="wax before water")
    criterion = Criterion.objects.create(
        refit=refit, package=polish, name="H4 gloss", method="gloss", geometry="60",
        rule="at least", low=80, stations=2,
    )  # fmt: skip
    client = signed_in(refit)
    read(client, refit, polish.pk, "P1", "84 85 86")
    client.post(url(refit, "criterion-inspect", criterion.pk))
    assert Inspection.objects.count() == 0, "one station of two is no verdict"
    read(client, refit, polish.pk, "P2", "71,5 72 72.5")
    version = Refit.objects.get(pk=refit.pk).version
    page = client.get(url(refit, "readings")).content.decode()
    assert "Failed. 2 stations at 60°: 72 to 85 GU, mean 78.5." in page
    client.post(url(refit, "criterion-inspect", criterion.pk))
    failed = Inspection.objects.get()
    assert failed.outcome == "failed"
    assert Refit.objects.get(pk=refit.pk).version == version, "the plan does not depend on it"

    answer = client.post(url(refit, "inspection-rework", failed.pk), {"minutes": "soon"})
    assert answer.status_code == 200
    assert "is not a duration" in answer.content.decode()
    client.post(url(refit, "inspection-rework", failed.pk), {"minutes": "4 h"})
    rework = refit.packages.get(code="H4-R1")
    assert rework.likely_minutes == 240
    assert "Outside: P2 (72)" in rework.scope
    assert Dependency.objects.filter(before=polish, after=rework).exists()
    assert Dependency.objects.filter(before=rework, after=launch).exists()
    client.post(url(refit, "inspection-rework", failed.pk), {"minutes": "4 h"})
    assert refit.packages.count() == 3, "once is enough"

    read(client, refit, polish.pk, "P2", "82 83 84")
    client.post(url(refit, "criterion-inspect", criterion.pk))
    assert [one.outcome for one in Inspection.objects.order_by("pk")] == ["failed", "passed"]


def test_gloss_without_its_angle_and_numbers_that_are_none_are_refused_at_the_field() -> None:
    refit = a_refit()
    client = signed_in(refit)
    sent = {"method": "gloss", "station": "P1", "stage": "after", "numbers": "eighty",
            "read_at": "2026-11-20T10:00"}  # fmt: skip
    answer = client.post(url(refit, "quality-add", "reading"), sent)
    assert answer.status_code == 200
    said = answer.content.decode()
    assert "Gloss needs its angle" in said
    assert "is not a number" in said
    assert Reading.objects.count() == 0


def test_the_climate_log_says_go_or_wait_by_the_process_of_the_package() -> None:
    refit = a_refit()
    place = a_place(refit)
    coat = a_package(refit, place=place, process="spray-coating", step="topcoat")
    for surface in ("19.0", "20.0"):
        ClimateEntry.objects.create(
            refit=refit, place=place, package=coat, read_at=timezone.now(), air_c=Decimal(25),
            humidity=Decimal(60), surface_c=Decimal(surface),
        )  # fmt: skip
    page = signed_in(refit).get(url(refit, "climate")).content.decode()
    assert "Wait: the surface is 2.3 °C above the dew point, less than 3 °C." in page
    assert "Go: the surface is 3.3 °C above the dew point" in page
    assert "dew point 16.7 °C" in page


def test_the_punch_list_goes_from_open_over_done_to_accepted() -> None:
    refit = a_refit()
    client = signed_in(refit)
    sent = {"code": "PL1", "title": "Cap", "state": "open", "found_at": "2026-11-20T10:00"}
    assert client.post(url(refit, "quality-add", "punch"), sent).status_code == 302
    item = PunchItem.objects.get()
    for state in ("done", "accepted", "accepted"):
        client.post(url(refit, "punch-done", item.pk))
        item.refresh_from_db()
        assert item.state == state
    assert item.done_at is not None


def test_a_surface_without_its_measures_is_refused_and_one_with_them_counts() -> None:
    refit = a_refit()
    client = signed_in(refit)
    sent = {"name": "Side", "shape": "trapezium", "first": "8.2", "second": "7.1", "count": "2"}
    answer = client.post(url(refit, "quality-add", "surface"), sent)
    assert "A trapezium needs its height" in answer.content.decode()
    client.post(url(refit, "quality-add", "surface"), sent | {"third": "1"})
    assert Surface.objects.count() == 1
    assert "15.3 m²" in client.get(url(refit, "surfaces")).content.decode()


def test_the_as_refit_record_of_the_demo_is_one_pdf_and_one_folder() -> None:
    now = timezone.now()
    refit = import_document(demo_document(now), actor=THE_SOFTWARE, now=now)
    replan(refit=refit, now=now)
    client = signed_in(refit)
    pdf = client.get(url(refit, "as-refit-pdf"))
    text = " ".join(
        " ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf.content)).pages
    )
    for said in (
        "As-refit record", "T-0917", "coating of the platform brackets", "Lessons", "W01",
        "Passed. 4 stations at 60°", "Still missing.",
    ):  # fmt: skip
        assert said in text, said
    folder = zipfile.ZipFile(io.BytesIO(client.get(url(refit, "as-refit-zip")).content))
    names = set(folder.namelist())
    assert {"as-refit.pdf", "refit.json", "tables/readings.csv", "tables/lessons.csv"} <= names
    rows = list(csv.reader(io.StringIO(folder.read("tables/readings.csv").decode("utf-8-sig"))))
    assert ["P3 gloss", "Right, foot", "", "89", "", "GU"] in rows

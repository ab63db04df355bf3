"""Pages of trips and rigs: planning, keeping, setting a day, ticking, and what goes wrong."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from refit.accounts.models import Role
from refit.custody.models import Handoff, HandoffState
from refit.trips.models import Trip, TripStop
from refit.work.models import Driving, Refit, Rig
from tests.builders import a_handoff, a_piece, a_place, a_refit

from .people import errors_at, signed_in

pytestmark = pytest.mark.django_db


def _url(refit: Refit, name: str, *args: Any) -> str:
    return reverse(f"desk:{name}", args=[refit.slug, *args])


def _refit() -> tuple[Refit, Handoff]:
    """A home and a mill that are always open, a van, and a piece at the mill."""
    refit = a_refit()
    home = a_place(refit, hours=False, name="Home", kind="home", latitude="50", longitude="0")
    mill = a_place(
        refit, hours=False, name="Mill", latitude="50.1", longitude="0", phone="555-0101",
        address="2 Race Lane",
    )  # fmt: skip
    Rig.objects.create(refit=refit, name="Van")
    now = timezone.now()
    row = a_handoff(
        a_piece(refit, place=mill, name="Top frame"), mill, home, free_at=now,
        needed_at=now + timedelta(days=9),
    )  # fmt: skip
    return refit, row


def _planned() -> tuple[Refit, Handoff, Client, Trip]:
    refit, row = _refit()
    client = signed_in(refit)
    assert client.post(_url(refit, "trips-plan")).status_code == 302
    return refit, row, client, Trip.objects.get()


def test_the_page_says_what_is_saved_and_the_sheet_whom_to_ring() -> None:
    refit, _, client, trip = _planned()
    page = client.get(_url(refit, "trips")).content.decode()
    assert "One trip a move" in page
    assert "Top frame" in page
    sheet = client.get(_url(refit, "trip", trip.pk)).content.decode()
    for said in ("tel:555-0101", "geo:50.1", "2 Race Lane", "Top frame"):
        assert said in sheet


def test_without_a_rig_it_says_what_to_enter() -> None:
    refit, _ = _refit()
    Rig.objects.all().delete()
    page = signed_in(refit).post(_url(refit, "trips-plan"), follow=True).content.decode()
    assert "Enter a rig to drive with" in page


def test_the_forms_of_a_sheet_tick_without_scripts() -> None:
    refit, row, client, trip = _planned()
    crew = signed_in(refit, Role.CREW)
    for stop in trip.stops.all():
        sent = {"key": str(uuid.uuid4()), "note": "by the door"}
        answer = crew.post(_url(refit, "trip-tick", trip.pk, stop.pk), sent, follow=True)
        assert "is done" in answer.content.decode()
    row.refresh_from_db()
    assert row.state == HandoffState.RECEIVED
    assert row.received_condition == "by the door"
    assert client.get(_url(refit, "trip", trip.pk)).content.decode().count("by the door") == 2


def test_a_tick_from_the_queue_of_a_phone_counts_once_and_says_when_it_was_made() -> None:
    refit, row, client, trip = _planned()
    stop = trip.stops.all()[0]
    an_hour_ago = timezone.now() - timedelta(hours=1)
    sent = {"key": "one-and-the-same", "at": round(an_hour_ago.timestamp() * 1000)}
    for _ in range(3):
        answer = client.post(
            _url(refit, "trip-tick", trip.pk, stop.pk), sent, headers={"Accept": "application/json"}
        )
        assert answer.json() == {"said": []}
    row.refresh_from_db()
    assert row.state == HandoffState.UNDER_WAY
    assert "noted on the phone" in TripStop.objects.get(pk=stop.pk).note


@pytest.mark.parametrize("key", ["", "short", "no spaces please"])
def test_a_tick_without_a_proper_key_is_sent_back(key: str) -> None:
    refit, row, client, trip = _planned()
    address = _url(refit, "trip-tick", trip.pk, trip.stops.all()[0].pk)
    assert client.post(address, {"key": key}).status_code == 200
    quiet = client.post(address, {"key": key}, headers={"Accept": "application/json"})
    assert quiet.status_code == 422
    row.refresh_from_db()
    assert row.state == HandoffState.PLANNED


def test_a_picture_that_is_none_is_said_at_the_field_and_nothing_is_ticked() -> None:
    from django.core.files.uploadedfile import SimpleUploadedFile

    refit, row, client, trip = _planned()
    address = _url(refit, "trip-tick", trip.pk, trip.stops.all()[0].pk)
    upload = SimpleUploadedFile("a.jpg", b"no picture", "image/jpeg")
    answer = client.post(address, {"key": str(uuid.uuid4()), "picture": upload})
    assert answer.status_code == 200
    row.refresh_from_db()
    assert row.state == HandoffState.PLANNED
    assert not TripStop.objects.exclude(ticked_at=None).exists()


def test_a_trip_is_kept_and_a_move_gets_its_day() -> None:
    refit, row, client, trip = _planned()
    client.post(_url(refit, "trip-pin", trip.pk), {"keep": "yes"})
    trip.refresh_from_db()
    assert trip.pinned
    client.post(_url(refit, "trip-pin", trip.pk), {"keep": "no"})
    day = trip.day + timedelta(days=1)
    while day.weekday() > 4:
        day += timedelta(days=1)
    client.post(_url(refit, "trip-move-day", row.pk), {"day": day.isoformat()})
    assert Trip.objects.get().day == day
    answer = client.post(_url(refit, "trip-move-day", row.pk), {"day": "tomorrow"}, follow=True)
    assert "Give a day" in answer.content.decode()
    client.post(_url(refit, "trip-move-day", row.pk), {"day": ""})
    assert "Days you have set" not in client.get(_url(refit, "trips")).content.decode()


def test_the_worker_is_served_as_a_script_below_the_trips() -> None:
    refit, _ = _refit()
    answer = signed_in(refit).get(_url(refit, "trips-worker"))
    assert answer["Content-Type"] == "text/javascript"
    assert b"addEventListener('fetch'" in answer.content


def test_how_we_drive_is_changed_and_nonsense_is_refused() -> None:
    refit, _ = _refit()
    client = signed_in(refit)
    sent = {
        "day_starts": "07:00", "day_ends": "16:00", "drivers": "1", "weeks": "6", "nights": "0",
        "tow_speed": "80", "per_hour": "30", "per_trip": "5", "per_night": "90",
    }  # fmt: skip
    wrong = client.post(_url(refit, "trips-settings"), sent | {"day_ends": "06:00"})
    assert errors_at(wrong, "day_ends") == "The day must end after it starts."
    assert client.post(_url(refit, "trips-settings"), sent).status_code == 302
    assert Driving.objects.get().weeks == 6


def test_a_rig_is_added_in_the_units_of_the_refit_and_looked_over() -> None:
    refit, _ = _refit()
    refit.units = "us"
    refit.save()
    refit.boat.weight_kg, refit.boat.trailer_kg = 2495, 400
    refit.boat.tongue_kg, refit.boat.length_m = 200, 7
    refit.boat.save()
    client = signed_in(refit)
    sent = {
        "name": "Truck", "tows_boat": "on", "per_km": "0.70", "tow_limit_kg": "6000",
        "tongue_limit_kg": "600", "tongue_low": "5", "tongue_high": "10", "country": "us",
        "tie_downs_direct": "2", "tie_downs_over": "0", "tie_limit_kg": "2000",
    }  # fmt: skip
    wrong = client.post(_url(refit, "rig-add"), sent | {"tongue_high": "4", "country": "USA"})
    assert wrong.status_code == 200
    assert errors_at(wrong, "tongue_high") == "The most cannot be less than the least."
    assert client.post(_url(refit, "rig-add"), sent).status_code == 302
    rig = Rig.objects.get(name="Truck")
    assert rig.country == "US"
    assert round(rig.tow_limit_kg or 0) == 2722
    page = client.get(_url(refit, "rigs")).content.decode()
    assert "2 tie-downs, 4 needed" in page
    assert "may tow 6,000 lb" in page or "may tow 6000 lb" in page
    assert "no permission to drive" in page


def test_the_sheet_on_paper_has_its_stops_and_the_papers_that_go_along() -> None:
    from io import BytesIO

    from pypdf import PdfReader

    from refit.work.models import Paper, PaperKind, Vendor

    refit, _, client, trip = _planned()
    answer = client.get(_url(refit, "trip-paper", trip.pk))
    assert answer["Content-Type"] == "application/pdf"
    text = " ".join(
        " ".join(page.extract_text().split()) for page in PdfReader(BytesIO(answer.content)).pages
    )
    for said in ("1. Mill", "2 Race Lane", "555-0101", "Load Top frame", "signed at both ends"):
        assert said in text
    # A shop that gets a piece while its cover is over is named where the piece is unloaded.
    vendor = Vendor.objects.create(refit=refit, name="Eider Works")
    refit.places.filter(name="Home").update(vendor=vendor)
    Paper.objects.create(
        refit=refit,
        vendor=vendor,
        kind=PaperKind.LIABILITY,
        valid_until=trip.day - timedelta(days=1),
    )
    page = client.get(_url(refit, "trip", trip.pk)).content.decode()
    assert "of Eider Works" in page
    assert "Top frame" in page

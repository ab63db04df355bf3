"""Settings of the refit and its boat; the first page of an empty installation."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from refit.accounts.models import Membership, Role
from refit.work.models import Boat, Refit, Units
from tests.builders import a_refit, a_user

from .people import as_sent, check_crew_may_not, check_only_members_post, errors_at, signed_in

pytestmark = pytest.mark.django_db


def _url(refit: Refit) -> str:
    return reverse("desk:settings", args=[refit.slug])


def _sent(client: Client, refit: Refit, which: str) -> dict[str, Any]:
    context = client.get(_url(refit)).context
    form = context["form"] if which == "refit" else context["boat_form"]
    return as_sent(form) | {"which": which}


def test_settings_of_the_refit_are_saved() -> None:
    refit = a_refit()
    client = signed_in(refit)
    changes = {"refit-time_zone": "America/Halifax", "refit-currency": "cad"}
    answer = client.post(_url(refit), _sent(client, refit, "refit") | changes)
    assert answer.status_code == 302
    refit.refresh_from_db()
    assert (refit.time_zone, refit.currency, refit.version) == ("America/Halifax", "CAD", 2)


def test_the_boat_is_saved_in_the_units_chosen() -> None:
    refit = a_refit(units=Units.US)
    client = signed_in(refit)
    changes = {"boat-length_m": "27", "boat-name": "Sallow Tern"}
    client.post(_url(refit), _sent(client, refit, "boat") | changes)
    boat = Boat.objects.get()
    assert boat.length_m == Decimal("8.230")  # 27 ft x 0.3048 m = 8.2296 m


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("name", "", "required"),
        ("start", "soon", "like 2026-12-04"),
        ("wanted_launch", "2001-01-01", "cannot come before the first day"),
        ("time_zone", "Mars/Base", "is not a time zone"),
        ("currency", "EU", "Three letters"),
        ("hours_a_day", "25", "less than or equal to 24"),
        ("road_factor", "0.5", "greater than or equal to 1"),
        ("owner_email", "nobody", "valid email"),
    ],
)
def test_a_wrong_setting_is_named_at_its_field(field: str, value: str, said: str) -> None:
    refit = a_refit()
    client = signed_in(refit)
    answer = client.post(_url(refit), _sent(client, refit, "refit") | {f"refit-{field}": value})
    assert said in errors_at(answer, field)
    refit.refresh_from_db()
    assert refit.version == 1


def test_settings_that_somebody_else_changed_come_back() -> None:
    refit = a_refit()
    client = signed_in(refit)
    sent = _sent(client, refit, "refit")
    Refit.objects.update(currency="GBP")
    answer = client.post(_url(refit), sent)
    assert "Somebody changed this" in errors_at(answer, None)
    assert "GBP" in answer.content.decode()


def test_only_managers_see_and_change_settings() -> None:
    refit = a_refit()
    check_only_members_post(refit, _url(refit))
    check_crew_may_not(refit, _url(refit))
    assert signed_in(refit, Role.CREW).get(_url(refit)).status_code == 403


# --- the first refit -----------------------------------------------------------------------------

NEW = {
    "boat_name": "Sallow Tern",
    "start": "2026-10-12",
    "wanted_launch": "2027-01-14",
    "time_zone": "America/Halifax",
    "currency": "cad",
    "units": "us",
    "home_name": "Alder shed",
    "hours_0": "8–17",
}


def _newcomer() -> Client:
    client = Client()
    client.force_login(a_user())
    return client


def test_a_newcomer_starts_a_refit_and_is_its_manager() -> None:
    client = _newcomer()
    assert client.get(reverse("desk:home"))["Location"] == reverse("desk:new")
    answer = client.post(reverse("desk:new"), NEW)
    refit = Refit.objects.get()
    assert answer["Location"] == reverse("desk:today", args=[refit.slug])
    assert (refit.slug, refit.currency, refit.units) == ("sallow-tern", "CAD", "us")
    assert Membership.objects.get().role == Role.MANAGER
    home = refit.places.get()
    assert (home.name, str(home.hours.get())) == ("Alder shed", "Monday 08:00–17:00")
    boat = refit.pieces.get()
    assert boat.is_boat
    assert boat.place == home
    assert "A plan needs three things" in client.get(answer["Location"]).content.decode()


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("boat_name", "", "required"),
        ("start", "", "required"),
        ("time_zone", "here", "is not a time zone"),
        ("currency", "€", "Three letters"),
        ("wanted_launch", "2026-01-01", "cannot come before"),
        ("hours_0", "", "must be open"),
        ("hours_0", "8", "are no hours"),
    ],
)
def test_a_wrong_answer_starts_nothing(field: str, value: str, said: str) -> None:
    answer = _newcomer().post(reverse("desk:new"), NEW | {field: value})
    assert said in errors_at(answer, field)
    assert not Refit.objects.exists()
    assert not Boat.objects.exists()


def test_two_boats_of_one_name_get_two_addresses() -> None:
    client = _newcomer()
    client.post(reverse("desk:new"), NEW)
    client.post(reverse("desk:new"), NEW)
    assert sorted(refit.slug for refit in Refit.objects.all()) == ["sallow-tern", "sallow-tern-2"]
    page = client.get(reverse("desk:home"))
    assert page.status_code == 200
    assert len(page.context["refits"]) == 2


def test_one_refit_is_opened_at_once_and_those_of_others_are_not_listed() -> None:
    refit, _ = a_refit(), a_refit()
    answer = signed_in(refit).get(reverse("desk:home"))
    assert answer["Location"] == reverse("desk:today", args=[refit.slug])


def test_nobody_starts_a_refit_without_an_account() -> None:
    assert "sign-in" in Client().post(reverse("desk:new"), NEW)["Location"]
    assert not Refit.objects.exists()

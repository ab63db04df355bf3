"""Places, vendors, crew and zones: lists, adding, editing, removing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from refit.work.models import CrewMember, Place, Refit, Vendor, Zone
from tests.builders import (
    a_crew_member,
    a_package,
    a_piece,
    a_place,
    a_refit,
    a_vendor,
    a_zone,
)

from .people import as_sent, check_crew_may_not, check_only_members_post, errors_at, signed_in

pytestmark = pytest.mark.django_db
PLACE = {"name": "Alder shed", "kind": "home", "bays": "1", "hours_0": "8:00-12:00, 13-17"}


def _url(refit: Refit, name: str, *args: Any) -> str:
    return reverse(f"desk:{name}", args=[refit.slug, *args])


def test_a_place_is_added_with_hours_closures_and_holidays() -> None:
    refit = a_refit()
    data = PLACE | {
        "hours_5": "22–24",
        "closures": "2026-12-24 to 2027-01-02 winter\n2027-02-01",
        "holiday_country": "ca",
        "holiday_region": "NS",
        "latitude": "44.612",
        "longitude": "-63.615",
    }
    answer = signed_in(refit).post(_url(refit, "place-add"), data)
    assert answer.status_code == 302
    place = Place.objects.get()
    assert [str(hours) for hours in place.hours.all()] == [
        "Monday 08:00–12:00",
        "Monday 13:00–17:00",
        "Saturday 22:00–00:00",
    ]
    assert [(str(shut), shut.reason) for shut in place.closures.all()] == [
        ("2026-12-24 to 2027-01-02", "winter"),
        ("2027-02-01 to 2027-02-01", ""),
    ]
    assert (place.holiday_country, place.holiday_region) == ("CA", "NS")


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("name", "", "required"),
        ("hours_0", "8", "are no hours"),
        ("hours_0", "17–8", "closes before it opens"),
        ("hours_0", "8–12, 11–13", "overlap"),
        ("hours_0", "8–24, 23–24", "overlap"),
        ("hours_0", "8–25", "a day ends at 24:00"),
        ("closures", "Christmas", "are no days"),
        ("closures", "2026-12-24 to 2026-12-20", "ends before it begins"),
        ("closures", "2026-02-30", "are no days"),
        ("holiday_country", "XX", "No holidays are known"),
        ("latitude", "91", "less than or equal to 90"),
        ("bays", "-1", "greater than or equal to 0"),
    ],
)
def test_a_wrong_value_of_a_place_is_named_at_its_field(field: str, value: str, said: str) -> None:
    refit = a_refit()
    data = PLACE | {"longitude": "1", "latitude": "1"} | {field: value}
    assert said in errors_at(signed_in(refit).post(_url(refit, "place-add"), data), field)
    assert not Place.objects.exists()


def test_latitude_and_longitude_go_together_and_a_region_needs_its_country() -> None:
    refit = a_refit()
    client = signed_in(refit)
    answer = client.post(_url(refit, "place-add"), PLACE | {"latitude": "44"})
    assert "go together" in errors_at(answer, "longitude")
    answer = client.post(_url(refit, "place-add"), PLACE | {"holiday_region": "NS"})
    assert "needs its country" in errors_at(answer, "holiday_country")
    data = PLACE | {"holiday_country": "CA", "holiday_region": "ZZ"}
    answer = client.post(_url(refit, "place-add"), data)
    assert "not known there" in errors_at(answer, "holiday_region")


def test_the_hours_of_a_place_come_back_as_they_were_typed() -> None:
    refit = a_refit()
    client = signed_in(refit)
    client.post(_url(refit, "place-add"), PLACE)
    place = Place.objects.get()
    refit.refresh_from_db()
    version = refit.version
    form = client.get(_url(refit, "place-edit", place.pk)).context["form"]
    assert form["hours_0"].value() == "08:00–12:00, 13:00–17:00"
    client.post(_url(refit, "place-edit", place.pk), as_sent(form))
    refit.refresh_from_db()
    assert refit.version == version


def test_the_list_says_hours_closures_and_where_nothing_can_be_planned() -> None:
    refit = a_refit()
    a_place(refit, name="Shed")
    a_place(refit, name="Ramp", hours=False)
    page = signed_in(refit).get(_url(refit, "places")).content.decode()
    assert "Open Mon–Fri 08:00–17:00." in page
    assert "nothing can be planned here" in page


def test_a_place_that_is_needed_stays() -> None:
    refit = a_refit()
    place = a_place(refit)
    a_package(refit, place=place, code="H1", title="Sand")
    answer = signed_in(refit).post(_url(refit, "place-remove", place.pk), follow=True)
    assert "is still needed by H1 Sand" in answer.content.decode()
    assert Place.objects.exists()


def test_a_vendor_has_a_page_with_what_it_holds_and_does() -> None:
    refit = a_refit()
    client = signed_in(refit)
    data = {"name": "Skua Sails", "jobs_at_once": "1", "phone": "01632 960077"}
    answer = client.post(_url(refit, "vendor-add"), data)
    vendor = Vendor.objects.get()
    assert answer["Location"] == _url(refit, "vendor", vendor.pk)
    loft = a_place(refit, vendor=vendor, name="Loft")
    a_piece(refit, place=loft, name="Top")
    a_package(refit, vendor=vendor, place=loft, title="Sew")
    page = client.get(_url(refit, "vendor", vendor.pk)).content.decode()
    for said in ("Top", "Sew", "Loft", "01632 960077", "No private link is out"):
        assert said in page
    assert "has 1 piece" in client.get(_url(refit, "vendors")).content.decode()


def test_a_vendor_of_that_name_is_there_already() -> None:
    refit = a_refit()
    a_vendor(refit, name="Skua Sails")
    data = {"name": "skua sails", "jobs_at_once": "0"}
    answer = signed_in(refit).post(_url(refit, "vendor-add"), data)
    assert "of this name already" in errors_at(answer, "name")
    assert errors_at(answer, "jobs_at_once")


def test_one_of_the_crew_is_away_on_days() -> None:
    refit = a_refit()
    client = signed_in(refit)
    data = {"name": "Teo Brandvold", "absences": "2026-12-16 to 2026-12-17 a wedding"}
    client.post(_url(refit, "crew-add"), data)
    [absence] = CrewMember.objects.get().absences.all()
    assert absence.reason == "a wedding"
    assert "a wedding" in client.get(_url(refit, "crew")).content.decode()


def test_a_zone_is_added_renamed_and_removed() -> None:
    refit = a_refit()
    client = signed_in(refit)
    client.post(_url(refit, "zone-add"), {"name": "Cockpit"})
    zone = Zone.objects.get()
    sent = as_sent(client.get(_url(refit, "zone-edit", zone.pk)).context["form"])
    client.post(_url(refit, "zone-edit", zone.pk), sent | {"name": "Foredeck"})
    zone.refresh_from_db()
    assert zone.name == "Foredeck"
    client.post(_url(refit, "zone-remove", zone.pk))
    assert not Zone.objects.exists()


def test_only_managers_change_them_and_only_their_own() -> None:
    refit, other = a_refit(), a_refit()
    makers: dict[str, Callable[[Refit], Any]] = {
        "place": a_place,
        "vendor": a_vendor,
        "crew": a_crew_member,
        "zone": a_zone,
    }
    client = signed_in(refit)
    for kind, make in makers.items():
        ours, foreign = make(refit), make(other)
        check_only_members_post(refit, _url(refit, f"{kind}-add"))
        check_crew_may_not(refit, _url(refit, f"{kind}-add"))
        for act in ("edit", "remove"):
            check_only_members_post(refit, _url(refit, f"{kind}-{act}", ours.pk))
            check_crew_may_not(refit, _url(refit, f"{kind}-{act}", ours.pk))
            assert client.post(_url(refit, f"{kind}-{act}", foreign.pk)).status_code == 404
        assert type(ours).objects.count() == 2, kind

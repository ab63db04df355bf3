"""Adding a package."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from refit.planning.models import PlannedPackage
from refit.quality.models import Finding
from refit.work.models import Refit, WorkPackage
from tests.builders import a_crew_member, a_package, a_piece, a_place, a_refit, a_vendor, a_zone

from .people import check_crew_may_not, check_only_members_post, errors_at, signed_in

pytestmark = pytest.mark.django_db


def _url(refit: Refit) -> str:
    return reverse("desk:package-add", args=[refit.slug])


def _data(refit: Refit, **changes: Any) -> dict[str, Any]:
    place = refit.places.first() or a_place(refit)
    data = {
        "code": "H04",
        "title": "Wet-sand the port side",
        "place": place.pk,
        "likely_minutes": "2 d",
        "helpers": "0",
    }
    return data | changes


def _send(refit: Refit, **changes: Any) -> Any:
    return signed_in(refit).post(_url(refit), _data(refit, **changes))


def test_a_package_is_added_planned_and_shown() -> None:
    refit = a_refit()
    client = signed_in(refit)
    answer = client.post(_url(refit), _data(refit))
    package = WorkPackage.objects.get()
    assert answer.status_code == 302
    assert answer["Location"] == reverse("desk:package", args=[refit.slug, package.pk])
    assert (package.low_minutes, package.likely_minutes, package.high_minutes) == (960, 960, 960)
    assert PlannedPackage.objects.filter(package=package).exists()
    page = client.get(answer["Location"]).content.decode()
    assert "H04 Wet-sand the port side is added. Launch is" in page


def test_everything_about_a_package_is_stored() -> None:
    refit = a_refit()
    vendor, zone, hand = a_vendor(refit), a_zone(refit), a_crew_member(refit)
    piece, other = a_piece(refit), a_piece(refit)
    answer = _send(
        refit,
        scope="Port side, rail to chine",
        vendor=vendor.pk,
        people=[hand.pk],
        zones=[zone.pk],
        takes_bay="on",
        low_minutes="1 d",
        high_minutes="5 d",
        hold_minutes="36 h",
        unbroken="on",
        hold_reason="cure",
        deadline="2027-02-01T12:00",
        deadline_reason="the hoist is booked",
        booking_kind="not before",
        booking_at="2026-12-07T08:00",
        booking_agreed_with="Odile Marrin",
        budget="640.50",
        acceptance="85 GU at 60°",
        cautions="Wear a mask.",
        is_launch="on",
        **{f"piece_{piece.pk}": "fits", f"piece_{other.pk}": ""},
    )
    assert answer.status_code == 302
    package = WorkPackage.objects.get()
    assert package.vendor == vendor
    assert list(package.zones.all()) == [zone]
    assert (package.low_minutes, package.high_minutes, package.hold_minutes) == (480, 2400, 2160)
    assert package.booking.kind == "not before"
    assert f"{package.booking.at:%Y-%m-%d %H:%M}" == "2026-12-07 08:00"
    assert [(use.piece, use.effect) for use in package.piece_uses.all()] == [(piece, "fits")]
    assert package.is_launch
    assert package.takes_bay
    assert package.unbroken


def test_times_are_typed_in_the_zone_of_the_refit() -> None:
    refit = a_refit(time_zone="America/Halifax")
    _send(refit, booking_kind="starts", booking_at="2026-12-07T08:00")
    assert WorkPackage.objects.get().booking.at.isoformat() == "2026-12-07T12:00:00+00:00"


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("code", "", "required"),
        ("title", "", "required"),
        ("place", "", "required"),
        ("place", "999999", "not one of the available choices"),
        ("likely_minutes", "2", "Write it with a unit"),
        ("likely_minutes", "", "required"),
        ("low_minutes", "3 d", "cannot take longer than likely"),
        ("high_minutes", "1 d", "cannot be quicker than likely"),
        ("hold_minutes", "soon", "not a duration"),
        ("helpers", "-1", "greater than or equal to 0"),
        ("budget", "-5", "greater than or equal to 0"),
        ("deadline", "some day", "like 2026-12-04 08:00"),
    ],
)
def test_a_wrong_value_is_named_at_its_field_and_nothing_is_stored(
    field: str, value: str, said: str
) -> None:
    refit = a_refit()
    answer = _send(refit, **{field: value})
    assert said in errors_at(answer, field)
    assert not WorkPackage.objects.exists()


def test_a_booking_needs_its_date_and_a_date_its_kind() -> None:
    refit = a_refit()
    assert "Say when" in errors_at(_send(refit, booking_kind="starts"), "booking_at")
    answer = _send(refit, booking_at="2026-12-07T08:00")
    assert "Say whether" in errors_at(answer, "booking_kind")


def test_a_code_is_given_once() -> None:
    refit = a_refit()
    a_package(refit, code="h04", title="Old job")
    answer = _send(refit)
    assert "H04 is taken by “h04 Old job”" in errors_at(answer, "code")


def test_there_is_one_launch() -> None:
    refit = a_refit()
    a_package(refit, code="X2", title="Launch", is_launch=True)
    assert "“X2 Launch” is the launch" in errors_at(_send(refit, is_launch="on"), "is_launch")


def test_a_vendor_cannot_work_in_the_shop_of_another() -> None:
    refit = a_refit()
    theirs = a_place(refit, vendor=a_vendor(refit), name="Loft")
    answer = _send(refit, place=theirs.pk, vendor=a_vendor(refit).pk)
    assert "belongs to another vendor" in errors_at(answer, "place")


def test_what_belongs_to_another_refit_cannot_be_chosen() -> None:
    refit = a_refit()
    foreign = a_refit()
    for field, row in (
        ("vendor", a_vendor(foreign)),
        ("people", a_crew_member(foreign)),
        ("zones", a_zone(foreign)),
        ("place", a_place(foreign)),
    ):
        assert errors_at(_send(refit, **{field: row.pk}), field), field


def test_sending_it_twice_adds_it_once() -> None:
    refit = a_refit()
    _send(refit)
    assert "taken" in errors_at(_send(refit), "code")
    assert WorkPackage.objects.count() == 1


def test_only_managers_add_packages() -> None:
    refit = a_refit()
    check_only_members_post(refit, _url(refit), _data(refit))
    check_crew_may_not(refit, _url(refit), _data(refit))
    assert not WorkPackage.objects.exists()


def test_a_package_can_be_made_of_a_finding() -> None:
    refit = a_refit()
    piece, zone, before = a_piece(refit), a_zone(refit), a_package(refit)
    finding = Finding.objects.create(
        refit=refit, code="N1", title="Soft core", found_at=timezone.now(), description="gives way",
        work_minutes=1440, price="640", piece=piece, zone=zone, found_in=before,
    )  # fmt: skip
    form = signed_in(refit).get(_url(refit), {"finding": finding.pk}).context["form"]
    assert form["title"].value() == "Repair: Soft core"
    assert form["likely_minutes"].value() == "3 d"
    assert form[f"piece_{piece.pk}"].value() == "needs"
    assert form["zones"].value() == [zone.pk]


def test_a_finding_of_another_refit_fills_in_nothing() -> None:
    refit = a_refit()
    finding = Finding.objects.create(
        refit=a_refit(), code="N1", title="Soft core", found_at=timezone.now()
    )
    answer = signed_in(refit).get(_url(refit), {"finding": finding.pk})
    assert answer.context["form"]["title"].value() is None


def test_an_unsafe_method_is_refused(client: Client) -> None:
    refit = a_refit()
    assert signed_in(refit).delete(_url(refit)).status_code == 405

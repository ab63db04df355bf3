"""Pages take at most 15 queries, and as many for 60 packages as for 10."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from refit.custody.models import Handoff
from refit.planning.services import replan
from refit.quality.models import Finding
from refit.work.models import Booking, Refit, record
from tests.builders import (
    A_MANAGER,
    a_crew_member,
    a_dependency,
    a_package,
    a_piece,
    a_place,
    a_refit,
    a_vendor,
    a_zone,
)

from .people import signed_in

pytestmark = pytest.mark.django_db
LISTS = (
    "today", "packages", "pieces", "vendors", "places", "crew", "findings", "journal", "links",
    "settings", "package-add", "piece-add", "vendor-add", "place-add", "crew-add", "zone-add",
    "finding-add", "roads",
)  # fmt: skip
PAGES = ("package", "package-edit", "piece", "piece-edit", "vendor", "vendor-edit", "handoff")


def _busy_refit(size: int) -> Refit:
    """``size`` packages in rows of five, with everything that pages show about them."""
    refit = a_refit(wanted_launch=timezone.now().date() + timedelta(days=300))
    home = a_place(refit)
    people = [a_crew_member(refit) for _ in range(3)]
    now = timezone.now()
    before = None
    for number in range(size):
        vendor = a_vendor(refit) if number % 5 == 0 else None
        place = a_place(refit, vendor=vendor) if vendor else home
        piece = a_piece(refit, place=place)
        package = a_package(
            refit, place=place, vendor=vendor, pieces=[piece], hold_minutes=60, minutes=120,
            started_at=now - timedelta(days=2) if number % 4 == 1 else None,
        )  # fmt: skip
        package.zones.add(a_zone(refit))
        if vendor is None:
            package.people.add(people[number % 3])
        else:
            Booking.objects.create(
                package=package, kind="not before", at=now + timedelta(days=1 + number)
            )
            Handoff.objects.create(
                refit=refit, piece=piece, origin=place, destination=home, for_package=package,
                after_package=package, due_at=now - timedelta(days=1), depart_at=now,
            )  # fmt: skip
        if before is not None and number % 5:
            a_dependency(before, package)
        before = package
        Finding.objects.create(
            refit=refit, code=f"N{number}", title="Soft", found_at=now, found_in=package,
            piece=piece,
        )  # fmt: skip
        record(refit=refit, actor=A_MANAGER, now=now, verb="changed", subject=package,
               before={"vendor": None, "place": 1}, after={"vendor": 1, "place": 2})  # fmt: skip
    refit.refresh_from_db()
    assert replan(refit=refit, now=now) is not None
    return refit


def _addresses(refit: Refit) -> dict[str, str]:
    first = refit.packages.order_by("pk").first()
    assert first is not None
    own = {
        "package": first.pk,
        "package-edit": first.pk,
        "piece": refit.pieces.order_by("pk")[0].pk,
        "piece-edit": refit.pieces.order_by("pk")[0].pk,
        "vendor": first.vendor_id,
        "vendor-edit": first.vendor_id,
        "handoff": refit.handoffs.order_by("pk")[0].pk,
    }
    lists = {name: reverse(f"desk:{name}", args=[refit.slug]) for name in LISTS}
    pages = {name: reverse(f"desk:{name}", args=[refit.slug, own[name]]) for name in PAGES}
    return lists | pages


def _count(refit: Refit) -> dict[str, int]:
    client = signed_in(refit)
    counts = {}
    for name, url in _addresses(refit).items():
        with CaptureQueriesContext(connection) as queries:
            assert client.get(url).status_code == 200, name
        counts[name] = len(queries)
    return counts


def test_no_page_takes_more_than_fifteen_queries(
    django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:
    refit = _busy_refit(10)
    client = signed_in(refit)
    for url in _addresses(refit).values():
        with django_assert_max_num_queries(15):
            client.get(url)


def test_the_number_of_queries_does_not_grow_with_the_packages() -> None:
    assert _count(_busy_refit(10)) == _count(_busy_refit(60))

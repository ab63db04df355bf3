"""Goods that come late delay the package that needs them, and say so."""

from __future__ import annotations

from datetime import date

import pytest

from refit.contracts.models import Goods
from refit.desk.money import wanted_of
from refit.planning.models import PlannedPackage
from refit.planning.services import replan
from refit.work.models import Booking, Refit, WorkPackage
from tests.builders import NOW, a_package, a_place, a_refit

pytestmark = pytest.mark.django_db


def _scene(**fields: object) -> tuple[Refit, WorkPackage, Goods]:
    refit = a_refit()
    a_place(refit)
    package = a_package(refit)
    given = {"code": "G1", "title": "Trim tab kit", "package": package, "lead_days": 10} | fields
    return refit, package, Goods.objects.create(refit=refit, **given)


def _planned(refit: Refit, package: WorkPackage) -> PlannedPackage:
    plan = replan(refit=refit, now=NOW)
    assert plan is not None
    return PlannedPackage.objects.get(plan=plan, package=package)


@pytest.mark.parametrize(
    ("fields", "starts"),
    [
        # promised for a Friday: from the Friday on; arrived, or nobody knows: now
        ({"promised_on": date(2026, 12, 4)}, date(2026, 12, 4)),
        ({"promised_on": date(2026, 12, 5)}, date(2026, 12, 7)),
        ({"ordered_on": date(2026, 11, 20)}, date(2026, 11, 30)),
        ({"promised_on": date(2026, 12, 4), "arrived_on": date(2026, 11, 24)}, NOW.date()),
        ({}, NOW.date()),
    ],
)
def test_a_package_waits_for_its_goods(fields: dict[str, object], starts: date) -> None:
    refit, package, _ = _scene(**fields)
    row = _planned(refit, package)
    assert refit.local(row.start).date() == starts
    assert (row.cause_kind == "goods") == (starts != NOW.date())


def test_the_cause_names_the_goods() -> None:
    refit, package, _ = _scene(promised_on=date(2026, 12, 5))
    row = _planned(refit, package)
    assert row.cause == (
        f"waits for Trim tab kit, promised for Sat 5 Dec, and {package.place} opens Mon 7 Dec 08:00"
    )


def test_a_later_agreement_with_the_shop_is_still_the_cause() -> None:
    refit, package, _ = _scene(promised_on=date(2026, 12, 4))
    at = refit.local(NOW).replace(month=12, day=10)
    Booking.objects.create(package=package, kind="not before", at=at)
    row = _planned(refit, package)
    assert row.cause_kind != "goods"
    assert row.start == at


def test_order_by_is_needed_less_lead_less_what_is_to_spare() -> None:
    refit, package, goods = _scene()
    Booking.objects.create(
        package=package, kind="not before", at=refit.local(NOW).replace(month=12, day=17)
    )
    wanted = wanted_of(goods, _planned(refit, package), refit, NOW.date())
    # 17 December less 10 days less 3 to spare
    assert (wanted.needed_on, wanted.order_by) == (date(2026, 12, 17), date(2026, 12, 4))
    assert (wanted.look, wanted.said) == ("still", "to be ordered")

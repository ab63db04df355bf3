"""The launch as a range on the page of the day: the drawing, and what the page says."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from refit.desk.launch_band import MARGIN, WIDTH, draw_band
from refit.planning.models import Plan, PlanRisk
from refit.planning.risk import store_risk
from refit.planning.risk_words import Sure
from refit.planning.services import replan
from tests.builders import a_dependency, a_member, a_package, a_place, a_refit, a_vendor


def a_range(first: int, half: int, most: int, last: int) -> Sure:
    return Sure(
        first=date(2027, 1, first),
        half=date(2027, 1, half),
        most=date(2027, 1, most),
        last=date(2027, 1, last),
        said="",
        wanted="",
        promise="",
        basis="",
    )


PLANNED = date(2027, 1, 6)


def test_days_stand_where_they_are_on_the_line_in_their_order() -> None:
    band = draw_band(a_range(8, 12, 18, 20), planned=PLANNED, wanted=None)
    assert band is not None
    assert band.planned == MARGIN
    assert band.planned < band.first.x < band.most.x < band.last.x == WIDTH - MARGIN
    a_day = (WIDTH - 2 * MARGIN) / 14
    assert band.first.x == pytest.approx(MARGIN + 2 * a_day, abs=0.1)
    assert band.most.x == pytest.approx(MARGIN + 12 * a_day, abs=0.1)
    assert [band.first.label, band.most.label, band.last.label] == [
        "Fri 8 Jan",
        "Mon 18 Jan",
        "Wed 20 Jan",
    ]


def test_labels_that_would_run_into_that_of_the_middle_give_way() -> None:
    band = draw_band(a_range(6, 8, 18, 20), planned=PLANNED, wanted=None)
    assert band is not None
    assert (band.room_before, band.room_behind) == (True, False)


def test_a_wanted_day_far_from_the_range_does_not_squeeze_it() -> None:
    near, far = (
        draw_band(a_range(8, 12, 18, 20), planned=PLANNED, wanted=wanted)
        for wanted in (date(2027, 1, 5), date(2027, 6, 1))
    )
    assert near is not None
    assert near.wanted is not None
    assert near.wanted.x == MARGIN
    assert far is not None
    assert far.wanted is None


def test_a_range_of_one_day_needs_no_drawing() -> None:
    assert draw_band(a_range(6, 6, 6, 6), planned=PLANNED, wanted=None) is None


@pytest.fixture
def planned(db: None, client: Client) -> Plan:
    refit = a_refit(start=timezone.now().date() - timedelta(days=9))
    shop = a_vendor(refit, name="Brackwater Canvas")
    sew = a_package(
        refit,
        title="Fit the canvas",
        place=a_place(refit, vendor=shop),
        vendor=shop,
        low_minutes=480,
        likely_minutes=1440,
        high_minutes=9600,
    )
    a_dependency(sew, a_package(refit, place=a_place(refit), is_launch=True))
    client.force_login(a_member(refit))
    plan = replan(refit=refit, now=timezone.now())
    assert plan is not None
    return plan


def test_the_page_says_the_range_as_soon_as_it_is_known(planned: Plan, client: Client) -> None:
    address = f"/r/{planned.refit.slug}/"
    before = client.get(address).content.decode()
    assert "of 10 tries" not in before
    assert store_risk(planned) is not None
    page = client.get(address).content.decode()
    assert "In 8 of 10 tries it is afloat by" in page
    assert "The launch as a range: in 1 of 10 tries afloat by" in page
    assert "What matters most is that Brackwater Canvas is done with “Fit the canvas”" in page
    assert "common practice, no source" in page
    assert "style=" not in page
    assert "%" not in page[page.index('class="sure"') : page.index("</svg>")]


def test_a_launch_that_is_over_is_no_range_any_more(planned: Plan, client: Client) -> None:
    assert store_risk(planned) is not None
    launched = planned.computed_at - timedelta(days=1)
    Plan.objects.filter(pk=planned.pk).update(launch_at=launched)
    page = client.get(f"/r/{planned.refit.slug}/").content.decode()
    assert "of 10 tries" not in page
    assert PlanRisk.objects.exists()

"""The launch as a range on the owner's page."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from refit.accounts.models import LinkKind
from refit.planning.models import Plan, PlanRisk
from refit.work.models import Refit
from tests.builders import a_link, a_package, a_refit

pytestmark = pytest.mark.django_db


def a_planned_refit(**fields: object) -> tuple[Refit, Plan]:
    refit = a_refit(wanted_launch=date(2031, 1, 7))
    a_package(refit, is_launch=True)
    plan = Plan.objects.create(
        refit=refit,
        refit_version=refit.version,
        computed_at=timezone.now(),
        seconds=0.1,
        launch_at=noon(6),
    )
    days = {"p10": noon(6), "p50": noon(13), "p80": noon(17), "p90": noon(20), "mean": noon(13)}
    PlanRisk.objects.create(plan=plan, runs=10_000, seconds=0.1, wanted_share=0.2, **days | fields)
    return refit, plan


def noon(day: int) -> datetime:
    return datetime(2031, 1, day, 12, tzinfo=UTC)


def page_of(refit: Refit, client: Client) -> str:
    _, token = a_link(refit, LinkKind.OWNER)
    return client.get(f"/p/in/{token}", follow=True).content.decode()


def test_the_owner_reads_a_range_a_day_to_count_on_and_how_it_was_worked_out(
    client: Client,
) -> None:
    refit, _ = a_planned_refit()
    page = page_of(refit, client)
    assert "<h1>Launch Mon 6 to Mon 20 Jan</h1>" in page
    assert "Count on Fri 17 Jan 2031." in page
    assert "In 8 of 10 tries it is afloat by Fri 17 Jan 2031, in half by Mon 13 Jan." in page
    assert "In 2 of 10 tries it is afloat by Tue 7 Jan, the day wanted." in page
    assert "If everything goes as planned, it is Mon 6 Jan 2031." in page
    assert "10,000 tries of this plan" in page


def test_a_launch_that_hardly_varies_or_is_over_stays_one_day(client: Client) -> None:
    same = dict.fromkeys(("p10", "p50", "p80", "p90"), noon(6))
    sure, _ = a_planned_refit(**same)
    assert "<h1>Launch Mon 6 Jan 2031</h1>" in page_of(sure, client)
    over, plan = a_planned_refit()
    Plan.objects.filter(pk=plan.pk).update(launch_at=timezone.now() - timedelta(days=1))
    assert "of 10 tries" not in page_of(over, client)

"""Planning in the background: what is stale, and that running twice does no harm."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.utils import timezone

from refit.planning.models import Plan, PlanTrouble
from refit.planning.services import replan
from refit.planning.tasks import FRESH_FOR, is_stale, replan_refit, replan_stale
from tests.builders import NOW, a_dependency, a_package, a_refit

pytestmark = pytest.mark.django_db


def test_a_stale_refit_is_replanned_once() -> None:
    refit = a_refit()
    replan_refit(refit.pk)
    replan_refit(refit.pk)
    assert Plan.objects.count() == 1


def test_a_refit_that_is_gone_is_nobodys_trouble() -> None:
    replan_refit(4711)
    assert not Plan.objects.exists()


def test_the_sweep_finds_every_refit_whose_plan_is_behind() -> None:
    behind, fresh, closed = a_refit(), a_refit(), a_refit(closed_at=NOW)
    replan(refit=fresh, now=timezone.now())
    assert replan_stale() == 1
    assert Plan.objects.current(behind) is not None
    assert Plan.objects.filter(refit=fresh).count() == 1
    assert Plan.objects.current(closed) is None
    assert replan_stale() == 0


def test_the_sweep_does_not_try_a_refit_in_trouble_every_time() -> None:
    refit = a_refit()
    first, second = a_package(refit), a_package(refit)
    a_dependency(first, second)
    a_dependency(second, first)
    assert replan_stale() == 1
    assert replan_stale() == 0
    PlanTrouble.objects.update(at=timezone.now() - FRESH_FOR - timedelta(minutes=1))
    assert replan_stale() == 1


@pytest.mark.parametrize(
    ("computed", "now", "stale"),
    [
        ("2026-11-25T12:00+00:00", "2026-11-25T14:59+00:00", False),
        ("2026-11-25T12:00+00:00", "2026-11-25T15:00+00:00", True),
        # Midnight in Halifax is 04:00 UTC.
        ("2026-11-25T03:30+00:00", "2026-11-25T03:59+00:00", False),
        ("2026-11-25T03:30+00:00", "2026-11-25T04:01+00:00", True),
    ],
)
def test_a_plan_grows_stale_by_hours_and_at_local_midnight(
    computed: str, now: str, stale: bool
) -> None:
    refit = a_refit(time_zone="America/Halifax")
    plan = Plan(refit=refit, refit_version=refit.version, seconds=0)
    plan.computed_at = datetime.fromisoformat(computed)
    assert is_stale(refit, plan, datetime.fromisoformat(now)) is stale


def test_a_plan_of_an_earlier_version_is_stale() -> None:
    refit = a_refit()
    plan = Plan(refit=refit, refit_version=refit.version, seconds=0, computed_at=NOW)
    assert not is_stale(refit, plan, NOW)
    refit.version += 1
    assert is_stale(refit, plan, NOW)
    assert is_stale(refit, None, NOW)

"""How the launch moved, and which plans are kept."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from refit.planning.history import KEPT, LaunchStep, forget_old_plans, launch_moved
from refit.planning.models import Plan, PlanState
from refit.work.models import THE_SOFTWARE, Actor, JournalEntry, Refit, record
from tests.builders import A_MANAGER, NOW, a_refit

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
LAUNCH = datetime.fromisoformat("2027-01-15T12:00+00:00")


def a_plan(refit: Refit, at: datetime, launch: datetime | None = LAUNCH) -> Plan:
    """The current plan of ``refit`` from now on."""
    Plan.objects.filter(refit=refit).update(state=PlanState.EARLIER)
    return Plan.objects.create(
        refit=refit, refit_version=1, computed_at=at, seconds=0, launch_at=launch
    )


def step(found: LaunchStep | None) -> LaunchStep:
    assert found is not None
    return found


def test_the_first_plan_has_moved_nothing() -> None:
    moved = launch_moved(a_plan(a_refit(), NOW))
    assert (moved.last, moved.today) == (None, None)


def test_the_launch_is_compared_with_the_last_plan_and_with_yesterdays() -> None:
    refit = a_refit()
    a_plan(refit, NOW - DAY, LAUNCH)
    a_plan(refit, NOW - timedelta(hours=1), LAUNCH + 5 * DAY)
    moved = launch_moved(a_plan(refit, NOW, LAUNCH + 3 * DAY))
    assert step(moved.last).days == -2
    assert step(moved.last).since == NOW - timedelta(hours=1)
    assert step(moved.today).days == 3
    assert (step(moved.today).launch_before, step(moved.today).launch_after) == (
        LAUNCH,
        LAUNCH + 3 * DAY,
    )


def test_days_are_those_of_the_refits_calendar() -> None:
    # 22:00 and 23:30 UTC are the same day in UTC, but 23:30 is tomorrow in Lisbon's summer.
    refit = a_refit(time_zone="Europe/Lisbon")
    summer = datetime.fromisoformat("2027-06-01T22:00+00:00")
    a_plan(refit, NOW - DAY, summer)
    moved = launch_moved(a_plan(refit, NOW, summer + timedelta(minutes=90)))
    assert step(moved.last).days == 1


def test_what_changed_in_between_is_told_first_thing_first() -> None:
    refit = a_refit()

    def changed(at: datetime, actor: Actor, verb: str, **fields: Any) -> JournalEntry:
        return record(refit=refit, actor=actor, now=at, verb=verb, **fields)

    changed(NOW - 2 * DAY, A_MANAGER, "changed", subject_name="before the plan")
    a_plan(refit, NOW - DAY)
    first = changed(NOW - timedelta(hours=2), A_MANAGER, "promised", subject_name="C12 Frame coat")
    last = changed(NOW, THE_SOFTWARE, "changed", subject_name="something else")
    moved = launch_moved(a_plan(refit, NOW, LAUNCH + DAY))
    assert step(moved.last).entries == (first, last)
    assert step(moved.last).changed == "Runa Ostlund promised C12 Frame coat"


def test_a_plan_of_yesterday_has_not_moved_today() -> None:
    refit = a_refit()
    a_plan(refit, NOW - 2 * DAY)
    plan = a_plan(refit, NOW - DAY, LAUNCH + DAY)
    moved = launch_moved(plan, now=NOW)
    assert step(moved.last).days == 1
    assert moved.today is None


def test_plans_without_a_launch_are_passed_over() -> None:
    refit = a_refit()
    a_plan(refit, NOW - 2 * DAY)
    a_plan(refit, NOW - DAY, None)
    assert step(launch_moved(a_plan(refit, NOW, LAUNCH + DAY)).last).days == 1
    assert launch_moved(a_plan(refit, NOW, None)).last is None


def test_other_refits_have_their_own_history() -> None:
    a_plan(a_refit(), NOW - DAY)
    assert launch_moved(a_plan(a_refit(), NOW)).last is None


def test_looking_back_takes_four_queries_at_most() -> None:
    refit = a_refit()
    for hours in range(40, 0, -1):
        a_plan(refit, NOW - timedelta(hours=hours))
        record(refit=refit, actor=A_MANAGER, now=NOW - timedelta(hours=hours), verb="changed")
    plan = Plan.objects.select_related("refit").get(pk=a_plan(refit, NOW).pk)
    with CaptureQueriesContext(connection) as queries:
        launch_moved(plan)
    assert len(queries) <= 4


def test_the_last_plan_of_a_day_is_kept_and_the_latest_ones_are() -> None:
    refit = a_refit()
    start = NOW - 10 * DAY
    old = [a_plan(refit, start + timedelta(minutes=n)) for n in range(5)]
    recent = [a_plan(refit, NOW + timedelta(minutes=n)) for n in range(KEPT + 1)]
    assert forget_old_plans(refit=refit) == 4
    kept = set(Plan.objects.values_list("pk", flat=True))
    assert kept == {old[-1].pk, *(plan.pk for plan in recent)}
    assert forget_old_plans(refit=refit) == 0


def test_the_day_of_a_plan_is_the_local_one() -> None:
    # 04:00 and 06:00 UTC are two days in Halifax (UTC-4).
    refit = a_refit(time_zone="America/Halifax")
    night = datetime.fromisoformat("2026-11-10T03:30+00:00")
    for moment in (night - timedelta(hours=1), night, night + timedelta(hours=1)):
        a_plan(refit, moment)
    for n in range(KEPT + 1):
        a_plan(refit, NOW + timedelta(minutes=n))
    assert forget_old_plans(refit=refit) == 1
    assert not Plan.objects.filter(computed_at=night - timedelta(hours=1)).exists()

"""Storing plans: what is stored, when nothing is, and what a change costs."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import datetime, timedelta
from itertools import pairwise
from time import perf_counter
from typing import Any

import pytest
from django.db import connection
from django.db.models import F
from django.test.utils import CaptureQueriesContext

from refit.custody.models import Handoff
from refit.interchange.export import export_refit
from refit.planning.models import Plan, PlannedMove, PlannedPackage, PlanState, PlanTrouble
from refit.planning.services import Overtaken, replan, settle, store_plan
from refit.planning.solve import solve
from refit.work.models import OpeningHours, Refit, record
from tests.builders import (
    A_MANAGER,
    NOW,
    a_dependency,
    a_package,
    a_piece,
    a_place,
    a_refit,
    a_vendor,
)

pytestmark = pytest.mark.django_db

Captured = Callable[[], AbstractContextManager[list[Callable[[], Any]]]]

SOON = NOW + timedelta(minutes=5)


def planned(refit: Refit, now: datetime = NOW) -> Plan:
    """The plan that is stored by replanning; there must be one."""
    plan = replan(refit=refit, now=now)
    assert plan is not None
    return plan


def current(refit: Refit) -> Plan:
    plan = Plan.objects.current(refit)
    assert plan is not None
    return plan


def change(refit: Refit, now: datetime = NOW) -> None:
    """Anything that a plan depends on."""
    record(refit=refit, actor=A_MANAGER, now=now, verb="changed", subject=refit)


@pytest.fixture
def refit() -> Refit:
    """Weld in the booth, then fit at home: two packages, a piece that travels, a launch."""
    refit = a_refit()
    booth = a_place(refit, name="Booth", vendor=a_vendor(refit, name="Coater"))
    shed = a_place(refit, name="Shed")
    frame = a_piece(refit, name="Frame", place=booth)
    weld = a_package(refit, code="A", title="Weld", place=booth, pieces=[frame], minutes=60)
    fit = a_package(
        refit, code="B", title="Fit", place=shed, pieces=[frame], minutes=60, is_launch=True
    )
    a_dependency(weld, fit, reason="fit what is finished")
    return refit


def test_a_plan_is_stored_with_dates_moves_and_causes(refit: Refit) -> None:
    plan = planned(refit, NOW)
    assert plan == Plan.objects.current(refit)
    assert plan.refit_version == refit.version
    assert plan.seconds > 0
    weld, fit = plan.packages.all()
    # A from Wednesday 09:00; an hour on a road that nobody knows; B from 11:00.
    assert (weld.start, weld.finish) == (NOW, NOW + timedelta(hours=1))
    assert fit.start == NOW + timedelta(hours=2)
    assert plan.launch_at == fit.finish == NOW + timedelta(hours=3)
    assert plan.driving == ["A", "B"]
    assert (weld.drives, fit.drives) == (True, True)
    assert fit.cause_kind == "piece"
    assert fit.cause.startswith("waits for Frame: A Weld has it until Wed 25 Nov 10:00, then 1 h")
    assert weld.cause == "nothing holds it: it can start now"
    assert weld.slip_minutes == fit.slip_minutes == 0
    assert fit.slip_note == "any delay moves the launch"
    [move] = plan.moves.all()
    assert (move.depart, move.arrive) == (NOW + timedelta(hours=1), NOW + timedelta(hours=2))
    assert move.handoff == Handoff.objects.get()
    assert "Booth to Shed is not known" in plan.notes[0]


def test_a_new_plan_sets_the_one_before_aside(refit: Refit) -> None:
    first = planned(refit, NOW)
    second = planned(refit, SOON)
    first.refresh_from_db()
    assert (first.state, second.state) == (PlanState.EARLIER, PlanState.CURRENT)
    assert list(Plan.objects.earlier(refit)) == [first]


def test_a_plan_of_something_that_has_changed_is_not_stored(refit: Refit) -> None:
    kept = planned(refit, NOW)
    version = refit.version
    solved = solve(export_refit(refit), SOON)
    change(refit)
    with pytest.raises(Overtaken):
        store_plan(refit=refit, version=version, solved=solved, now=SOON, began=perf_counter())
    assert list(Plan.objects.all()) == [kept]
    assert PlannedPackage.objects.count() == 2
    assert Handoff.objects.count() == 1


def test_a_package_that_is_gone_meanwhile_is_not_planned(refit: Refit) -> None:
    solved = solve(export_refit(refit), NOW)
    refit.packages.get(code="B").delete()
    with pytest.raises(Overtaken):
        store_plan(refit=refit, version=refit.version, solved=solved, now=NOW, began=perf_counter())
    assert not Plan.objects.exists()


class SomebodyElse:
    """Changes the refit whenever the planner has just read the last table of it."""

    def __init__(self, refit: Refit, times: int) -> None:
        self.refit, self.times = refit, times

    def __call__(self, execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        result = execute(sql, params, many, context)
        if sql.startswith("SELECT") and 'FROM "quality_finding"' in sql and self.times:
            self.times -= 1
            Refit.objects.filter(pk=self.refit.pk).update(version=F("version") + 1)
        return result


def test_a_change_during_computing_makes_it_compute_again(refit: Refit) -> None:
    with connection.execute_wrapper(SomebodyElse(refit, times=1)):
        plan = planned(refit, NOW)
    refit.refresh_from_db()
    assert plan.refit_version == refit.version == 2
    assert Plan.objects.count() == 1


def test_a_refit_that_keeps_changing_is_left_to_the_worker(
    refit: Refit, django_capture_on_commit_callbacks: Captured
) -> None:
    with (
        django_capture_on_commit_callbacks() as queued,
        connection.execute_wrapper(SomebodyElse(refit, times=99)),
    ):
        assert replan(refit=refit, now=NOW) is None
    assert not Plan.objects.exists()
    assert len(queued) == 1


def test_without_a_plan_the_last_good_one_stays_and_the_reason_is_kept(refit: Refit) -> None:
    good = planned(refit, NOW)
    a_dependency(refit.packages.get(code="B"), refit.packages.get(code="A"))
    change(refit)
    assert replan(refit=refit, now=SOON) is None
    assert Plan.objects.current(refit) == good
    trouble = refit.plan_trouble
    assert "in a ring" in trouble.sentence
    assert "A Weld" in trouble.sentence
    assert sorted(trouble.codes) == ["A", "B"]
    assert trouble.refit_version == refit.version


def test_trouble_is_gone_with_the_next_plan(refit: Refit) -> None:
    OpeningHours.objects.filter(place__name="Shed").delete()
    assert replan(refit=refit, now=NOW) is None
    assert PlanTrouble.objects.get().sentence == (
        "Shed has no opening hours; add them so that work there can be planned."
    )
    refit.places.get(name="Shed").hours.create(weekday=2, opens="08:00", closes="17:00")
    assert replan(refit=refit, now=NOW) is not None
    assert not PlanTrouble.objects.exists()


def test_a_refit_without_packages_has_an_empty_plan() -> None:
    plan = planned(a_refit())
    assert plan.launch_at is None
    assert not plan.packages.exists()


def test_the_order_of_the_plan_before_is_kept_without_a_reason_to_change_it() -> None:
    """Two equal packages of one vendor: whichever was first stays first."""
    refit = a_refit()
    booth = a_place(refit, vendor=a_vendor(refit))
    for code in "AB":
        a_package(refit, code=code, place=booth, vendor=booth.vendor, minutes=60)
    plan = planned(refit, NOW)
    first, second = plan.packages.all()
    PlannedPackage.objects.filter(pk=first.pk).update(
        start=second.start, work_finish=second.work_finish, finish=second.finish
    )
    PlannedPackage.objects.filter(pk=second.pk).update(
        start=first.start, work_finish=first.work_finish, finish=first.finish
    )
    again = planned(refit, NOW)
    assert next(row.package_id for row in again.packages.all()) == second.package_id


# settle


def test_settling_makes_the_first_plan_at_once(refit: Refit) -> None:
    assert settle(refit=refit, now=NOW) is True
    assert current(refit).refit_version == refit.version


def test_settling_a_plan_that_is_up_to_date_computes_nothing(refit: Refit) -> None:
    replan(refit=refit, now=NOW)
    with CaptureQueriesContext(connection) as queries:
        assert settle(refit=refit, now=SOON) is True
    assert len(queries) == 2
    assert Plan.objects.count() == 1


@pytest.mark.parametrize(("seconds", "at_once"), [(0.19, True), (0.2, False)])
def test_settling_waits_only_for_plans_that_were_quick(
    refit: Refit, seconds: float, at_once: bool, django_capture_on_commit_callbacks: Captured
) -> None:
    replan(refit=refit, now=NOW)
    Plan.objects.update(seconds=seconds)
    change(refit)
    with django_capture_on_commit_callbacks() as queued:
        assert settle(refit=refit, now=SOON) is at_once
    assert (current(refit).refit_version == refit.version) is at_once
    replans = [call for call in queued if "replan_refit" in repr(call)]
    assert len(replans) == (0 if at_once else 1)


def test_settling_knows_the_version_that_somebody_else_made(refit: Refit) -> None:
    replan(refit=refit, now=NOW)
    change(Refit.objects.get(pk=refit.pk))
    assert settle(refit=refit, now=SOON) is True
    assert current(refit).refit_version == refit.version == 2


def test_settling_does_not_try_again_what_has_no_plan(refit: Refit) -> None:
    a_dependency(refit.packages.get(code="B"), refit.packages.get(code="A"))
    assert settle(refit=refit, now=NOW) is False
    with CaptureQueriesContext(connection) as queries:
        assert settle(refit=refit, now=NOW) is False
    assert len(queries) == 3


# What it costs


def a_chain(packages: int) -> Refit:
    """A refit in which one piece goes to and fro through all its packages."""
    refit = a_refit(loading_minutes=0)  # so that no launch moves from the one plan to the next
    shed, booth = a_place(refit), a_place(refit)
    frame = a_piece(refit, place=shed)
    chain = [
        a_package(refit, place=(shed, booth)[n % 2], pieces=[frame], minutes=60)
        for n in range(packages)
    ]
    for before, after in pairwise(chain):
        a_dependency(before, after)
    return refit


def test_the_number_of_queries_does_not_grow_with_the_packages() -> None:
    counts = []
    for packages in (4, 40):
        refit = a_chain(packages)
        replan(refit=refit, now=NOW)
        with CaptureQueriesContext(connection) as queries:
            replan(refit=refit, now=SOON)
        counts.append(len(queries))
        assert PlannedMove.objects.filter(plan=current(refit)).count() == packages - 1
    assert counts[0] == counts[1] <= 48

"""Baselines: what is kept of a plan, that nothing changes it, and the drift since."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from refit.planning.baselines import (
    CannotKeep,
    choose_baseline,
    drift_since,
    keep_baseline,
    launch_drifts,
)
from refit.planning.baselines_yardstick import Yardstick
from refit.planning.history import KEPT, forget_old_plans
from refit.planning.ledger_reading import read_ledger
from refit.planning.models import Baseline, Plan
from refit.planning.services import replan
from refit.work.models import Closure, JournalEntry, Refit
from refit.work.services import change_row, remove_row
from tests.builders import A_MANAGER, NOW, a_dependency, a_package, a_place, a_refit

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


@pytest.fixture
def refit() -> Refit:
    """Weld, then fit: a day each at home, in hours from 08:00 to 17:00."""
    refit = a_refit()
    a_place(refit, name="Shed", kind="home")
    weld = a_package(refit, code="A", title="Weld", minutes=540, budget="300.00")
    fit = a_package(refit, code="B", title="Fit", minutes=540, is_launch=True)
    a_dependency(weld, fit)
    return refit


def planned(refit: Refit, now: datetime = NOW) -> Plan:
    plan = replan(refit=refit, now=now)
    assert plan is not None
    return plan


def kept(
    refit: Refit, name: str = "As agreed", now: datetime = NOW, choose: bool = True
) -> Baseline:
    return keep_baseline(refit=refit, name=name, actor=A_MANAGER, now=now, choose=choose)


def longer(refit: Refit, code: str = "A") -> None:
    facts = {"likely_minutes": 1080, "high_minutes": 1080}
    change_row(
        refit=refit, row=refit.packages.get(code=code), facts=facts, actor=A_MANAGER, now=NOW
    )  # fmt: skip


def test_a_baseline_keeps_the_dates_and_the_money_of_every_package(refit: Refit) -> None:
    plan = planned(refit)
    baseline = kept(refit)
    weld, fit = baseline.packages.all()
    assert [(row.code, row.start, row.finish) for row in (weld, fit)] == [
        (row.package.code, row.start, row.finish) for row in plan.packages.all()
    ]
    assert weld.budget == 300
    assert (baseline.launch_at, baseline.computed_at) == (plan.launch_at, plan.computed_at)
    assert baseline.is_chosen
    assert JournalEntry.objects.latest("id").verb == "kept the plan as"


def test_keeping_does_not_make_the_plan_stale(refit: Refit) -> None:
    planned(refit)
    version = refit.version
    kept(refit)
    refit.refresh_from_db()
    assert refit.version == version


def test_nothing_changes_a_baseline(refit: Refit) -> None:
    planned(refit)
    baseline = kept(refit)
    before = list(baseline.packages.values("code", "title", "start", "finish", "budget"))
    facts = {"code": "A9", "title": "Weld all", "likely_minutes": 2000, "high_minutes": 2000}
    row = refit.packages.get(code="A")
    change_row(refit=refit, row=row, facts=facts, actor=A_MANAGER, now=NOW)
    remove_row(refit=refit, row=refit.packages.get(code="B"), actor=A_MANAGER, now=NOW)
    for hours in range(KEPT + 5):
        planned(refit, NOW + timedelta(minutes=hours))
    forget_old_plans(refit=refit)
    assert list(baseline.packages.values("code", "title", "start", "finish", "budget")) == before


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("  ", "Give it a name"),
        ("as AGREED", "is kept already"),
        ("x" * 81, "too long"),
    ],
)
def test_a_name_that_cannot_be_is_refused(refit: Refit, name: str, sentence: str) -> None:
    planned(refit)
    kept(refit)
    with pytest.raises(CannotKeep, match=sentence) as refused:
        kept(refit, name)
    assert refused.value.field == "name"
    assert Baseline.objects.count() == 1


def test_without_a_plan_there_is_nothing_to_keep(refit: Refit) -> None:
    with pytest.raises(CannotKeep, match="no plan yet"):
        kept(refit)


def test_one_baseline_is_the_one_compared_with(refit: Refit) -> None:
    planned(refit)
    first = kept(refit, "First", choose=False)
    second = kept(refit, "Second", choose=False)
    assert Baseline.objects.chosen(refit) == first
    choose_baseline(baseline=second, actor=A_MANAGER, now=NOW)
    assert Baseline.objects.chosen(refit) == second
    assert Baseline.objects.filter(is_chosen=True).count() == 1


def test_drift_is_told_for_the_launch_and_for_each_package(refit: Refit) -> None:
    planned(refit)
    baseline = kept(refit)
    longer(refit, "A")
    added = a_package(refit, code="C", title="Paint", minutes=60)
    found = drift_since(baseline, planned(refit))
    # Wed 09:00 to Thu 09:00 to Fri 09:00; with a day more to Mon 09:00.
    assert found.launch is not None
    assert (found.launch.working_days, found.launch.calendar_days) == (1, 3)
    assert found.launch.working == 540
    assert [row.code for row in found.moved] == ["B", "A"]
    weld = found.moved[1]
    assert weld.start is not None
    assert weld.finish is not None
    assert (weld.start.elapsed, weld.finish.said) == (0, "1 working day later")
    assert [row.package for row in found.added] == [added]
    assert (found.gone, found.same, found.place) == ([], 0, "Shed")


def test_a_package_removed_since_is_named(refit: Refit) -> None:
    planned(refit)
    baseline = kept(refit)
    remove_row(refit=refit, row=refit.packages.get(code="A"), actor=A_MANAGER, now=NOW)
    found = drift_since(baseline, planned(refit))
    assert [(row.code, row.title) for row in found.gone] == [("A", "Weld")]


def test_drift_takes_five_queries_at_any_size(refit: Refit) -> None:
    for number in range(12):
        a_package(refit, minutes=60 + number)
    planned(refit)
    baseline = kept(refit)
    longer(refit, "A")
    plan = Plan.objects.get(pk=planned(refit).pk)
    with CaptureQueriesContext(connection) as queries:
        drift_since(baseline, plan)
    assert len(queries) <= 5
    assert launch_drifts([baseline], plan)[baseline.pk].working_days == 1


def test_the_ledger_since_a_baseline_is_the_drift_since_it(refit: Refit) -> None:
    planned(refit)
    longer(refit, "A")
    planned(refit)
    baseline = kept(refit)
    longer(refit, "B")
    plan = planned(refit)
    found = read_ledger(refit, since=baseline)
    assert found is not None
    assert [line.entry.package.code for line in found.lines if line.entry.package] == ["B"]
    assert found.drift == launch_drifts([baseline], plan)[baseline.pk]
    everything = read_ledger(refit)
    assert everything is not None
    assert len(everything.lines) == 2


def test_working_days_are_days_on_which_the_home_place_is_open() -> None:
    refit = a_refit(time_zone="Europe/Lisbon")
    a_place(refit, name="A shop", vendor=None, kind="shop", hours=False)
    home = a_place(refit, name="Shed", kind="home")
    friday = datetime.fromisoformat("2026-11-27T12:00+00:00")
    tuesday = datetime.fromisoformat("2026-12-01T12:00+00:00")
    measured = Yardstick(refit, friday, tuesday).between(friday, tuesday)
    assert (measured.working_days, measured.calendar_days) == (2, 4)
    # 5 h of Friday, 9 h of Monday, 4 h of Tuesday
    assert measured.working == 18 * 60
    Closure.objects.create(place=home, first_day=date(2026, 11, 30), last_day=date(2026, 11, 30))
    measured = Yardstick(refit, friday, tuesday).between(friday, tuesday)
    assert (measured.working_days, measured.working) == (1, 9 * 60)
    back = Yardstick(refit, friday, tuesday).between(tuesday, friday)
    assert (back.working_days, back.calendar_days, back.working) == (-1, -4, -9 * 60)
    assert back.said == "1 working day earlier"


def test_a_refit_without_places_counts_every_day() -> None:
    refit = a_refit()
    measured = Yardstick(refit, NOW, NOW + 7 * DAY).between(NOW, NOW + 7 * DAY)
    assert (measured.working_days, measured.working) == (7, 7 * 1440)

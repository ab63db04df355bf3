"""Baselines: what is kept of a plan, that nothing changes it, and the drift since."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from fractions import Fraction

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from refit.planning.baselines import (
    CannotKeep,
    PackageDrift,
    choose_baseline,
    drift_since,
    keep_baseline,
    launch_drifts,
)
from refit.planning.baselines_earned import Earned, earned_against
from refit.planning.baselines_yardstick import Yardstick
from refit.planning.history import KEPT, forget_old_plans
from refit.planning.ledger_reading import read_ledger
from refit.planning.models import Baseline, BaselinePackage, Plan
from refit.planning.services import replan
from refit.work.models import Closure, JournalEntry, Refit, WorkPackage
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


# Earned value


def earned(refit: Refit, now: datetime) -> Earned | None:
    baseline, plan = Baseline.objects.get(refit=refit), Plan.objects.current(refit)
    assert plan is not None
    return earned_against(drift_since(baseline, plan).kept, now)


def a_row(
    code: str, worth: int, start: int, weeks: int, done: Fraction = Fraction(0)
) -> PackageDrift:
    """A package of the published example, kept to begin after ``start`` weeks; done in parts."""
    begins, ends = NOW + start * 7 * DAY, NOW + (start + weeks) * 7 * DAY
    kept = BaselinePackage(code=code, start=begins, work_finish=ends, finish=ends, budget=worth)
    package = WorkPackage(code=code, likely_minutes=1000)
    if done:
        package.started_at = begins
        package.remaining_minutes = int(1000 - 1000 * done)
    if done == 1:
        package.finished_at = ends
    return PackageDrift(code, code, package, kept, None, None, None)


def test_the_figures_are_those_of_the_published_example() -> None:
    # General Foundry (Render, Stair and Hanna; network published, budgets and status from memory),
    # in thousands: budget 308; at the end of week 6 planned 162, earned 100. Durations in weeks are
    # 2, 3, 2, 4, 4, 3, 5, 2 and all begin as early as they can.
    full, none = Fraction(1), Fraction(0)
    tenth, fifth = Fraction(1, 10), Fraction(1, 5)
    rows = [
        a_row("A", 22, 0, 2, full), a_row("B", 30, 0, 3, full), a_row("C", 26, 2, 2, full),
        a_row("D", 48, 3, 4, tenth), a_row("E", 56, 4, 4, fifth), a_row("F", 30, 4, 3, fifth),
        a_row("G", 80, 8, 5, none), a_row("H", 16, 13, 2, none),
    ]  # fmt: skip
    found = earned_against(rows, NOW + 6 * 7 * DAY)
    assert found is not None
    value = found.value
    assert [float(v) for v in (value.planned, value.earned, value.budget)] == [162, 100, 308]
    assert found.value.schedule_index == Fraction(100, 162)
    assert found.schedule.earned == 4 + Fraction(10, 36)
    assert float(found.schedule.index or 0) == pytest.approx(0.7130, abs=5e-5)
    assert float(found.schedule.variance) == pytest.approx(-1.722, abs=5e-4)
    assert float(found.schedule.estimate_at_completion or 0) == pytest.approx(21.04, abs=5e-3)
    assert found.ends_at is not None
    assert (found.ends_at - NOW) / (7 * DAY) == pytest.approx(21.04, abs=5e-3)


def test_before_the_baseline_begins_and_without_money_nothing_is_earned(refit: Refit) -> None:
    planned(refit)
    kept(refit)
    assert earned(refit, NOW - DAY) is None
    BaselinePackage.objects.update(budget=None)
    assert earned(refit, NOW + DAY) is None


def test_work_under_way_without_a_report_is_done_as_far_as_its_time_has_passed(
    refit: Refit,
) -> None:
    planned(refit)
    kept(refit)
    refit.packages.filter(code="A").update(started_at=NOW)
    # Weld is worth 300 and lasts from Wednesday 09:00 to Thursday 09:00.
    planned(refit, NOW + timedelta(hours=6))
    found = earned(refit, NOW + timedelta(hours=6))
    assert found is not None
    assert [float(v) for v in (found.value.planned, found.value.earned)] == [75, 75]
    assert found.without_money == 1
    refit.packages.filter(code="A").update(finished_at=NOW + timedelta(hours=6))
    found = earned(refit, NOW + timedelta(hours=6))
    assert found is not None
    assert found.value.earned == 300


def test_what_was_removed_since_is_not_earned(refit: Refit) -> None:
    planned(refit)
    kept(refit)
    remove_row(refit=refit, row=refit.packages.get(code="A"), actor=A_MANAGER, now=NOW)
    planned(refit, NOW + 2 * DAY)
    found = earned(refit, NOW + 2 * DAY)
    assert found is not None
    assert [float(v) for v in (found.value.planned, found.value.earned)] == [300, 0]
    assert found.ends_at is None

"""How sure the launch is: what the runs rest on, what is kept beside a plan, and when."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.test import TestCase
from django.utils import timezone

from refit.interchange.document import RefitDocument
from refit.planning.models import Plan, PlanRisk, PlanState
from refit.planning.risk import RUNS, Weighed, returns_on_record, store_risk, weigh
from refit.planning.risk_lateness import ASSUMED, ENOUGH, Return, last_of_series, lateness_of
from refit.planning.services import replan
from refit.planning.tasks import WEIGHED_WITHIN, weigh_plan, weigh_unweighed
from refit.scheduling.problem import DAY, HOUR
from refit.work.models import Refit
from tests.builders import (
    NOW,
    a_dependency,
    a_handoff,
    a_package,
    a_piece,
    a_place,
    a_refit,
    a_vendor,
)
from tests.planning.documents import (
    MONDAY,
    a_document,
    package,
    piece,
    place,
    solved,
    vendor,
    wait,
)

LOFT = "Brackwater Canvas"
"""Monday to Friday, 08:00 to 17:00."""


def at(day: int, hour: int = 8) -> datetime:
    """``day`` days after Monday 2 November 2026."""
    return MONDAY.replace(hour=hour) + timedelta(days=day)


def weighed(document: RefitDocument, record: dict[str, list[Return]] | None = None) -> Weighed:
    answer = solved(document)
    moment = answer.built.clock.moment
    rows = [
        (p.id, moment(p.start), moment(p.work_finish), moment(p.finish))
        for p in answer.plan.packages
    ]
    found = weigh(document, now=MONDAY, rows=rows, record=record or {})
    assert found is not None
    return found


def by_the_loft(code: str, minutes: int = 540, **fields: Any) -> dict[str, Any]:
    return package(code, minutes, at="Loft", vendor=LOFT, **fields)


def loft_document(*packages: dict[str, Any], **lists: Any) -> RefitDocument:
    lists.setdefault("places", [place("Shed"), place("Loft", vendor=LOFT)])
    return a_document(*packages, vendors=[vendor(LOFT)], **lists)


# What lateness rests on


def test_without_enough_returns_lateness_is_assumed_in_working_days_of_the_shop() -> None:
    document = loft_document(by_the_loft("C1"))
    answer = solved(document)
    few = [Return(at(0), at(30))] * (ENOUGH - 1)
    [late], [basis] = lateness_of(answer.built, answer.plan, {LOFT: few})
    assert late.minutes == tuple(days * 9 * HOUR for days in ASSUMED)
    assert (late.packages, late.fixed_work, basis.returns) == (("C1",), (), 0)


def test_with_enough_returns_their_lateness_in_open_hours_takes_the_place_of_drawn_work() -> None:
    """Due Friday at closing, ready Monday at nine: an hour late. Early is not late. Years ago
    counts as if it were now."""
    document = loft_document(by_the_loft("C1", low_minutes=60, high_minutes=5400))
    answer = solved(document)
    friday, monday = at(4, 17), at(7, 9)
    long_ago = timedelta(weeks=110)
    record = [
        Return(friday, monday),
        Return(friday, at(7, 8)),
        Return(friday, at(3)),
        Return(at(0), at(1)),
        Return(friday - long_ago, monday - long_ago),
    ]
    [late], [basis] = lateness_of(answer.built, answer.plan, {LOFT: record})
    assert late.minutes == (HOUR, 0, 0, 9 * HOUR, HOUR)
    assert (late.fixed_work, basis.returns) == (("C1",), 5)


def test_a_vendor_is_late_once_for_a_series_and_not_for_work_that_is_over() -> None:
    document = loft_document(
        by_the_loft(
            "C1", started_at="2026-10-26T08:00:00+00:00", finished_at="2026-10-26T17:00:00+00:00"
        ),
        by_the_loft("C2", needs=("hood",)),
        by_the_loft("C3", needs=("hood",)),
        by_the_loft("C4", needs=("hood",)),
        by_the_loft("C5"),
        by_the_loft("C6"),
        package("H1", needs=("hood",)),
        pieces=[piece("hood", "Loft")],
        dependencies=[wait("C2", "C3"), wait("C3", "H1"), wait("H1", "C4"), wait("C5", "C6")],
    )
    answer = solved(document)
    [late], _ = lateness_of(answer.built, answer.plan, {})
    assert late.packages == ("C3", "C4", "C6")
    assert list(last_of_series(answer.built.problem, answer.plan, ["C2", "C3"])) == ["C3"]


def test_our_own_crew_is_never_late_only_slow() -> None:
    document = a_document(package("P1", 480, low_minutes=240, high_minutes=960))
    found = weighed(document)
    assert found.bases == ()
    assert found.risk.promises == ()
    assert found.risk.p10 < found.risk.p50 < found.risk.p90


# The runs


def test_a_shop_that_is_always_a_day_late_makes_the_launch_a_day_later_in_every_run() -> None:
    """The loft ends on Monday evening and hands back on Tuesday evening instead; the crew launches
    on Wednesday. Its promise is worth that day."""
    document = loft_document(
        by_the_loft("C1"),
        package("X1", 480, is_launch=True),
        dependencies=[wait("C1", "X1")],
    )
    found = weighed(document, {LOFT: [Return(at(0), at(1))] * ENOUGH})
    clock, risk = found.built.clock, found.risk
    assert clock.moment(risk.planned) == at(1, 16)
    assert {clock.moment(int(m)) for m in risk.finishes} == {at(2, 16)}
    [promise] = risk.promises
    assert (promise.package, promise.vendor, promise.gain, promise.drives) == ("C1", LOFT, DAY, 1)


def test_a_plan_of_another_document_is_not_weighed() -> None:
    document = a_document(package("P1"))
    assert weigh(document, now=MONDAY, rows=[("P9", at(0), at(0), at(0))], record={}) is None


def test_runs_that_last_longer_than_a_year_are_given_more_years() -> None:
    """Planned for 240 days, in bad runs more than twice as long."""
    document = a_document(
        *(
            package(f"P{n}", 60 * 480, low_minutes=60 * 480, high_minutes=300 * 480)
            for n in range(4)
        ),
        dependencies=[wait(f"P{n}", f"P{n + 1}") for n in range(3)],
    )
    found = weighed(document)
    assert found.built.clock.moment(int(found.risk.finishes[-1])) > at(370)


# The record

pytest_db = pytest.mark.django_db


def a_return(
    refit: Refit, name: str, expected: datetime, ready: datetime | None, **fields: Any
) -> None:
    shop = refit.vendors.filter(name=name).first() or a_vendor(refit, name=name)
    origin = shop.places.first() or a_place(refit, vendor=shop)
    home = refit.places.filter(vendor=None).first() or a_place(refit)
    a_handoff(a_piece(refit), origin, home, due_at=expected, ready_at=ready, **fields)


@pytest_db
def test_the_record_knows_a_shop_by_its_name_in_any_refit_and_nobody_elses_returns() -> None:
    one, other = a_refit(), a_refit()
    a_return(one, LOFT, at(0), at(1))
    a_return(other, LOFT.upper(), at(2), at(4))
    a_return(other, "Scoter Coating Works", at(2), at(9))
    a_return(one, LOFT, at(5), None)
    a_return(one, LOFT, at(40), at(50))
    assert returns_on_record([LOFT], before=at(30)) == {
        LOFT: [Return(at(2), at(4)), Return(at(0), at(1))]
    }
    assert returns_on_record(["Gannetry Metalwork"], before=at(30)) == {}


@pytest_db
def test_pieces_ready_together_are_one_return_and_what_was_promised_last_counts() -> None:
    refit = a_refit()
    a_return(refit, LOFT, at(0), at(3, 9))
    a_return(refit, LOFT, at(1), at(3, 15))
    a_return(refit, LOFT, at(0), at(8), promised_at=at(7))
    a_return(refit, LOFT, at(12), None, sent_at=at(13))
    assert returns_on_record([LOFT], before=at(30))[LOFT] == [
        Return(at(12), at(13)),
        Return(at(7), at(8)),
        Return(at(0), at(3, 9)),
    ]


# Beside the plan


def a_planned_refit(**fields: Any) -> tuple[Refit, Plan]:
    refit = a_refit(**fields)
    shop = a_vendor(refit, name=LOFT)
    loft, shed = a_place(refit, vendor=shop), a_place(refit)
    sew = a_package(
        refit, place=loft, vendor=shop, low_minutes=240, likely_minutes=480, high_minutes=2400
    )
    launch = a_package(refit, place=shed, is_launch=True)
    a_dependency(sew, launch)
    plan = replan(refit=refit, now=NOW)
    assert plan is not None
    return refit, plan


@pytest_db
def test_the_answer_is_kept_beside_the_plan_and_the_same_when_asked_again() -> None:
    refit, plan = a_planned_refit(wanted_launch=date(2026, 12, 4))
    made = store_risk(plan)
    assert made is not None
    assert made.runs == RUNS
    assert plan.launch_at is not None
    assert made.p10 <= made.p50 <= made.p80 <= made.p90
    assert made.p10 < made.p90
    assert made.p10 <= made.mean <= made.p90
    assert made.wanted_share is not None
    assert (made.wanted_share >= 0.8) == (refit.local(made.p80).date() <= date(2026, 12, 4))
    sew = refit.packages.get(vendor__isnull=False)
    assert made.promises[0]["code"] == sew.code
    assert made.promises[0]["vendor"] == LOFT
    assert made.drives[sew.code] == 1
    assert made.bases == [{"vendor": LOFT, "returns": 0}]
    before = (made.p10, made.p90, made.promises)
    assert store_risk(plan) == made
    PlanRisk.objects.all().delete()
    again = store_risk(plan)
    assert again is not None
    assert (again.p10, again.p90, again.promises) == before


@pytest_db
def test_the_shops_own_returns_count_as_soon_as_there_are_enough() -> None:
    refit, plan = a_planned_refit()
    for week in range(ENOUGH):
        a_return(refit, LOFT, NOW - timedelta(weeks=week + 1), NOW - timedelta(weeks=week + 1))
    made = store_risk(plan)
    assert made is not None
    assert made.bases == [{"vendor": LOFT, "returns": ENOUGH}]
    # always on time, and its work is not drawn: nothing is unsure any more but our own day
    assert made.promises == []


@pytest_db
def test_a_plan_that_was_replaced_or_has_no_launch_is_left_alone() -> None:
    _, plan = a_planned_refit()
    Plan.objects.filter(pk=plan.pk).update(state=PlanState.EARLIER)
    plan.refresh_from_db()
    assert store_risk(plan) is None
    weigh_plan(plan.pk)
    weigh_plan(4711)
    empty = replan(refit=a_refit(), now=NOW)
    assert empty is not None
    assert store_risk(empty) is None
    assert not PlanRisk.objects.exists()


@pytest_db
def test_what_was_changed_since_does_not_change_what_is_weighed() -> None:
    """The runs are of the document that the plan was made from."""
    refit, plan = a_planned_refit()
    first = store_risk(plan)
    assert first is not None
    PlanRisk.objects.all().delete()
    refit.packages.filter(vendor__isnull=False).update(high_minutes=48_000)
    second = store_risk(plan)
    assert second is not None
    assert second.p90 == first.p90


@pytest_db
def test_a_new_plan_asks_the_worker_once_it_is_stored(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []
    monkeypatch.setattr("refit.planning.tasks.weigh_plan.delay", asked.append)
    with TestCase.captureOnCommitCallbacks(execute=True):
        _, plan = a_planned_refit()
        assert asked == []
    assert asked == [plan.pk]


@pytest_db
def test_the_sweep_weighs_what_nobody_weighed_and_gives_up_in_time() -> None:
    refit, _ = a_planned_refit()
    plan = replan(refit=refit, now=timezone.now())
    assert plan is not None
    made_at = plan.computed_at
    Plan.objects.filter(pk=plan.pk).update(computed_at=made_at - WEIGHED_WITHIN * 2)
    assert weigh_unweighed() == 0
    Plan.objects.filter(pk=plan.pk).update(computed_at=made_at)
    assert weigh_unweighed() == 1
    assert weigh_unweighed() == 0
    assert PlanRisk.objects.get().plan == plan

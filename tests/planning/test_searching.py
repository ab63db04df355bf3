"""Looking for an earlier launch: what is stored, when nothing is, and how a search ends.

With real commits: the heart of a search has a connection of its own.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import time, timedelta
from threading import Thread
from time import monotonic, sleep
from typing import Any

import pytest
from django.db import connection
from django.utils import timezone

from refit.demo.scenario import demo_document
from refit.interchange.store import import_document
from refit.planning.models import LedgerEntry, LedgerKind, Plan, PlanSearch, SearchState
from refit.planning.searching import (
    LEASE,
    TO_BEGIN,
    CannotSearch,
    ask_for_search,
    broke_off,
    bury_dead_searches,
    carry_out,
    stop_search,
)
from refit.planning.services import replan
from refit.planning.tasks import replan_stale
from refit.work.models import THE_SOFTWARE, JournalEntry, OpeningHours, Refit, WorkPackage
from refit.work.services import change_row
from tests.builders import (
    A_MANAGER,
    a_crew_member,
    a_dependency,
    a_package,
    a_place,
    a_refit,
)

pytestmark = pytest.mark.django_db(transaction=True)

WORKS = {"A": 4, "B": 5, "C": 3, "D": 3, "E": 2, "F": 2}
"""Hours, each in one go. A day has eight, and there is one pair of hands: 5 + 3, 4 + 2 + 2, then 3
and the launch waste nothing, so that it is over at 12:00 on the third day, and no plan ends before
(nineteen hours and one). The rules waste an hour of one of the days."""


@pytest.fixture
def refit() -> Refit:
    """Planned; the launch (an hour) waits for everything. It begins in three days' time."""
    refit = a_refit(start=timezone.localdate() + timedelta(days=3))
    shed = a_place(refit, name="Shed", hours=False)
    for day in range(7):
        OpeningHours.objects.create(place=shed, weekday=day, opens=time(8), closes=time(16))
    a_crew_member(refit, name="Odd")
    launch = a_package(
        refit, code="L", title="Launch", place=shed, minutes=60, is_launch=True, helpers=1
    )
    for code, hours in WORKS.items():
        row = a_package(refit, code=code, place=shed, minutes=hours * 60, unbroken=True, helpers=1)
        a_dependency(row, launch, reason="all of it first")
    assert replan(refit=refit, now=timezone.now()) is not None
    return refit


def current(refit: Refit) -> Plan:
    plan = Plan.objects.current(refit)
    assert plan is not None
    return plan


def asked(refit: Refit, seconds: int = 10) -> PlanSearch:
    return ask_for_search(refit=refit, seconds=seconds, actor=A_MANAGER, now=timezone.now())


def ended(search: PlanSearch) -> PlanSearch:
    search.refresh_from_db()
    assert not search.is_live
    assert search.ended_at is not None
    return search


def wait_for(condition: Callable[[], bool], what: str) -> None:
    until = monotonic() + 60
    while not condition():
        assert monotonic() < until, f"{what} takes too long"
        sleep(0.05)


def starts(plan: Plan) -> dict[str, Any]:
    return dict(plan.packages.values_list("package__code", "start"))


def test_an_order_that_no_rule_finds_is_stored_and_told(refit: Refit) -> None:
    before = current(refit)
    search = asked(refit)
    assert (search.state, search.launch_before) == (SearchState.WAITING, before.launch_at)
    carry_out(search.pk)
    search, after = ended(search), current(refit)
    assert search.state == SearchState.FOUND
    assert search.plan_after == after
    assert after.refit_version == refit.version
    assert before.launch_at is not None
    assert after.launch_at is not None
    assert before.launch_at - after.launch_at == timedelta(hours=1)
    assert refit.local(after.launch_at).hour == 12
    assert (search.launch_at, search.proved) == (after.launch_at, True)
    old, new = starts(before), starts(after)
    assert {row["code"] for row in search.moved} == {c for c in old if old[c] != new[c]}
    last = LedgerEntry.objects.last_of(refit)
    assert last is not None
    assert (last.kind, last.launch_after) == (LedgerKind.PLANNER, after.launch_at)
    entry = JournalEntry.objects.filter(refit=refit, verb="asked").get()
    assert entry.actor_name == A_MANAGER.name


def test_what_was_found_stays_when_the_plan_is_made_anew(refit: Refit) -> None:
    carry_out(asked(refit).pk)
    found = current(refit)
    again = replan(refit=refit, now=timezone.now())
    assert again is not None
    assert starts(again) == starts(found)
    # Half an hour less of one package: everybody else keeps the day and the order they were told.
    row = WorkPackage.objects.get(refit=refit, code="C")
    change_row(
        refit=refit,
        row=row,
        facts={"low_minutes": 150, "likely_minutes": 150},
        actor=A_MANAGER,
        now=timezone.now(),
    )
    later = replan(refit=refit, now=timezone.now())
    assert later is not None
    assert found.launch_at is not None
    assert later.launch_at is not None
    assert later.launch_at <= found.launch_at
    days = {code: refit.local(at).date() for code, at in starts(found).items()}
    assert {code: refit.local(at).date() for code, at in starts(later).items()} == days


def test_a_plan_that_is_the_best_stays_and_that_is_said(refit: Refit) -> None:
    carry_out(asked(refit).pk)
    best = current(refit)
    search = asked(refit)
    carry_out(search.pk)
    search = ended(search)
    assert (search.state, search.proved) == (SearchState.NOTHING, True)
    assert (search.launch_at, search.plan_after) == (best.launch_at, None)
    assert current(refit) == best


def test_a_refit_that_was_changed_keeps_the_plan_that_follows_from_the_change(
    refit: Refit,
) -> None:
    search = asked(refit)
    row = WorkPackage.objects.get(refit=refit, code="C")
    change_row(refit=refit, row=row, facts={"scope": "more"}, actor=A_MANAGER, now=timezone.now())
    before = current(refit)
    carry_out(search.pk)
    assert ended(search).state == SearchState.OVERTAKEN
    assert current(refit) == before


def test_a_plan_made_in_between_is_not_replaced(refit: Refit) -> None:
    search = asked(refit)
    between = replan(refit=refit, now=timezone.now())
    carry_out(search.pk)
    assert ended(search).state == SearchState.OVERTAKEN
    assert current(refit) == between


def test_one_search_at_a_time_carried_out_once(refit: Refit) -> None:
    search = asked(refit)
    assert asked(refit, 60) == search
    carry_out(search.pk)
    plans = Plan.objects.filter(refit=refit).count()
    carry_out(search.pk)
    assert Plan.objects.filter(refit=refit).count() == plans


def test_one_that_waits_can_be_taken_back(refit: Refit) -> None:
    search = asked(refit)
    stop_search(refit=refit, now=timezone.now())
    assert ended(search).state == SearchState.NOTHING
    before = current(refit)
    carry_out(search.pk)
    assert current(refit) == before


def test_one_that_runs_tells_how_far_it_is_and_stops_when_asked() -> None:
    now = timezone.now()
    refit = import_document(demo_document(now), actor=THE_SOFTWARE, now=now)
    assert replan(refit=refit, now=now) is not None
    search = asked(refit, 180)

    def work() -> None:
        carry_out(search.pk)
        connection.close()

    thread = Thread(target=work)
    thread.start()

    def is_on_its_way() -> bool:
        search.refresh_from_db()
        return search.bound_at is not None

    wait_for(is_on_its_way, "the first progress")
    assert search.state == SearchState.RUNNING
    assert search.bound_at is not None
    assert search.bound_at <= search.launch_at <= search.launch_before
    assert search.lease_until > timezone.now()
    stop_search(refit=refit, now=timezone.now())
    thread.join(60)
    assert not thread.is_alive()
    search = ended(search)
    assert search.state in (SearchState.FOUND, SearchState.NOTHING)
    assert search.seconds < 60


def test_one_whose_lease_has_run_out_is_said_to_have_broken_off(refit: Refit) -> None:
    search = asked(refit)
    PlanSearch.objects.filter(pk=search.pk).update(
        state=SearchState.RUNNING, lease_until=timezone.now() - LEASE
    )
    before = current(refit)
    replan_stale()
    search = ended(search)
    assert search.state == SearchState.DIED
    assert "in the middle" in search.said
    assert current(refit) == before
    carry_out(search.pk)  # the message comes again: it is not taken up a second time
    assert current(refit) == before
    assert asked(refit).state == SearchState.WAITING


def test_one_that_nobody_takes_up_says_so(refit: Refit) -> None:
    search = asked(refit)
    assert bury_dead_searches(now=timezone.now()) == 0
    assert bury_dead_searches(now=timezone.now() + TO_BEGIN * 2) == 1
    assert "Nobody took it up" in ended(search).said


def test_a_process_that_is_gone_ends_its_search_and_no_other(refit: Refit) -> None:
    search = asked(refit)
    broke_off(search.pk, now=timezone.now())
    assert ended(search).state == SearchState.DIED
    other = asked(refit)
    carry_out(other.pk)
    broke_off(other.pk, now=timezone.now())
    assert ended(other).state == SearchState.FOUND


def test_without_a_plan_or_with_a_stale_one_there_is_nothing_to_start_from(refit: Refit) -> None:
    with pytest.raises(CannotSearch, match="no plan yet"):
        asked(a_refit())
    row = WorkPackage.objects.get(refit=refit, code="C")
    change_row(refit=refit, row=row, facts={"scope": "more"}, actor=A_MANAGER, now=timezone.now())
    with pytest.raises(CannotSearch, match="as it is now"):
        asked(refit)

"""The delay ledger: what moved the launch, and that the entries are the drift."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refit.custody.models import Handoff
from refit.custody.services import promise, say_ready
from refit.demo.scenario import demo_document
from refit.interchange.export import export_refit
from refit.planning import ledger_book
from refit.planning.ledger_changes import LISTS, apply_changes, differences
from refit.planning.ledger_reading import Ledger, read_ledger
from refit.planning.ledger_sources import keep_source, source_of
from refit.planning.models import LedgerEntry, LedgerKind, Plan, PlanSource
from refit.planning.services import replan
from refit.planning.tasks import replan_stale, tell_ledger_apart
from refit.quality.models import Finding
from refit.work.models import (
    Actor,
    CrewMember,
    Dependency,
    PieceUse,
    Place,
    Refit,
    WorkPackage,
    record,
)
from refit.work.services import (
    add_row,
    change_row,
    finish_package,
    remove_row,
    report_progress,
    start_package,
)
from tests.builders import (
    A_MANAGER,
    NOW,
    a_crew_member,
    a_dependency,
    a_package,
    a_piece,
    a_place,
    a_refit,
    a_vendor,
)

pytestmark = pytest.mark.django_db

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
A_VENDOR = Actor(name="Coater Hollin", side="vendor")


@pytest.fixture
def refit() -> Refit:
    """Coat at the coater's (2 days), then fit at home (1 day); and paint, which has time."""
    refit = a_refit()
    booth = a_place(refit, name="Booth", vendor=a_vendor(refit, name="Coater Hollin"))
    shed = a_place(refit, name="Shed", kind="home")
    coat = a_package(
        refit, code="C1", title="Coat", place=booth, vendor=booth.vendor, minutes=2 * 540
    )
    fit = a_package(refit, code="F1", title="Fit", place=shed, minutes=540, is_launch=True)
    a_package(refit, code="P1", title="Paint", place=shed, minutes=60)
    a_dependency(coat, fit)
    return refit


def replanned(refit: Refit, now: datetime) -> Plan:
    """The new plan, with its part of the ledger told apart."""
    plan = replan(refit=refit, now=now)
    assert plan is not None
    for entry in LedgerEntry.objects.filter(kind=LedgerKind.PENDING):
        tell_ledger_apart(entry.pk)
    return plan


def package(refit: Refit, code: str) -> WorkPackage:
    return refit.packages.get(code=code)


def change(refit: Refit, code: str, now: datetime, actor: Actor = A_MANAGER, **facts: Any) -> None:
    row = package(refit, code)
    change_row(refit=refit, row=row, facts=facts, actor=actor, now=now)


def ledger(refit: Refit) -> Ledger:
    found = read_ledger(refit)
    assert found is not None
    return found


def kinds(refit: Refit) -> list[str]:
    return [line.entry.kind for line in ledger(refit).lines]


def test_the_first_plan_opens_the_ledger_and_moves_nothing(refit: Refit) -> None:
    plan = replanned(refit, NOW)
    [entry] = LedgerEntry.objects.all()
    assert (entry.kind, entry.launch_after, entry.plan) == ("opened", plan.launch_at, plan)
    assert ledger(refit).lines == []
    assert ledger(refit).drift.said == "no change"


def test_a_plan_that_leaves_the_launch_writes_nothing(refit: Refit) -> None:
    replanned(refit, NOW)
    change(refit, "P1", NOW, likely_minutes=120, high_minutes=120)
    replanned(refit, NOW)
    assert ledger(refit).lines == []


def test_a_vendors_promise_is_booked_to_the_vendor(refit: Refit) -> None:
    first = replanned(refit, NOW)
    # Coat ends Friday 27 Nov 09:00 by plan; promised for Tuesday 1 Dec 09:00, two working days on.
    promised = datetime.fromisoformat("2026-12-01T09:00+00:00")
    change_row(
        refit=refit, row=package(refit, "C1"), facts={"promised": promised}, verb="promised",
        actor=A_VENDOR, now=NOW + timedelta(seconds=30),
    )  # fmt: skip
    second = replanned(refit, NOW + timedelta(seconds=30))
    [line] = ledger(refit).lines
    assert line.entry.kind == LedgerKind.PROMISE
    assert (line.entry.party, line.entry.actor) == ("Coater Hollin", "Coater Hollin")
    assert line.entry.package == package(refit, "C1")
    assert line.entry.said == ("Coater Hollin promised C1 Coat: Tue 1 Dec 09:00")
    assert (line.entry.launch_before, line.entry.launch_after) == (
        first.launch_at,
        second.launch_at,
    )
    assert line.moved.working_days == 2
    assert line.moved.calendar_days == 2
    assert line.moved.said == "2 working days later"


def test_time_that_passes_is_booked_to_the_unfinished_package_of_the_chain(refit: Refit) -> None:
    replanned(refit, NOW)
    replanned(refit, NOW + DAY)
    [line] = ledger(refit).lines
    assert (line.entry.kind, line.entry.party) == (LedgerKind.TIME, "Coater Hollin")
    assert line.entry.said == "time passed, and C1 Coat was not reported as begun"
    assert line.entry.package == package(refit, "C1")
    assert line.moved.working == 540


def test_time_and_a_change_in_one_window_are_told_apart(refit: Refit) -> None:
    replanned(refit, NOW)
    change(refit, "F1", NOW + DAY, likely_minutes=1080, high_minutes=1080)
    replanned(refit, NOW + DAY)
    time, edit = ledger(refit).lines
    assert (time.entry.kind, time.moved.working) == (LedgerKind.TIME, 540)
    assert (edit.entry.kind, edit.moved.working) == (LedgerKind.SCOPE, 540)
    assert edit.entry.said == (
        "Runa Ostlund changed F1 Fit: 2 days 2 h of work instead of 1 day 1 h"
    )
    assert edit.entry.journal is not None
    assert edit.total == ledger(refit).drift


def test_several_changes_are_booked_each_in_the_order_of_the_journal(refit: Refit) -> None:
    replanned(refit, NOW)
    soon = NOW + timedelta(seconds=20)
    change(refit, "F1", soon, likely_minutes=1080, high_minutes=1080)
    shed = Place.objects.get(name="Shed")
    shut = {"closures": [["2026-11-30", "2026-12-01", "frost"]]}
    change_row(refit=refit, row=shed, facts=shut, actor=A_MANAGER, now=soon)
    change(refit, "C1", soon, likely_minutes=540, low_minutes=540, high_minutes=540)
    replanned(refit, soon)
    lines = ledger(refit).lines
    assert [line.entry.kind for line in lines] == ["scope", "hours", "scope"]
    # Coat Wed 09:00 to Fri 09:00, fit to Mon 09:00. Two days of fitting: to Tue 1 Dec 09:00. Mon
    # and Tue shut: to Thu 3 Dec 09:00. A day less of coating: to Wed 2 Dec 09:00. Measured in the
    # hours as they are now, Mon and Tue are no working time.
    assert [line.moved.calendar_days for line in lines] == [1, 2, -1]
    assert [line.moved.working for line in lines] == [0, 600, -540]
    assert lines[0].moved.said == "1 day later, none of them a working day"
    assert lines[1].entry.party == "our crew"
    assert "shut Mon 30 Nov to Tue 1 Dec" in lines[1].entry.said
    assert lines[2].moved.elapsed < 0
    assert lines[-1].total == ledger(refit).drift


def test_a_finding_that_became_a_package_is_booked_as_such(refit: Refit) -> None:
    replanned(refit, NOW)
    Finding.objects.create(refit=refit, code="N1", title="Soft core", found_at=NOW)
    row = WorkPackage(refit=refit)
    facts = {
        "code": "N1", "title": "Repair: soft core", "place": Place.objects.get(name="Shed").pk,
        "low_minutes": 540, "likely_minutes": 540, "high_minutes": 540,
    }  # fmt: skip
    add_row(refit=refit, row=row, facts=facts, actor=A_MANAGER, now=NOW + timedelta(seconds=9))
    link = Dependency(refit=refit)
    facts = {"before": package(refit, "C1").pk, "after": row.pk, "reason": "coat first"}
    add_row(refit=refit, row=link, facts=facts, actor=A_MANAGER, now=NOW + timedelta(seconds=10))
    link = Dependency(refit=refit)
    facts = {"before": row.pk, "after": package(refit, "F1").pk, "reason": "core before fitting"}
    add_row(refit=refit, row=link, facts=facts, actor=A_MANAGER, now=NOW + timedelta(seconds=11))
    replanned(refit, NOW + timedelta(seconds=11))
    assert kinds(refit) == [LedgerKind.ORDER]
    [line] = ledger(refit).lines
    assert line.entry.package == package(refit, "F1")
    remove_row(refit=refit, row=row, actor=A_MANAGER, now=NOW + timedelta(seconds=15))
    replanned(refit, NOW + timedelta(seconds=15))
    # The dependencies went with the package; one entry, and back where it was.
    assert kinds(refit) == [LedgerKind.ORDER, LedgerKind.SCOPE]
    assert ledger(refit).drift.elapsed == 0


def test_a_finding_that_drives_the_launch_is_named_as_a_finding(refit: Refit) -> None:
    replanned(refit, NOW)
    Finding.objects.create(refit=refit, code="N1", title="Soft core", found_at=NOW)
    fit = package(refit, "F1")
    fit.is_launch = False
    fit.save()
    replanned(refit, NOW)
    row = WorkPackage(refit=refit)
    facts = {
        "code": "N1", "title": "Repair: soft core", "place": Place.objects.get(name="Shed").pk,
        "low_minutes": 5400, "likely_minutes": 5400, "high_minutes": 5400,
    }  # fmt: skip
    add_row(refit=refit, row=row, facts=facts, actor=A_MANAGER, now=NOW)
    replanned(refit, NOW)
    line = ledger(refit).lines[-1]
    assert line.entry.kind == LedgerKind.FINDING
    assert line.entry.said == "Runa Ostlund added N1 Repair: soft core"


def test_reports_of_progress_are_booked_as_progress(refit: Refit) -> None:
    replanned(refit, NOW)
    start_package(package=package(refit, "C1"), at=NOW, actor=A_MANAGER, now=NOW + 4 * HOUR)
    replanned(refit, NOW + 4 * HOUR)
    # Begun when planned: the launch stands, whatever it looked like before somebody said so.
    assert kinds(refit) == []
    report_progress(
        package=package(refit, "C1"), remaining_minutes=3 * 540, actor=A_MANAGER,
        now=NOW + 4 * HOUR + timedelta(seconds=30),
    )  # fmt: skip
    replanned(refit, NOW + 4 * HOUR + timedelta(seconds=30))
    [line] = ledger(refit).lines
    assert (line.entry.kind, line.entry.party) == (LedgerKind.PROGRESS, "Coater Hollin")
    assert line.entry.said == "Runa Ostlund reported C1 Coat: 3 days 3 h left"


def test_work_that_ends_early_moves_the_launch_earlier(refit: Refit) -> None:
    replanned(refit, NOW)
    at = NOW + 2 * HOUR
    finish_package(
        package=package(refit, "C1"), started_at=NOW, at=at, actor=A_MANAGER, now=at
    )  # fmt: skip
    replanned(refit, at)
    lines = ledger(refit).lines
    assert lines[-1].entry.kind == LedgerKind.PROGRESS
    assert lines[-1].moved.elapsed < 0
    assert lines[-1].total == ledger(refit).drift


def test_a_promise_from_the_vendors_page_is_one_entry(refit: Refit) -> None:
    frame = a_piece(refit, name="Frame", place=Place.objects.get(name="Booth"))
    for code in ("C1", "F1"):
        PieceUse.objects.create(package=package(refit, code), piece=frame)
    replanned(refit, NOW)
    handoff = Handoff.objects.get()
    now = NOW + timedelta(seconds=30)
    promise(handoff=handoff, at=NOW + 7 * DAY, actor=A_VENDOR, now=now)
    replanned(refit, now)
    [line] = ledger(refit).lines
    assert (line.entry.kind, line.entry.party) == (LedgerKind.PROMISE, "Coater Hollin")
    assert line.entry.said.startswith("Coater Hollin promised Frame, Booth to Shed: Wed 2 Dec")
    assert line.entry.package == package(refit, "C1")
    say_ready(handoff=handoff, actor=A_VENDOR, now=now + HOUR)
    replanned(refit, now + HOUR)
    line = ledger(refit).lines[-1]
    assert (line.entry.kind, line.entry.party) == (LedgerKind.PROGRESS, "Coater Hollin")
    assert line.entry.said == "Coater Hollin said ready Frame, Booth to Shed"
    assert line.moved.elapsed < 0
    assert line.total == ledger(refit).drift


def test_an_import_is_one_entry_whatever_it_changed(refit: Refit) -> None:
    replanned(refit, NOW)
    row = WorkPackage.objects.create(
        refit=refit, code="N1", title="New", place=Place.objects.get(name="Shed"),
        low_minutes=540, likely_minutes=540, high_minutes=540,
    )  # fmt: skip
    a_dependency(row, package(refit, "F1"))
    a_dependency(package(refit, "C1"), row)
    package(refit, "F1").people.set([a_crew_member(refit, name="Odd")])
    record(
        refit=refit, actor=A_MANAGER, now=NOW, verb="imported",
        subject_name="sheets: 1 package new",
        after={"packages": {"N1": {"title": "New"}}},
    )  # fmt: skip
    replanned(refit, NOW)
    [line] = ledger(refit).lines
    assert line.entry.kind == LedgerKind.SHEETS
    assert line.entry.said == "Runa Ostlund imported sheets: 1 package new"
    assert line.entry.party == ""


def test_without_the_document_of_the_plan_before_the_journal_is_named(refit: Refit) -> None:
    replanned(refit, NOW)
    PlanSource.objects.all().delete()
    change(refit, "F1", NOW + DAY, likely_minutes=1080, high_minutes=1080)
    replanned(refit, NOW + DAY)
    [line] = ledger(refit).lines
    assert line.entry.kind == LedgerKind.SEVERAL
    assert line.entry.said == "Runa Ostlund changed F1 Fit"
    assert line.total == ledger(refit).drift


def test_a_document_from_before_something_was_added_is_brought_up_to_date(refit: Refit) -> None:
    plan = replanned(refit, NOW)
    kept: Any = source_of(plan)
    for row in kept["packages"]:
        del row["takes_bay"]
    kept["places"][0]["no longer known"] = 1
    PlanSource.objects.all().delete()
    keep_source(plan, kept)
    assert source_of(plan) == export_refit(refit)
    PlanSource.objects.all().delete()
    keep_source(plan, kept | {"packages": [{}]})
    assert source_of(plan) is None


def test_a_change_that_the_journal_does_not_know_is_owned_up_to(refit: Refit) -> None:
    replanned(refit, NOW)
    WorkPackage.objects.filter(code="F1").update(likely_minutes=1080, high_minutes=1080)
    replanned(refit, NOW)
    [line] = ledger(refit).lines
    assert line.entry.said == "something changed that the journal does not tell"
    assert line.entry.actor == ""


def test_a_window_that_takes_long_is_told_apart_by_the_worker(refit: Refit, settings: Any) -> None:
    first = replanned(refit, NOW)
    Plan.objects.filter(pk=first.pk).update(seconds=60)
    change(refit, "F1", NOW + DAY, likely_minutes=1080, high_minutes=1080)
    assert replan(refit=refit, now=NOW + DAY) is not None
    assert kinds(refit) == [LedgerKind.PENDING]
    drift = ledger(refit).drift
    [entry] = LedgerEntry.objects.filter(kind=LedgerKind.PENDING)
    tell_ledger_apart(entry.pk)
    assert kinds(refit) == [LedgerKind.TIME, LedgerKind.SCOPE]
    tell_ledger_apart(entry.pk)
    assert kinds(refit) == [LedgerKind.TIME, LedgerKind.SCOPE]
    assert ledger(refit).drift == drift == ledger(refit).lines[-1].total


def test_the_sweep_tells_apart_what_its_own_task_forgot(refit: Refit) -> None:
    first = replanned(refit, NOW)
    Plan.objects.filter(pk=first.pk).update(seconds=60)
    change(refit, "F1", NOW + DAY, likely_minutes=1080, high_minutes=1080)
    replan(refit=refit, now=NOW + DAY)
    LedgerEntry.objects.filter(kind=LedgerKind.PENDING).update(at=NOW - DAY)
    replan_stale()
    assert LedgerKind.PENDING not in kinds(refit)


def test_other_refits_have_ledgers_of_their_own(refit: Refit) -> None:
    replanned(refit, NOW)
    replanned(refit, NOW + DAY)
    assert read_ledger(a_refit()) is None


def test_reading_takes_as_many_queries_for_many_entries(refit: Refit) -> None:
    for days in range(4):
        replanned(refit, NOW + days * DAY)
    with CaptureQueriesContext(connection) as queries:
        found = ledger(refit)
    # Three plans say the same of the same package: one line.
    [line] = found.lines
    assert (line.times, line.launch_before) == (3, found.launch_from)
    assert line.moved == line.total == found.drift
    assert [share.entries for share in found.by_party] == [3]
    assert len(queries) <= 4


def test_a_plan_that_moves_nothing_costs_three_queries_more(refit: Refit) -> None:
    plan = replanned(refit, NOW)
    solved: Any = type("Solved", (), {"built": type("Built", (), {"document": {}})})
    PlanSource.objects.all().delete()
    with CaptureQueriesContext(connection) as queries:
        ledger_book.book(refit=refit, plan=plan, solved=solved, booked=[])
    assert len(queries) <= 3


def test_the_differences_of_two_documents_turn_one_into_the_other() -> None:
    before, after = demo_document(NOW), demo_document(NOW + 30 * DAY)
    after["packages"] = after["packages"][3:]
    after["refit"]["hours_a_day"] = "7"
    after["driving"]["tow_speed"] = 55
    made: Any = apply_changes(before, differences(before, after))
    wanted: Any = after
    compared = {"refit", "driving", *LISTS}
    for name in wanted:
        if name == "handoffs":  # planned ones follow from the plan
            rows = [[h for h in d[name] if h["state"] != "planned"] for d in (made, wanted)]
        else:
            rows = [made[name], wanted[name]]
        if isinstance(rows[0], list):
            rows = [sorted(map(repr, some)) for some in rows]
        # What no plan depends on is left out: the boat's own data, papers, survey, quality.
        assert name not in compared or rows[0] == rows[1], name
    assert before == demo_document(NOW)
    assert differences(before, before) == []


# Whatever is done, the ledger is the drift

Act = Callable[[Refit, int, datetime], None]


def _longer(refit: Refit, number: int, now: datetime) -> None:
    row = refit.packages.order_by("code")[number % refit.packages.count()]
    minutes = 60 * (1 + number % 40)
    facts = {"low_minutes": 60, "likely_minutes": minutes, "high_minutes": minutes}
    change_row(refit=refit, row=row, facts=facts, actor=A_MANAGER, now=now)


def _promise(refit: Refit, number: int, now: datetime) -> None:
    row = refit.packages.get(code="C1")
    promised = now.replace(minute=0) + number * HOUR
    change_row(
        refit=refit, row=row, facts={"promised": promised}, actor=A_VENDOR, now=now,
        verb="promised",
    )  # fmt: skip


def _shut(refit: Refit, number: int, now: datetime) -> None:
    row = refit.places.order_by("name")[number % 2]
    first = date(2026, 11, 26) + timedelta(days=number % 9)
    days = [[first.isoformat(), (first + timedelta(days=number % 4)).isoformat(), ""]]
    change_row(refit=refit, row=row, facts={"closures": days}, actor=A_MANAGER, now=now)


def _book(refit: Refit, number: int, now: datetime) -> None:
    row = refit.packages.get(code="F1")
    at = datetime(2026, 11, 30, 8, tzinfo=NOW.tzinfo) + timedelta(days=number % 12)
    booking = {"kind": "not before", "at": at.isoformat(), "agreed_with": "", "note": ""}
    change_row(
        refit=refit, row=row, facts={"booking": booking if number % 5 else None},
        actor=A_MANAGER, now=now,
    )  # fmt: skip


def _add(refit: Refit, number: int, now: datetime) -> None:
    row = WorkPackage(refit=refit)
    code = f"X{refit.packages.count()}-{number}-{now:%d%H%M%S%f}"[:20]
    facts = {
        "code": code, "title": "More", "place": refit.places.get(name="Shed").pk,
        "low_minutes": 30, "likely_minutes": 30 * (1 + number % 20), "high_minutes": 6000,
    }  # fmt: skip
    add_row(refit=refit, row=row, facts=facts, actor=A_MANAGER, now=now)
    link = Dependency(refit=refit)
    ends = {"before": row.pk, "after": refit.packages.get(code="F1").pk, "reason": "first"}
    add_row(refit=refit, row=link, facts=ends, actor=A_MANAGER, now=now)


def _drop(refit: Refit, number: int, now: datetime) -> None:
    rows = list(refit.packages.filter(title="More"))
    if rows:
        remove_row(refit=refit, row=rows[number % len(rows)], actor=A_MANAGER, now=now)


def _rename(refit: Refit, number: int, now: datetime) -> None:
    row = refit.packages.get(title="Paint")
    facts = {"code": f"P{number}", "likely_minutes": 60 + number, "high_minutes": 600}
    change_row(refit=refit, row=row, facts=facts, actor=A_MANAGER, now=now)


def _hire(refit: Refit, number: int, now: datetime) -> None:
    row = CrewMember(refit=refit)
    facts = {"name": f"Hand {number} {now:%H%M%S%f}", "skills": ""}
    add_row(refit=refit, row=row, facts=facts, actor=A_MANAGER, now=now)


def _wait(refit: Refit, number: int, now: datetime) -> None:
    """Nothing but time."""


ACTS: list[Act] = [_longer, _promise, _shut, _book, _add, _drop, _rename, _hire, _wait]


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(
    windows=st.lists(
        st.lists(
            st.tuples(st.sampled_from(ACTS), st.integers(0, 200), st.integers(0, 900)), max_size=4
        ),
        min_size=1,
        max_size=4,
    )
)
def test_the_sum_of_the_ledger_is_the_drift(
    windows: list[list[tuple[Act, int, int]]],
) -> None:
    refit = a_refit()
    booth = a_place(refit, name="Booth", vendor=a_vendor(refit, name="Coater Hollin"))
    shed = a_place(refit, name="Shed", kind="home")
    a_crew_member(refit)
    coat = a_package(refit, code="C1", title="Coat", place=booth, vendor=booth.vendor)
    fit = a_package(refit, code="F1", title="Fit", place=shed, helpers=1, is_launch=True)
    a_package(refit, code="P1", title="Paint", place=shed, helpers=1, minutes=60)
    a_dependency(coat, fit)
    now = NOW
    first = replanned(refit, now)
    last = first
    for acts in windows:
        for act, number, minutes in acts:
            now += timedelta(minutes=minutes)
            act(refit, number, now)
        now += timedelta(minutes=7)
        last = replanned(refit, now)
    assert first.launch_at is not None
    assert last.launch_at is not None
    found = ledger(refit)
    entries = [line.entry for line in found.lines]
    assert LedgerKind.PENDING not in {entry.kind for entry in entries}
    drift = last.launch_at - first.launch_at
    stored = LedgerEntry.objects.filter(refit=refit)
    assert sum((e.launch_after - e.launch_before for e in stored), timedelta()) == drift
    assert found.drift.elapsed == drift // timedelta(minutes=1)
    assert all(line.moved.elapsed for line in found.lines)
    for measure in ("elapsed", "working", "working_days", "calendar_days"):
        parts = sum(getattr(line.moved, measure) for line in found.lines)
        assert parts == getattr(found.drift, measure)
        for shares in (found.by_party, found.by_kind):
            assert sum(getattr(share.moved, measure) for share in shares) == parts

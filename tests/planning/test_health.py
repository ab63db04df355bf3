"""The checks of plan health, each on a plan that has the fault and on one that has not."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest

from refit.interchange.document import RefitDocument
from refit.planning.health import FEW, BaselineLine, Check, Facts, Line
from refit.planning.health_checks import check_health
from refit.planning.ledger import dates_of

from .documents import MONDAY, a_document, booking, crew, package, solved, vendor, wait

DAY = timedelta(days=1)
MINE: dict[str, Any] = {"people": ["Odd"], "low_minutes": 60, "high_minutes": 99_999}


def job(code: str, minutes: int = 480, **fields: Any) -> dict[str, Any]:
    """A package with which nothing is wrong by itself."""
    return package(code, minutes, **(MINE | {"low_minutes": min(60, minutes)} | fields))


def facts(document: RefitDocument, now: datetime = MONDAY, **more: Any) -> Facts:
    plan = solved(document, MONDAY)
    lines = {
        code: Line(code, start, work, finish, plan.answers[code].slip)
        for code, start, work, finish in dates_of(plan)
    }
    given: dict[str, Any] = {"driving": plan.driving, "baseline": None} | more
    return Facts(built=plan.built, lines=lines, now=now, **given)


def checked(document: RefitDocument, title: str, now: datetime = MONDAY, **more: Any) -> Check:
    health = check_health(facts(document, now, **more))
    [check] = [check for check in health.checks if check.title.startswith(title)]
    return check


def codes(check: Check) -> list[str]:
    return [one.code for one in check.found]


def a_sound_document(**lists: Any) -> RefitDocument:
    """A, then B, then the launch L."""
    return a_document(
        job("A"), job("B"), job("L", is_launch=True),
        **{"crew": [crew("Odd")], "dependencies": [wait("A", "B"), wait("B", "L")]} | lists,
    )  # fmt: skip


def test_a_sound_plan_asks_for_nothing_but_a_baseline() -> None:
    health = check_health(facts(a_sound_document()))
    assert [check.title for check in health.open] == [
        "It waits for nothing",
        "A baseline to compare with",
    ]
    assert codes(health.open[0]) == ["A"]
    assert len(health.checks) == len(health.open) + len(health.good) == 14


def test_what_nothing_waits_for_is_named() -> None:
    document = a_sound_document(dependencies=[wait("A", "L")])
    check = checked(document, "Nothing waits for it")
    assert codes(check) == ["B"]
    assert check.said == "1 of 2 packages"
    assert not check.is_good


def test_after_the_launch_the_work_may_end() -> None:
    document = a_document(
        job("A"), job("L", is_launch=True), job("Z"), crew=[crew("Odd")],
        dependencies=[wait("A", "L"), wait("L", "Z")],
    )  # fmt: skip
    assert checked(document, "Nothing waits for it").said == "none of 1 package"


def test_what_waits_for_nothing_is_named_until_it_has_begun() -> None:
    assert codes(checked(a_sound_document(dependencies=[]), "It waits")) == ["A", "B", "L"]
    document = a_document(
        job("A", started_at="2026-11-02T07:00:00+00:00"), job("L", is_launch=True),
        crew=[crew("Odd")], dependencies=[wait("A", "L")],
    )  # fmt: skip
    assert codes(checked(document, "It waits")) == []


def test_overlaps_and_lags_and_other_relations_are_named() -> None:
    document = a_sound_document(
        dependencies=[
            wait("A", "B", min_lag_minutes=-120),
            wait("B", "L", min_lag_minutes=2880),
            wait("A", "L", relation="start-to-start"),
        ]
    )
    overlap = checked(document, "It begins before")
    assert [(one.code, one.said) for one in overlap.found] == [("B", "overlaps A")]
    lag = checked(document, "Waiting time")
    assert [(one.code, one.said) for one in lag.found] == [("L", "2 days after B")]
    assert lag.said == "1 of 3 dependencies"
    relation = checked(document, "Tied by its start")
    assert [(one.code, one.said) for one in relation.found] == [("L", "start-to-start with A")]


def test_a_hold_is_no_lag() -> None:
    document = a_document(
        job("A", hold_minutes=2880), job("L", is_launch=True),
        crew=[crew("Odd")], dependencies=[wait("A", "L")],
    )  # fmt: skip
    assert codes(checked(document, "Waiting time")) == []


def test_a_booking_is_a_fixed_date_unless_it_is_only_not_before() -> None:
    fixed = a_sound_document(bookings=[booking("B", "2026-11-09T08:00:00+00:00")])
    check = checked(fixed, "Fixed to a date")
    assert [(one.code, one.said) for one in check.found] == [("B", "booked for Mon 9 Nov 08:00")]
    loose = a_sound_document(bookings=[booking("B", "2026-11-09T08:00:00+00:00", "not before")])
    assert codes(checked(loose, "Fixed to a date")) == []


def test_a_very_long_slip_is_named() -> None:
    document = a_document(
        job("A"), job("B", 40_000, at="Loft"), job("L", is_launch=True),
        crew=[crew("Odd")], dependencies=[wait("A", "L"), wait("B", "L")],
        places=[*a_document()["places"], a_document()["places"][0] | {"name": "Loft"}],
    )  # fmt: skip
    # B takes 40,000 min = 74 days of 9 h; A one of them: A may slip about 14 weeks.
    document["packages"][1]["people"] = []
    document["packages"][2]["people"] = []
    assert codes(checked(document, "May slip very long")) == ["A"]


def test_a_date_that_cannot_be_kept_is_named() -> None:
    document = a_document(
        job("A", deadline="2026-11-02T12:00:00+00:00"), job("L", is_launch=True),
        crew=[crew("Odd")], dependencies=[wait("A", "L")],
        bookings=[booking("L", "2026-11-02T13:00:00+00:00")],
    )  # fmt: skip
    check = checked(document, "Later than it must be")
    assert codes(check) == ["A", "L"]
    assert check.found[0].said == "due Mon 2 Nov 12:00, planned Mon 2 Nov 16:00"


def test_what_is_not_reported_is_named() -> None:
    document = a_document(
        job("A", promised="2026-11-04T12:00:00+00:00", started_at="2026-11-02T08:00:00+00:00"),
        job("B"), job("L", is_launch=True), crew=[crew("Odd")],
        dependencies=[wait("A", "B"), wait("B", "L")],
    )  # fmt: skip
    assert codes(checked(document, "Should have happened")) == []
    check = checked(document, "Should have happened", MONDAY + 3 * DAY)
    assert [(one.code, one.said) for one in check.found] == [
        ("A", "was promised for Wed 4 Nov 12:00"),
        ("B", "was to begin Wed 4 Nov 12:00"),
    ]


def test_a_booking_that_passed_is_named() -> None:
    document = a_sound_document(bookings=[booking("B", "2026-11-02T06:00:00+00:00")])
    check = checked(document, "Should have happened")
    assert [(one.code, one.said) for one in check.found] == [("B", "was to begin Mon 2 Nov 06:00")]


def test_a_package_of_months_is_named() -> None:
    # 44 days of 8 h are 21,120 minutes.
    document = a_sound_document(packages=[job("A", 21_120), job("B", 21_121), job("L")])
    document["packages"][2]["is_launch"] = True
    assert codes(checked(document, "Very long")) == ["B"]


def test_packages_that_nobody_does_are_named() -> None:
    document = a_document(
        job("A", people=[], vendor="Loft"), job("B", people=[]), job("C", people=[], helpers=1),
        crew=[crew("Odd")], vendors=[vendor("Loft")],
    )  # fmt: skip
    assert codes(checked(document, "Nobody is named")) == ["B"]


def test_a_single_guess_is_named() -> None:
    document = a_sound_document()
    document["packages"][0] |= {"low_minutes": 480, "high_minutes": 480}
    assert codes(checked(document, "Only one guess")) == ["A"]


def test_without_a_launch_that_is_said() -> None:
    document = a_sound_document()
    document["packages"][2]["is_launch"] = False
    assert not checked(document, "A launch to plan for").is_good


def test_a_launch_that_hangs_on_an_agreed_date_is_told() -> None:
    chain = checked(a_sound_document(), "A chain of work")
    assert chain.is_good
    assert chain.said == "3 packages, from A to L"
    hangs = a_sound_document(bookings=[booking("B", "2026-11-16T08:00:00+00:00")])
    check = checked(hangs, "A chain of work")
    assert (check.is_good, codes(check)) == (False, ["B"])


def test_the_index_of_the_launch_is_that_of_the_published_formula() -> None:
    # (40 + -2) / 40 = 0.95; (40 + -3) / 40 = 0.925
    good = checked(a_sound_document(), "Working days left", days_to_launch=40, reserve_days=-2)
    assert good.said == "40 working days to go, 2 missing, an index of 0.95"
    assert good.is_good
    bad = checked(a_sound_document(), "Working days left", days_to_launch=40, reserve_days=-3)
    assert not bad.is_good


def test_what_is_behind_a_baseline_is_named_and_the_index_reckoned() -> None:
    document = a_document(
        job("A", started_at="2026-11-02T08:00:00+00:00", finished_at="2026-11-02T09:00:00+00:00"),
        job("B", started_at="2026-11-02T08:00:00+00:00", finished_at="2026-11-03T09:00:00+00:00"),
        job("C"), job("L", is_launch=True), crew=[crew("Odd")],
    )  # fmt: skip
    document["packages"][1]["people"] = []
    kept = [
        BaselineLine("A", MONDAY + DAY),
        BaselineLine("B", MONDAY + timedelta(hours=4)),
        BaselineLine("C", MONDAY + DAY),
        BaselineLine("L", MONDAY + 30 * DAY),
        BaselineLine("GONE", MONDAY),
    ]
    plan = solved(document, MONDAY + 2 * DAY)
    lines = {
        code: Line(code, start, work, finish, plan.answers[code].slip)
        for code, start, work, finish in dates_of(plan)
    }
    now = MONDAY + 2 * DAY
    health = check_health(
        Facts(plan.built, lines, plan.driving, now, kept, baseline_name="As agreed")
    )
    behind, index = (
        next(check for check in health.checks if check.title.startswith(title))
        for title in ("Behind “As agreed”", "Finished, against")
    )
    assert codes(behind) == ["B", "C"]
    assert behind.said == "2 of 3 packages"
    assert behind.found[0].said == "was to be finished Mon 2 Nov 12:00, was Tue 3 Nov 09:00"
    # 2 finished, 3 were to be: 0.67
    assert index.said == "2 of 3, an index of 0.67"
    assert not index.is_good


@pytest.mark.parametrize(("number", "shares"), [(FEW, False), (FEW + 1, True)])
def test_shares_are_shown_only_above_forty_packages(number: int, shares: bool) -> None:
    names = [f"P{n:02}" for n in range(number)]
    document = a_document(
        *(job(name, 60, people=[], helpers=1) for name in names[:-1]),
        job(names[-1], 60, is_launch=True, people=[], helpers=1),
        crew=[crew("Odd")],
        dependencies=[wait(a, b) for a, b in pairwise(names[1:])],
    )
    check = checked(document, "Nothing waits for it")
    assert codes(check) == ["P00"]
    if shares:
        # 1 of 40 that are not the launch: 2.5 percent, and up to 5 are usual
        assert check.share == Decimal("2.5")
        assert check.said == "1 of 40 packages (2.5 %, usual up to 5 %)"
        assert check.is_good
    else:
        assert check.share is None
        assert check.said == "1 of 39 packages"
        assert not check.is_good

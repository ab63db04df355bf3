"""Work that is done in one go: by hand, on hours 8-16 on weekdays, day 0 being a Monday."""

from __future__ import annotations

import pytest

from refit.scheduling import CauseKind, check, critical_path, explain, level, slips
from refit.scheduling.breaches import Rule
from refit.scheduling.calendars import Hours
from refit.scheduling.problem import (
    HOUR,
    BadProblem,
    BeyondHorizon,
    Calendar,
    Demand,
    Dependency,
    Package,
    Plan,
    Planned,
    Problem,
    Progress,
    Relation,
    Resource,
    ResourceKind,
)
from tests.scheduling.problems import at, small_refit

CREW = Resource("crew", 1, ResourceKind.CREW)


def job(name: str, hours: float = 4, **more: object) -> Package:
    return Package(id=name, work=int(hours * HOUR), calendar="weekdays", **more)  # type: ignore[arg-type]


def starts(problem: Problem) -> dict[str, int]:
    """Starts by `level`, which agrees with `critical_path` where nothing is shared."""
    plan = level(problem)
    assert check(problem, plan) == ()
    found = {planned.id: planned.start for planned in plan.packages}
    if not problem.resources and not problem.pieces:
        assert {row.id: row.start for row in critical_path(problem).packages} == found
    return found


def test_work_in_one_go_waits_for_the_morning_rather_than_pause_over_the_night() -> None:
    # sand Mon 8-13 leaves three hours: a coat of four begins on Tuesday, one of three at once.
    problem = small_refit(
        job("sand", 5),
        job("coat", 4, unbroken=True),
        job("varnish", 3, unbroken=True),
        job("wires", 4),
        dependencies=tuple(Dependency("sand", name) for name in ("coat", "varnish", "wires")),
    )
    assert starts(problem) == {
        "sand": at(0, 8),
        "coat": at(1, 8),
        "varnish": at(0, 13),
        "wires": at(0, 13),
    }
    cause = explain(problem, level(problem))["coat"]
    assert (cause.kind, cause.at, cause.root.other) == (CauseKind.HOURS, at(1, 8), "sand")


def test_latest_dates_and_slips_keep_the_work_in_one_go() -> None:
    # coat (4 h) is followed by trial (6 h); blast takes Mon 8 - Wed 10 and drives the end, trial
    # and blast both end no later than Wed 10:00. Latest trial: Tue 12 - Wed 10. Latest coat ends
    # by Tue 12: Tue 8-12. With two hours less (Tue 10) there would not be room on Tuesday at all.
    problem = small_refit(
        job("coat", 4, unbroken=True),
        job("trial", 6),
        job("blast", 18),
        dependencies=(Dependency("coat", "trial"),),
    )
    rows = critical_path(problem).by_id
    assert (rows["coat"].latest_start, rows["coat"].total_float) == (at(1, 8), 8 * HOUR)
    tighter = small_refit(
        job("coat", 4, unbroken=True),
        job("trial", 8),
        job("blast", 18),
        dependencies=(Dependency("coat", "trial"),),
    )
    rows = critical_path(tighter).by_id
    # trial Tue 10 - Wed 10 at the latest, so coat ends on Monday 16:00 and starts at 12:00
    assert (rows["trial"].latest_start, rows["coat"].latest_start) == (at(1, 10), at(0, 12))
    slip = slips(tighter, level(tighter))["coat"]
    assert (slip.elapsed, slip.working) == (4 * HOUR, 4 * HOUR)


def test_a_bound_on_the_finish_moves_it_into_the_next_stretch() -> None:
    # The end may not come before first's, Mon 16:00 plus an hour: Tue 8-12 is the first go.
    problem = small_refit(
        job("first", 8),
        job("second", 4, unbroken=True),
        dependencies=(Dependency("first", "second", Relation.FINISH_TO_FINISH, HOUR),),
    )
    assert starts(problem)["second"] == at(1, 8)


def test_a_maximum_lag_waits_with_the_first_until_the_second_fits_in_one_go() -> None:
    # topcoat (6 h in one go) within two hours of primer (4 h): primer Mon 8-12 leaves Mon 12-14,
    # too late for six hours. Primer must end Tue 6:00 or later; working Mon 12-16 it ends at
    # 16:00, so it ends on Tue at 8:01, and topcoat runs 8:01-14:01.
    problem = small_refit(
        job("primer", 4),
        job("topcoat", 6, unbroken=True),
        dependencies=(Dependency("primer", "topcoat", max_lag=2 * HOUR),),
    )
    rows = critical_path(problem).by_id
    assert rows["topcoat"].start == at(1, 8, 1)
    assert rows["primer"].start == at(0, 12, 1)
    plan = level(problem)
    assert check(problem, plan) == ()
    assert plan.shortfalls == ()


def test_a_shared_crew_does_what_fits_before_the_night_first() -> None:
    # 5 h and 3 h fit into Monday in one go; in any order.
    by_crew = {"demands": (Demand("crew"),), "unbroken": True}
    problem = small_refit(job("a", 5, **by_crew), job("b", 3, **by_crew), resources=(CREW,))
    assert max(planned.finish for planned in level(problem).packages) == at(0, 16)
    # 5 h and 4 h do not: the second is on Tuesday.
    problem = small_refit(job("a", 5, **by_crew), job("b", 4, **by_crew), resources=(CREW,))
    assert sorted(starts(problem).values()) == [at(0, 8), at(1, 8)]


def test_what_has_started_goes_on_with_pauses() -> None:
    # Begun Monday 12:00 with six hours to do: to Tuesday 10:00, in one go or not.
    problem = small_refit(
        job("coat", 6, unbroken=True, progress=Progress(at(0, 12), remaining=6 * HOUR)),
        now=at(0, 12),
    )
    plan = level(problem)
    assert plan.packages[0].finish == at(1, 10)
    assert check(problem, plan) == ()
    assert critical_path(problem).finish == at(1, 10)


def test_a_plan_that_pauses_such_work_is_caught() -> None:
    problem = small_refit(job("coat", 4, unbroken=True))
    plan = Plan((Planned("coat", at(0, 14), at(1, 10), at(1, 10)),))
    breaches = check(problem, plan)
    assert {breach.rule for breach in breaches} == {Rule.WORK}
    assert "in one go" in breaches[0].message


def test_work_that_no_day_is_long_enough_for_is_refused_by_name() -> None:
    problem = small_refit(job("coat", 9, unbroken=True))
    for question in (level, critical_path):
        with pytest.raises(BadProblem, match=r"coat has 540 minutes .* calendar weekdays"):
            question(problem)


def test_no_stretch_left_before_the_calendar_ends_is_beyond_the_horizon() -> None:
    problem = small_refit(job("coat", 4, unbroken=True, not_before=at(39, 13)))  # its last Friday
    for question in (level, critical_path):
        with pytest.raises(BeyondHorizon, match="in one go"):
            question(problem)


def test_spans_that_touch_are_one_stretch() -> None:
    hours = Hours(Calendar("shop", ((0, 10), (10, 20), (30, 40)))).unbroken(15)
    assert (hours.starts, hours.ends) == ([0], [6])
    problem = Problem(
        (Package("coat", 15, "shop", unbroken=True),),
        (),
        (Calendar("shop", ((0, 10), (10, 20), (30, 40))),),
        now=4,
    )
    plan = level(problem)
    assert plan.packages[0] == Planned("coat", 4, 19, 19)
    assert check(problem, plan) == ()

"""Critical path on real calendars, solved by hand.

Day 0 is a Monday; the yard is open Monday to Friday, 8:00 to 17:00, nine hours a day. Each
comment does the sum that the assertion states.
"""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import pytest

from refit.scheduling import Conflict, CriticalPath, Driver, critical_path
from refit.scheduling.problem import (
    DAY,
    HOUR,
    BadProblem,
    BeyondHorizon,
    Calendar,
    Contradiction,
    CycleFound,
    Dependency,
    Package,
    Problem,
    Progress,
    Relation,
    ShortfallKind,
)
from tests.bench.critical_path import run

MONDAY, TUESDAY, WEDNESDAY, THURSDAY, FRIDAY, SATURDAY, SUNDAY = range(7)
NEXT_MONDAY = 7


def at(day: int, hour: float = 0) -> int:
    return day * DAY + round(hour * HOUR)


YARD = Calendar("yard", tuple((at(d, 8), at(d, 17)) for d in range(56) if d % 7 < 5))
SATURDAY_SHOP = Calendar("saturday shop", tuple((at(d, 8), at(d, 14)) for d in range(5, 56, 7)))
ALWAYS = Calendar("always", ((0, at(56)),))


def work(name: str, hours: float, **more: object) -> Package:
    package = Package(name, round(hours * HOUR), "yard")
    return replace(package, **more)  # type: ignore[arg-type]


def plan(
    *packages: Package,
    after: tuple[Dependency, ...] = (),
    now: int = 0,
    target: str | None = None,
) -> CriticalPath:
    return critical_path(
        Problem(packages, after, (YARD, SATURDAY_SHOP, ALWAYS), now=now, target=target)
    )


def dates(path: CriticalPath, name: str) -> tuple[int, int, int]:
    row = path.by_id[name]
    return row.start, row.work_finish, row.finish


# Holds


def test_a_hold_that_ends_on_saturday_lets_work_start_on_monday() -> None:
    # The coat ends Friday 17:00, 24 hours on the clock end Saturday 17:00, the yard opens Monday
    # 8:00. As working time the hold would take 9 + 9 + 6 hours, until Wednesday 14:00.
    path = plan(
        work("coat", 9, not_before=at(FRIDAY, 8), hold=24 * HOUR),
        work("hardware", 4),
        after=(Dependency("coat", "hardware"),),
    )
    assert dates(path, "coat") == (at(FRIDAY, 8), at(FRIDAY, 17), at(SATURDAY, 17))
    assert dates(path, "hardware")[:2] == (at(NEXT_MONDAY, 8), at(NEXT_MONDAY, 12))
    row = path.by_id["hardware"]
    assert (row.driver, row.driven_by, row.ready) == (Driver.DEPENDENCY, "coat", at(SATURDAY, 17))


def test_what_drives_can_have_float_and_is_in_the_chain_all_the_same() -> None:
    # The coat ends Friday 12:00, its hold Saturday 12:00, the next work waits for Monday 8:00.
    # The hold may end as late as Monday 8:00, so the work on Sunday 8:00, which is Friday 17:00:
    # five hours of float, total and free. Still nothing else explains the Monday.
    path = plan(
        work("sand", 4, not_before=at(FRIDAY, 8)),
        work("coat", 4, hold=24 * HOUR, not_before=at(FRIDAY, 8)),
        work("hardware", 4),
        after=(Dependency("coat", "hardware"),),
    )
    coat = path.by_id["coat"]
    assert (coat.total_float, coat.free_float) == (5 * HOUR, 5 * HOUR)
    assert coat.latest_start == at(FRIDAY, 13)
    assert (coat.latest_work_finish, coat.latest_finish) == (at(FRIDAY, 17), at(SATURDAY, 17))
    assert path.chain == ("coat", "hardware")


# Four relations


@pytest.mark.parametrize(
    ("relation", "lag", "start", "finish"),
    [
        # The first works Monday 8:00 to 17:00, the second takes four hours.
        (Relation.FINISH_TO_START, 0, at(TUESDAY, 8), at(TUESDAY, 12)),
        (Relation.FINISH_TO_START, -2 * HOUR, at(MONDAY, 15), at(TUESDAY, 10)),
        (Relation.START_TO_START, 2 * HOUR, at(MONDAY, 10), at(MONDAY, 14)),
        (Relation.FINISH_TO_FINISH, 0, at(MONDAY, 13), at(MONDAY, 17)),
        # Not before Monday 21:00: Tuesday 8:01 is the first end after that; one minute on
        # Tuesday and 239 on Monday, from 13:01.
        (Relation.FINISH_TO_FINISH, 4 * HOUR, at(MONDAY, 13) + 1, at(TUESDAY, 8) + 1),
        # Its end 26 hours after Monday 8:00, on Tuesday 10:00: two hours each day.
        (Relation.START_TO_FINISH, 26 * HOUR, at(MONDAY, 15), at(TUESDAY, 10)),
    ],
)
def test_four_relations(relation: Relation, lag: int, start: int, finish: int) -> None:
    path = plan(work("first", 9), work("second", 4), after=(
        Dependency("first", "second", relation, lag),
    ))  # fmt: skip
    assert dates(path, "second")[:2] == (start, finish)


# Lags over a weekend


@pytest.mark.parametrize(
    ("lag", "calendar", "start"),
    [
        # The first ends Friday 12:00. Nine hours on the clock end at 21:00: Monday 8:00.
        (9 * HOUR, None, at(NEXT_MONDAY, 8)),
        # Nine working hours: five until Friday 17:00, four until Monday 12:00.
        (9 * HOUR, "yard", at(NEXT_MONDAY, 12)),
        # One hour of the shop that opens on Saturday at 8:00 is over at 9:00: Monday 8:00.
        (HOUR, "saturday shop", at(NEXT_MONDAY, 8)),
        # Seven of them: six on this Saturday, one on the next, 9:00: the Monday after that.
        (7 * HOUR, "saturday shop", at(14, 8)),
        # Ten hours on the clock before Friday 12:00: at 2:00, so at opening.
        (-10 * HOUR, None, at(FRIDAY, 8)),
        # Ten working hours before: four on Friday, six on Thursday, from 11:00.
        (-10 * HOUR, "yard", at(THURSDAY, 11)),
    ],
)
def test_lags_in_working_or_elapsed_time(lag: int, calendar: str | None, start: int) -> None:
    path = plan(
        work("first", 4, not_before=at(FRIDAY, 8)),
        work("second", 1),
        after=(Dependency("first", "second", min_lag=lag, lag_calendar=calendar),),
    )
    assert path.by_id["second"].start == start


# Maximum lags


def test_a_recoat_window_missed_by_facts_is_told_with_its_overrun() -> None:
    # Primed Friday 16:00, to be recoated within 24 hours, by Saturday 16:00. The next working
    # minute is Monday 8:00, 64 hours after the primer and 40 after the window.
    path = plan(
        work("primer", 2, progress=Progress(at(FRIDAY, 14), finished=at(FRIDAY, 16))),
        work("topcoat", 6),
        after=(Dependency("primer", "topcoat", max_lag=24 * HOUR),),
        now=at(FRIDAY, 17),
    )
    assert path.by_id["topcoat"].start == at(NEXT_MONDAY, 8)
    assert at(NEXT_MONDAY, 8) - at(FRIDAY, 16) == 64 * HOUR
    assert path.conflicts == (
        Conflict(
            ShortfallKind.WINDOW,
            "topcoat",
            wanted=at(SATURDAY, 16),
            possible=at(NEXT_MONDAY, 8),
            because=("topcoat",),
            before="primer",
        ),
    )
    assert path.conflicts[0].by == 40 * HOUR


def test_a_window_moves_what_comes_first_until_it_holds() -> None:
    # Nothing done yet. The topcoat waits for the booth, Wednesday 8:00; so the primer must not
    # end before Tuesday 8:00: it may start on Monday at 15:01 and end Tuesday 8:01, or else.
    path = plan(
        work("primer", 2),
        work("topcoat", 6, not_before=at(WEDNESDAY, 8)),
        after=(Dependency("primer", "topcoat", max_lag=24 * HOUR),),
    )
    assert dates(path, "primer")[:2] == (at(MONDAY, 15) + 1, at(TUESDAY, 8) + 1)
    primer = path.by_id["primer"]
    assert (primer.driver, primer.driven_by) == (Driver.WINDOW, "topcoat")
    assert path.conflicts == ()
    # From Monday 15:01 the primer can slip to Tuesday 15:00: nine hours less a minute.
    assert primer.total_float == 9 * HOUR - 1


def test_a_window_in_working_time_spans_the_weekend() -> None:
    # Two working hours from Friday 16:00 are Monday 9:00; the second may start on Monday 8:00.
    first = work("first", 1, not_before=at(FRIDAY, 15))
    window = Dependency("first", "second", min_lag=HOUR, max_lag=2 * HOUR, lag_calendar="yard")
    path = plan(first, work("second", 1), after=(window,))
    assert path.by_id["first"].start == at(FRIDAY, 15)
    assert path.by_id["second"].start == at(NEXT_MONDAY, 8)


def test_a_window_pushes_a_whole_chain() -> None:
    # C cannot start before Thursday 8:00 and must come within a day of B's end, B's end within
    # two hours of A's. B ends on Wednesday 8:01 at the earliest, so A does at 6:01 or later:
    # on Wednesday at 8:01 too, A and B side by side.
    path = plan(
        work("A", 1),
        work("B", 1),
        work("C", 1, not_before=at(THURSDAY, 8)),
        after=(
            Dependency("A", "B", Relation.FINISH_TO_FINISH, max_lag=2 * HOUR),
            Dependency("B", "C", max_lag=24 * HOUR),
        ),
    )
    assert dates(path, "B")[1] == dates(path, "A")[1] == at(WEDNESDAY, 8) + 1
    assert path.by_id["A"].driven_by == "B"
    assert path.by_id["B"].driven_by == "C"


def test_a_window_shorter_than_the_hold_inside_it_is_a_contradiction() -> None:
    # B starts at most 24 hours after A does, and A takes 9 hours and cures for 48.
    with pytest.raises(Contradiction) as found:
        plan(
            work("elsewhere", 1),
            work("A", 9, hold=48 * HOUR),
            work("B", 1),
            after=(
                Dependency("A", "B"),
                Dependency("A", "B", Relation.START_TO_START, max_lag=24 * HOUR),
            ),
        )
    assert set(found.value.ids) == {"A", "B"}


def test_a_window_that_opening_hours_never_allow_is_a_contradiction() -> None:
    # Five days on the clock hold three or four working days in any week; nine hours are one.
    with pytest.raises(Contradiction, match=r"whatever the dates: (A, B|B, A)"):
        plan(
            work("A", 1),
            work("B", 1),
            after=(
                Dependency("A", "B", min_lag=5 * DAY),
                Dependency("A", "B", max_lag=9 * HOUR, lag_calendar="yard"),
            ),
        )


def test_a_window_below_its_own_minimum_is_a_contradiction() -> None:
    with pytest.raises(Contradiction, match="B has to follow A by at least 120 and at most 60"):
        plan(work("A", 1), work("B", 1), after=(Dependency("A", "B", min_lag=120, max_lag=60),))


# Bookings, days not before, deadlines, promises


def test_a_booking_that_can_be_kept_drives_the_date() -> None:
    path = plan(work("haul out", 2, booked=at(WEDNESDAY, 10)))
    row = path.by_id["haul out"]
    assert (row.start, row.driver, row.ready) == (
        at(WEDNESDAY, 10),
        Driver.BOOKING,
        at(WEDNESDAY, 10),
    )
    assert (row.total_float, row.free_float) == (0, 0)
    assert path.conflicts == ()


def test_a_booking_too_early_for_the_work_before_it_is_a_conflict_with_its_chain() -> None:
    # Strip 9 hours on Monday, weld 12 hours until Wednesday 11:00; booked for Tuesday 8:00.
    path = plan(
        work("strip", 9),
        work("weld", 12),
        work("coat", 9, booked=at(TUESDAY, 8)),
        after=(Dependency("strip", "weld"), Dependency("weld", "coat")),
    )
    assert path.by_id["coat"].start == at(WEDNESDAY, 11)
    assert path.conflicts == (
        Conflict(
            ShortfallKind.BOOKING,
            "coat",
            wanted=at(TUESDAY, 8),
            possible=at(WEDNESDAY, 11),
            because=("strip", "weld", "coat"),
        ),
    )
    # Late by nine hours on Tuesday and three on Wednesday, for all three.
    assert {row.total_float for row in path.packages} == {-12 * HOUR}


def test_two_bookings_that_contradict_each_other_are_named_together() -> None:
    path = plan(
        work("frame back", 2, booked=at(THURSDAY, 8)),
        work("pattern", 3, booked=at(TUESDAY, 8)),
        after=(Dependency("frame back", "pattern"),),
    )
    assert dates(path, "frame back")[0] == at(THURSDAY, 8)
    (conflict,) = path.conflicts
    assert (conflict.package, conflict.wanted, conflict.possible) == (
        "pattern",
        at(TUESDAY, 8),
        at(THURSDAY, 10),
    )
    assert conflict.because == ("frame back", "pattern")
    assert path.by_id["frame back"].driver is Driver.BOOKING


def test_two_bookings_too_far_apart_miss_their_window() -> None:
    # Booked things do not move for a window: Monday 8:00 to 10:00, then Thursday 8:00, and at
    # most a day between them, until Tuesday 10:00.
    path = plan(
        work("primer", 2, booked=at(MONDAY, 8)),
        work("topcoat", 2, booked=at(THURSDAY, 8)),
        after=(Dependency("primer", "topcoat", max_lag=DAY),),
    )
    assert dates(path, "primer")[0] == at(MONDAY, 8)
    (conflict,) = path.conflicts
    assert (conflict.kind, conflict.wanted, conflict.possible, conflict.before) == (
        ShortfallKind.WINDOW,
        at(TUESDAY, 10),
        at(THURSDAY, 8),
        "primer",
    )


def test_a_booking_in_closed_hours_waits_for_the_opening_and_says_so() -> None:
    (conflict,) = plan(work("haul out", 2, booked=at(SUNDAY, 9))).conflicts
    assert (conflict.wanted, conflict.possible) == (at(SUNDAY, 9), at(NEXT_MONDAY, 8))


def test_a_booking_that_has_passed_waits_for_now() -> None:
    path = plan(work("haul out", 2, booked=at(MONDAY, 9)), now=at(MONDAY, 11))
    assert path.by_id["haul out"].driver is Driver.NOW
    assert [conflict.by for conflict in path.conflicts] == [2 * HOUR]


def test_a_day_not_before_drives_and_opening_hours_follow() -> None:
    row = plan(work("canvas", 2, not_before=at(SATURDAY, 9))).by_id["canvas"]
    assert (row.start, row.driver, row.ready) == (
        at(NEXT_MONDAY, 8),
        Driver.NOT_BEFORE,
        at(SATURDAY, 9),
    )


def test_a_missed_deadline_is_negative_float_all_along_the_chain() -> None:
    # A on Monday, B on Tuesday; wanted on Monday 17:00: nine hours too late, one calendar day.
    path = plan(
        work("A", 9),
        work("B", 9, deadline=at(MONDAY, 17)),
        after=(Dependency("A", "B"),),
    )
    assert [row.total_float for row in path.packages] == [-9 * HOUR, -9 * HOUR]
    assert path.by_id["B"].latest_start == at(MONDAY, 8)
    # A should have been done before the calendar begins, which is taken as open then.
    assert path.by_id["A"].latest_start == at(MONDAY, 8) - 9 * HOUR
    (conflict,) = path.conflicts
    assert (conflict.kind, conflict.because, conflict.by) == (
        ShortfallKind.DEADLINE,
        ("A", "B"),
        DAY,
    )


def test_a_promise_keeps_back_the_finish_and_not_the_start() -> None:
    # Four hours of work from Monday 8:00, promised for Wednesday 15:00, cured until Thursday.
    path = plan(
        work("strip", 1),
        work("coat", 4, promised=at(WEDNESDAY, 15), hold=DAY),
        work("fit", 1),
        after=(Dependency("strip", "coat"), Dependency("coat", "fit")),
    )
    assert dates(path, "coat") == (at(MONDAY, 9), at(WEDNESDAY, 15), at(THURSDAY, 15))
    assert path.by_id["coat"].finish_driver is Driver.PROMISE
    assert path.by_id["fit"].start == at(THURSDAY, 15)
    assert path.chain == ("coat", "fit")  # what came before the promise does not matter any more
    assert path.by_id["coat"].total_float == 0


def test_a_promise_earlier_than_the_work_allows_changes_nothing() -> None:
    path = plan(work("coat", 4, promised=at(MONDAY, 9)))
    assert dates(path, "coat")[1] == at(MONDAY, 12)
    assert path.by_id["coat"].finish_driver is None


# Progress


def test_finished_work_is_a_fact_and_its_hold_goes_on() -> None:
    # Finished Friday 15:00 in spite of ten planned hours; the hold ends Saturday 15:00.
    path = plan(
        work("coat", 10, hold=DAY, progress=Progress(at(FRIDAY, 9), finished=at(FRIDAY, 15))),
        work("fit", 1),
        after=(Dependency("coat", "fit"),),
        now=at(FRIDAY, 16),
    )
    assert dates(path, "coat") == (at(FRIDAY, 9), at(FRIDAY, 15), at(SATURDAY, 15))
    coat = path.by_id["coat"]
    assert (coat.latest_start, coat.latest_finish) == (coat.start, coat.finish)
    assert coat.driver is Driver.PROGRESS
    assert path.by_id["fit"].start == at(NEXT_MONDAY, 8)
    assert path.chain == ("coat", "fit")


def test_started_work_goes_on_from_now_with_what_remains() -> None:
    # Ten hours from Monday 8:00; by Tuesday 10:00 eleven could have been worked. Not reported
    # finished, so it ends now at the earliest. With three hours remaining: at 13:00.
    begun = work("weld", 10, progress=Progress(at(MONDAY, 8)))
    now = at(TUESDAY, 10)
    assert dates(plan(begun, now=now), "weld") == (at(MONDAY, 8), now, now)
    stated = replace(begun, progress=Progress(at(MONDAY, 8), remaining=3 * HOUR))
    assert dates(plan(stated, now=now), "weld")[1] == at(TUESDAY, 13)
    # At Monday 16:00 eight hours are done, two remain: one today, one tomorrow.
    assert dates(plan(begun, now=at(MONDAY, 16)), "weld")[1] == at(TUESDAY, 9)


def test_actuals_win_over_the_order_that_was_meant() -> None:
    # The second has started although the first is not finished: it waits no more, nor does it
    # hold the first to an earlier date.
    path = plan(
        work("first", 9),
        work("second", 4, progress=Progress(at(MONDAY, 8), remaining=2 * HOUR)),
        after=(Dependency("first", "second"),),
        now=at(MONDAY, 10),
    )
    assert dates(path, "second") == (at(MONDAY, 8), at(MONDAY, 12), at(MONDAY, 12))
    assert dates(path, "first")[1] == at(TUESDAY, 10)
    assert path.by_id["first"].total_float == 0
    # The finish of the second may slip from Monday 12:00 to Tuesday 10:00: five and two hours.
    assert path.by_id["second"].total_float == 7 * HOUR


def test_nothing_that_has_not_started_starts_before_now() -> None:
    row = plan(work("sand", 2), now=at(MONDAY, 11)).by_id["sand"]
    assert (row.start, row.driver) == (at(MONDAY, 11), Driver.NOW)
    row = plan(work("sand", 2), now=at(SATURDAY, 11)).by_id["sand"]
    assert (row.start, row.driver, row.ready) == (
        at(NEXT_MONDAY, 8),
        Driver.HOURS,
        at(SATURDAY, 11),
    )


# Packages without work, target, floats between calendars


def test_a_package_without_work_takes_the_minute_it_is_given() -> None:
    path = plan(
        work("coat", 9, not_before=at(FRIDAY, 8), hold=DAY),
        work("cured", 0),
        work("fit", 1),
        after=(Dependency("coat", "cured"), Dependency("cured", "fit")),
    )
    assert dates(path, "cured") == (at(SATURDAY, 17),) * 3
    assert path.by_id["fit"].start == at(NEXT_MONDAY, 8)
    assert path.chain == ("coat", "cured", "fit")


def test_a_shop_of_other_hours_takes_away_the_float() -> None:
    # The yard may end on Friday 17:00 at the latest for the shop on Saturday 8:00, which then
    # leaves the last package to wait for Monday. The yard's A could slip an hour, from 16:00.
    path = plan(
        work("A", 8, not_before=at(FRIDAY, 8)),
        Package("B", 3 * HOUR, "saturday shop"),
        work("C", 1),
        after=(Dependency("A", "B"), Dependency("B", "C")),
    )
    floats = {row.id: (row.total_float, row.free_float) for row in path.packages}
    # B: Saturday 8:00 to 11:00, may slip to 11:00 to 14:00. A, then, may end on Saturday 11:00,
    # which is Friday 17:00; that would not move B either.
    assert floats == {"A": (HOUR, HOUR), "B": (3 * HOUR, 3 * HOUR), "C": (0, 0)}
    assert path.chain == ("A", "B", "C")


def test_float_is_measured_to_the_target_and_the_rest_to_the_last_finish() -> None:
    path = plan(
        work("hull", 9),
        work("launch", 0),
        work("papers", 3),
        work("list", 18),
        after=(
            Dependency("hull", "launch"),
            Dependency("papers", "launch"),
            Dependency("launch", "list"),
        ),
        target="launch",
    )
    assert (path.finish, path.chain) == (at(MONDAY, 17), ("hull", "launch"))
    floats = {row.id: row.total_float for row in path.packages}
    assert floats == {"hull": 0, "launch": 0, "papers": 6 * HOUR, "list": 0}


def test_nothing_to_plan_ends_now() -> None:
    path = plan(now=5)
    assert (path.packages, path.chain, path.finish) == ((), (), 5)


# What cannot be


def test_a_ring_is_named_in_its_order() -> None:
    with pytest.raises(CycleFound, match="frame -> paint -> canvas -> frame") as found:
        plan(
            work("frame", 1),
            work("before it", 1),
            work("paint", 1),
            work("canvas", 1),
            work("behind it", 1),
            after=(
                Dependency("before it", "frame"),
                Dependency("frame", "paint"),
                Dependency("canvas", "frame", Relation.START_TO_START),
                Dependency("canvas", "behind it"),
                Dependency("paint", "canvas"),
            ),
        )
    assert found.value.ids == ("frame", "paint", "canvas")


def test_a_package_that_waits_for_itself_is_a_ring() -> None:
    with pytest.raises(CycleFound) as found:
        plan(work("frame", 1), after=(Dependency("frame", "frame"),))
    assert found.value.ids == ("frame",)


def test_work_beyond_the_calendar_is_said() -> None:
    with pytest.raises(BeyondHorizon, match="calendar yard ends before the work does"):
        plan(work("restore everything", 9 * 41))


@pytest.mark.parametrize(
    ("packages", "dependencies", "message"),
    [
        ((work("A", 1), work("A", 2)), (), "package A is given twice"),
        ((work("A", 1),), (Dependency("A", "B"),), "unknown package B"),
        ((work("A", -1),), (), "package A: working time and hold cannot be negative"),
        ((work("A", 1, calendar="moon"),), (), "unknown calendar moon"),
        (
            (work("A", 1), work("B", 1)),
            (Dependency("A", "B", min_lag=5, lag_calendar="moon"),),
            "dependency of B on A counts its lag in the calendar moon",
        ),
        (
            (work("A", 1, progress=Progress(-10, finished=-20)),),
            (),
            "package A is finished before it has started",
        ),
        ((work("A", 1, progress=Progress(10)),), (), "package A reports progress from after now"),
    ],
)
def test_what_is_not_well_formed_is_named(
    packages: tuple[Package, ...], dependencies: tuple[Dependency, ...], message: str
) -> None:
    with pytest.raises(BadProblem, match=message):
        plan(*packages, after=dependencies)


def test_an_unknown_target_is_named() -> None:
    with pytest.raises(BadProblem, match="target launch is not one of the packages"):
        plan(work("A", 1), target="launch")


# The house


def test_importing_the_core_loads_neither_django_nor_celery() -> None:
    code = (
        "import sys, refit.scheduling\n"
        "print(sorted({m.split('.')[0] for m in sys.modules} & {'django', 'celery', 'kombu'}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_benchmark_still_runs(capsys: pytest.CaptureFixture[str]) -> None:
    # Tiny, and without judging its times.
    run(["--packages", "60", "--dependencies", "150", "--rounds", "1", "--windows", "0.1"])
    printed = capsys.readouterr().out
    assert "60 packages, 150 dependencies, 6 calendars" in printed
    assert "ratio:" in printed

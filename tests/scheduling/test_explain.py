"""Why a package starts when it does, the chain behind it, and how long it may slip: by hand."""

from __future__ import annotations

import pytest

from refit.scheduling import Cause, CauseKind, LimitKind, check, drivers, explain, level, slips
from refit.scheduling.problem import (
    HOUR,
    Demand,
    Dependency,
    Minutes,
    Outage,
    Package,
    Piece,
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


def why(problem: Problem, name: str) -> Cause:
    plan = level(problem)
    assert check(problem, plan) == ()
    return explain(problem, plan)[name]


def test_a_package_waits_for_the_one_it_depends_on() -> None:
    dependency = Dependency("sand", "coat")
    cause = why(small_refit(job("sand"), job("coat"), dependencies=(dependency,)), "coat")
    assert cause == Cause(
        CauseKind.DEPENDENCY, "coat", at(0, 12), other="sand", dependency=dependency
    )


def test_of_two_dependencies_the_one_that_lets_go_last_binds() -> None:
    problem = small_refit(
        job("short", 1),
        job("long", 5),
        job("coat", 1),
        dependencies=(Dependency("short", "coat"), Dependency("long", "coat")),
    )
    assert why(problem, "coat").other == "long"


def test_a_finish_to_finish_dependency_binds_the_start_through_the_work() -> None:
    # trial (2 h) must end no earlier than wires, Mon 14:00: not before 12:00.
    problem = small_refit(
        job("wires", 6),
        job("trial", 2),
        dependencies=(Dependency("wires", "trial", Relation.FINISH_TO_FINISH),),
    )
    cause = why(problem, "trial")
    assert (cause.kind, cause.other, cause.at) == (CauseKind.DEPENDENCY, "wires", at(0, 12))


def test_a_cure_that_ends_on_saturday_makes_closed_hours_the_cause_and_stands_behind_them() -> None:
    problem = small_refit(
        job("coat", 4, hold=24 * HOUR, not_before=at(4, 12)),
        job("sand"),
        dependencies=(Dependency("coat", "sand"),),
    )
    cause = why(problem, "sand")
    assert (cause.kind, cause.at, cause.calendar) == (CauseKind.HOURS, at(7, 8), "weekdays")
    assert cause.behind is not None
    assert (cause.behind.kind, cause.behind.at) == (CauseKind.DEPENDENCY, at(5, 16))
    assert cause.root.other == "coat"


def test_a_piece_on_its_way_is_the_cause_with_where_it_comes_from() -> None:
    problem = small_refit(
        job("weld", 3, place="shop", pieces=("frame",)),
        job("fit", 1, place="shed", pieces=("frame",), not_before=at(0, 9)),
        pieces=(Piece("frame", "shop"),),
    )
    assert why(problem, "fit") == Cause(
        CauseKind.PIECE, "fit", at(0, 13), "weld", piece="frame", origin="shop", travel=2 * HOUR
    )
    at_once = small_refit(
        job("fit", 1, place="shed", pieces=("frame",)), pieces=(Piece("frame", "shop"),)
    )
    assert why(at_once, "fit") == Cause(
        CauseKind.PIECE, "fit", at(0, 10), None, piece="frame", origin="shop", travel=2 * HOUR
    )


def test_a_piece_in_use_at_the_same_place_is_the_cause_without_a_way() -> None:
    problem = small_refit(
        job("sew", 3, place="shed", pieces=("cushion",)),
        job("fill", 4, place="shed", pieces=("cushion",)),
        pieces=(Piece("cushion", "shed"),),
    )
    assert why(problem, "fill") == Cause(CauseKind.PIECE, "fill", at(0, 11), "sew", piece="cushion")


def test_a_shared_piece_comes_for_the_first_job_at_a_place_and_is_the_cause_of_the_others() -> None:
    # The boat leaves the shop Mon 8:00 and is in the shed at 10:00, for both jobs.
    problem = small_refit(
        job("hull", 4, place="shed", pieces=("boat",)),
        job("cabin", 5, place="shed", pieces=("boat",)),
        pieces=(Piece("boat", "shop", shared=True),),
    )
    for name in ("hull", "cabin"):
        cause = why(problem, name)
        assert (cause.kind, cause.at, cause.origin) == (CauseKind.PIECE, at(0, 10), "shop")


def test_a_resource_in_use_is_the_cause_with_who_has_it() -> None:
    by_crew = {"demands": (Demand("crew"),)}
    problem = small_refit(job("a", 3, **by_crew), job("b", 4, **by_crew), resources=(CREW,))
    assert why(problem, "b") == Cause(CauseKind.RESOURCE, "b", at(0, 11), "a", resource="crew")


def test_an_outage_is_the_cause_without_anybody_who_has_the_resource() -> None:
    away = Resource("crew", 1, ResourceKind.CREW, (Outage(at(0, 9), at(1, 10), 1),))
    problem = small_refit(job("a", 3, demands=(Demand("crew"),)), resources=(away,))
    assert why(problem, "a") == Cause(CauseKind.RESOURCE, "a", at(1, 10), resource="crew")


def test_a_booking_is_the_cause_even_if_a_dependency_ends_at_the_same_minute() -> None:
    problem = small_refit(
        job("sand", 4),
        job("coat", 4, booked=at(0, 12)),
        dependencies=(Dependency("sand", "coat"),),
    )
    assert why(problem, "coat") == Cause(CauseKind.BOOKING, "coat", at(0, 12))


def test_a_missed_booking_is_not_the_cause() -> None:
    problem = small_refit(
        job("sand", 8),
        job("coat", 4, booked=at(0, 12)),
        dependencies=(Dependency("sand", "coat"),),
    )
    cause = why(problem, "coat")
    assert (cause.kind, cause.root.kind) == (CauseKind.HOURS, CauseKind.DEPENDENCY)


def test_a_delay_for_a_window_is_the_cause_of_the_package_in_front() -> None:
    # spread cannot be before Thu 8:00 (booked bay), so mix, good for two hours, waits.
    problem = small_refit(
        job("mix", 1),
        job("spread", 2, booked=at(3, 10)),
        dependencies=(Dependency("mix", "spread", max_lag=2 * HOUR),),
    )
    cause = why(problem, "mix")
    assert (cause.root.kind, cause.root.other) == (CauseKind.WINDOW, "spread")


@pytest.mark.parametrize(
    ("package", "now", "kind", "moment"),
    [
        (job("a", not_before=at(1, 9)), 0, CauseKind.NOT_BEFORE, at(1, 9)),
        (job("a"), at(1, 9), CauseKind.NOW, at(1, 9)),
        (job("a", 0), 0, CauseKind.REFIT_START, 0),
        (job("a", progress=Progress(at(0, 9))), at(1, 9), CauseKind.PROGRESS, at(0, 9)),
    ],
)
def test_what_needs_no_other_package_is_a_cause_too(
    package: Package, now: Minutes, kind: CauseKind, moment: Minutes
) -> None:
    assert why(small_refit(package, now=now), "a") == Cause(kind, "a", moment)


def test_at_the_first_opening_the_refit_has_begun_but_is_closed() -> None:
    cause = why(small_refit(job("a")), "a")
    assert (cause.kind, cause.root.kind) == (CauseKind.HOURS, CauseKind.REFIT_START)


def test_a_package_that_could_start_earlier_is_said_to_have_no_cause() -> None:
    problem = small_refit(job("a"))
    lazy = Plan((Planned("a", at(0, 9), at(0, 13), at(0, 13)),))
    assert check(problem, lazy) == ()
    assert explain(problem, lazy)["a"].kind is CauseKind.NOTHING


def test_the_chain_leads_from_the_launch_back_to_a_booking() -> None:
    # coat booked Tue 8-12, cures to Wed 12; fit needs the frame in the shed, Wed 14-16; launch.
    problem = small_refit(
        job("coat", 4, hold=24 * HOUR, place="shop", pieces=("frame",), booked=at(1, 8)),
        job("fit", 2, place="shed", pieces=("frame",), not_before=at(1, 9)),
        job("launch", 0),
        job("idle", 1),
        dependencies=(Dependency("fit", "launch"),),
        pieces=(Piece("frame", "shop"),),
        target="launch",
    )
    chain = drivers(problem, level(problem))
    assert [(c.package, c.kind) for c in chain] == [
        ("launch", CauseKind.DEPENDENCY),
        ("fit", CauseKind.PIECE),
        ("coat", CauseKind.BOOKING),
    ]
    (alone,) = drivers(problem, level(problem), "idle")
    assert alone.root.kind is CauseKind.REFIT_START


def test_the_chain_ends_at_a_promise_that_keeps_a_finish() -> None:
    problem = small_refit(
        job("weld", 4, promised=at(3, 12)), job("fit"), dependencies=(Dependency("weld", "fit"),)
    )
    chain = drivers(problem, level(problem))
    assert [(c.package, c.kind) for c in chain] == [
        ("fit", CauseKind.DEPENDENCY),
        ("weld", CauseKind.PROMISE),
    ]
    assert chain[-1].at == at(3, 12)


def test_the_chain_of_nothing_is_empty_and_an_unknown_package_has_none() -> None:
    assert drivers(small_refit(), Plan(())) == ()
    with pytest.raises(KeyError):
        drivers(small_refit(job("a")), level(small_refit(job("a"))), "ghost")


def test_a_package_slips_until_it_moves_the_launch() -> None:
    # long Mon 8-16, short Mon 8-10, both before launch (Mon 16:00): short has 6 h, long none.
    problem = small_refit(
        job("long", 8),
        job("short", 2),
        job("launch", 0),
        dependencies=(Dependency("long", "launch"), Dependency("short", "launch")),
        target="launch",
    )
    found = slips(problem, level(problem))
    assert (found["long"].elapsed, found["long"].working) == (0, 0)
    assert (found["short"].elapsed, found["short"].working) == (6 * HOUR, 6 * HOUR)
    assert (found["short"].limit.kind, found["short"].limit.package) == (
        LimitKind.DEPENDENCY,
        "launch",
    )
    assert (found["launch"].elapsed, found["launch"].limit.kind) == (0, LimitKind.LAUNCH)


def test_a_slip_counts_elapsed_and_working_time_and_pushes_what_is_free_to_be_pushed() -> None:
    # sand Mon 8-10, coat Mon 10-12, launch booked Wed 8:00. coat may start Tue 14:00 at the
    # latest, 28 h later, of them 10 open (Mon 10-16, Tue 8-14 is 12: 6 + 6). sand may start Tue
    # 12:00, though it pushes coat at once.
    problem = small_refit(
        job("sand", 2),
        job("coat", 2),
        job("launch", 1, booked=at(2, 8)),
        dependencies=(Dependency("sand", "coat"), Dependency("coat", "launch")),
        target="launch",
    )
    found = slips(problem, level(problem))
    assert (found["coat"].elapsed, found["coat"].working) == (28 * HOUR, 12 * HOUR)
    assert (found["sand"].elapsed, found["sand"].working) == (28 * HOUR, 12 * HOUR)
    assert (found["sand"].free, found["sand"].first.package) == (0, "coat")
    assert found["coat"].free == 28 * HOUR
    assert found["launch"].limit.kind is LimitKind.BOOKING


def test_a_slip_ends_where_somebody_else_needs_the_piece_or_the_resource_or_an_outage_begins() -> (
    None
):
    # weld Mon 8-11 frees the frame for coat, booked Wed 12:00 in the shed: the last way leaves
    # Wed 10:00, so weld may start Wed 7:00, that is by hours Tue 15:00 (Tue 15-16, Wed 8-10).
    # The crew does lift Mon 8-10 and is needed for coat: lift may start Wed 10:00.
    # The crane is out from Tue 9:00: hoist (1 h, Mon 8:00) may start Tue 8:00.
    crane = Resource("crane", 1, ResourceKind.VENDOR, (Outage(at(1, 9), at(2, 9), 1),))
    problem = small_refit(
        job("weld", 3, place="shop", pieces=("frame",)),
        job(
            "coat", 4, place="shed", pieces=("frame",), booked=at(2, 12), demands=(Demand("crew"),)
        ),
        job("lift", 2, demands=(Demand("crew"),)),
        job("hoist", 1, demands=(Demand("crane"),)),
        resources=(CREW, crane),
        pieces=(Piece("frame", "shop"),),
    )
    plan = level(problem)
    found = slips(problem, plan)
    assert found["weld"].elapsed == at(1, 15) - at(0, 8)
    assert (found["weld"].limit.kind, found["weld"].limit.piece) == (LimitKind.PIECE, "frame")
    assert found["lift"].elapsed == at(2, 10) - at(0, 8)
    assert (found["lift"].limit.kind, found["lift"].limit.package) == (LimitKind.RESOURCE, "coat")
    assert found["hoist"].elapsed == 24 * HOUR
    assert (found["hoist"].limit.kind, found["hoist"].limit.resource) == (
        LimitKind.OUTAGE,
        "crane",
    )


def test_a_hold_that_only_keeps_the_piece_lets_the_crew_go_on() -> None:
    # coat works Mon 8-10 and cures 24 h; the crew goes on to masts, booked Mon 14:00. coat may
    # start at 12:00: only its work must be over by then.
    problem = small_refit(
        job("coat", 2, hold=24 * HOUR, demands=(Demand("crew"),)),
        job("masts", 2, booked=at(0, 14), demands=(Demand("crew"),)),
        resources=(CREW,),
    )
    found = slips(problem, level(problem))["coat"]
    # the launch is the end of the cure (Tue 10:00), so it cannot slip, but pushes nobody till then
    assert (found.elapsed, found.limit.kind) == (0, LimitKind.LAUNCH)
    free_end = small_refit(*problem.packages, resources=(CREW,), target="masts")
    found = slips(free_end, level(free_end))["coat"]
    assert (found.elapsed, found.limit.kind) == (4 * HOUR, LimitKind.RESOURCE)


def test_windows_and_deadlines_limit_a_slip() -> None:
    # spread follows mix (Mon 8-9) within two hours: until 11:00. file's deadline is Mon 15:00.
    problem = small_refit(
        job("mix", 1),
        job("spread", 1),
        job("file", 1, deadline=at(0, 15)),
        job("launch", 0, not_before=at(4, 8)),
        dependencies=(
            Dependency("mix", "spread", max_lag=2 * HOUR),
            Dependency("spread", "launch"),
            Dependency("file", "launch"),
        ),
        target="launch",
    )
    plan = level(problem)
    found = slips(problem, plan)
    assert (found["spread"].elapsed, found["spread"].limit.kind) == (2 * HOUR, LimitKind.WINDOW)
    assert (found["file"].elapsed, found["file"].limit.kind) == (6 * HOUR, LimitKind.DEADLINE)


def test_what_nothing_waits_for_may_slip_for_ever_and_what_is_over_not_at_all() -> None:
    problem = small_refit(
        job("launch", 1),
        job("polish", 1),
        job("done", 1, progress=Progress(at(0, 8), finished=at(0, 9))),
        job("begun", 4, progress=Progress(at(0, 8))),
        target="launch",
        now=at(0, 10),
        dependencies=(Dependency("begun", "launch"),),
    )
    found = slips(problem, level(problem))
    assert (found["polish"].elapsed, found["polish"].limit.kind) == (None, LimitKind.NOTHING)
    assert (found["done"].elapsed, found["done"].free) == (0, 0)
    assert (found["begun"].elapsed, found["begun"].limit.package) == (0, "launch")

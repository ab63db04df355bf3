"""Plans small enough to be solved by hand; the comment in each test proves its dates.

Unless a test says otherwise: hours 8-16 on weekdays, day 0 is a Monday, two hours from place to
place.
"""

from __future__ import annotations

import pytest

from refit.scheduling import check, level
from refit.scheduling.problem import (
    HOUR,
    BadProblem,
    BeyondHorizon,
    CycleFound,
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
    Shortfall,
    ShortfallKind,
)
from tests.scheduling.problems import at, small_refit

CREW = Resource("crew", 1, ResourceKind.CREW)
BAY = Resource("bay", 1, ResourceKind.BAY)
FS = Relation.FINISH_TO_START


def job(name: str, hours: float = 4, **more: object) -> Package:
    return Package(id=name, work=int(hours * HOUR), calendar="weekdays", **more)  # type: ignore[arg-type]


def solved(problem: Problem) -> Plan:
    plan = level(problem)
    assert check(problem, plan) == ()
    return plan


def dates(plan: Plan) -> dict[str, tuple[Minutes, Minutes]]:
    return {planned.id: (planned.start, planned.finish) for planned in plan.packages}


def test_a_crew_of_one_does_two_jobs_one_after_the_other_the_shorter_first() -> None:
    # 6 h and 4 h are 10 h: two hours into Tuesday, whatever the order. With the short one first
    # it ends Monday 12:00, with the long one first that ends Monday 14:00: the first sum is less.
    by_crew = {"demands": (Demand("crew"),)}
    plan = solved(
        small_refit(job("long", 6, **by_crew), job("short", 4, **by_crew), resources=(CREW,))
    )
    assert dates(plan) == {"short": (at(0, 8), at(0, 12)), "long": (at(0, 12), at(1, 10))}


def test_a_hold_keeps_the_bay_but_frees_the_crew() -> None:
    # paint Mon 8-12, cures 24 h to Tue 12. The crew is free Mon 12 (masts), the bay only Tue 12.
    # The other way round (hull Mon 9-13, as it may not start before 9) paint works Mon 13-16 and
    # Tue 8-9 and cures to Wed 9, so that is later.
    both = (Demand("bay", through_hold=True), Demand("crew"))
    plan = solved(
        small_refit(
            job("paint", 4, hold=24 * HOUR, demands=both),
            job("hull", 4, not_before=at(0, 9), demands=both),
            job("masts", 4, not_before=at(0, 10), demands=(Demand("crew"),)),
            resources=(CREW, BAY),
        )
    )
    assert dates(plan) == {
        "paint": (at(0, 8), at(1, 12)),
        "masts": (at(0, 12), at(0, 16)),
        "hull": (at(1, 12), at(1, 16)),
    }


def test_a_zone_takes_one_job_at_a_time_even_from_different_crews() -> None:
    # 5 h + 5 h in the cockpit: the second from Mon 13 to Tue 10. The cabin job is not hindered.
    cockpit = Resource("cockpit", 1, ResourceKind.ZONE)
    plan = solved(
        small_refit(
            job("glass", 5, demands=(Demand("cockpit"),)),
            job("wires", 5, demands=(Demand("cockpit"),)),
            job("cabin", 5),
            resources=(cockpit,),
        )
    )
    starts = {name: start for name, (start, _) in dates(plan).items()}
    assert sorted((starts["glass"], starts["wires"])) == [at(0, 8), at(0, 13)]
    assert starts["cabin"] == at(0, 8)


def test_a_job_waits_for_a_piece_that_is_away_and_for_its_way_home() -> None:
    # The frame may leave the shop on Wednesday 12:00 and is at the shed at 14:00.
    plan = solved(
        small_refit(
            job("fit", 1, place="shed", pieces=("frame",)),
            pieces=(Piece("frame", "shop", free_from=at(2, 12)),),
        )
    )
    assert dates(plan)["fit"] == (at(2, 14), at(2, 15))
    (move,) = plan.moves
    assert (move.free_at, move.depart, move.arrive) == (at(2, 12), at(2, 12), at(2, 14))
    assert (move.leave_by, move.needed_at) == (at(2, 12), at(2, 14))
    assert (move.after_package, move.for_package) == (None, "fit")


def test_a_piece_that_would_arrive_after_closing_goes_on_monday() -> None:
    # weld Fri 8-15. Leaving at 15:00 it would arrive at 17:00, closed since 16:00; on Monday it
    # leaves when the shop opens, 8:00, and arrives at 10:00. Home is the slip, open always, two
    # hours' work later: leaves at 12:00, arrives at 14:00, and nobody waits for it there.
    plan = solved(
        small_refit(
            job("weld", 7, place="shop", pieces=("frame",), not_before=at(4, 8)),
            job("fit", 2, place="shed", pieces=("frame",)),
            dependencies=(Dependency("weld", "fit"),),
            pieces=(Piece("frame", "shop", returns_to="slip"),),
        )
    )
    assert dates(plan)["fit"] == (at(7, 10), at(7, 12))
    there, home = plan.moves
    assert (there.free_at, there.depart, there.arrive) == (at(4, 15), at(7, 8), at(7, 10))
    assert (there.leave_by, there.after_package) == (at(7, 8), "weld")
    assert (home.destination, home.depart, home.arrive) == ("slip", at(7, 12), at(7, 14))
    assert (home.needed_at, home.leave_by, home.for_package) == (None, None, None)


def test_leave_by_is_later_than_depart_where_there_is_time() -> None:
    # Free Mon 8:00, needed Wed 9:00: two hours before are Wed 7:00, when the shop is closed.
    # The last minute at which it is open before that is Tue 15:59, but the shed closes at 16:00,
    # so the last way that arrives in hours leaves Tue 14:00.
    plan = solved(
        small_refit(
            job("fit", 1, place="shed", pieces=("frame",), not_before=at(2, 9)),
            pieces=(Piece("frame", "shop"),),
        )
    )
    (move,) = plan.moves
    assert (move.depart, move.leave_by) == (at(0, 8), at(1, 14))


def test_a_cure_that_ends_on_saturday_lets_work_start_on_monday() -> None:
    # coat Fri 12-16, 24 h of cure end Sat 16:00: sand on Monday 8:00. Counted in working time the
    # cure would end on Wednesday. The milestone has no work and happens on Saturday.
    plan = solved(
        small_refit(
            job("coat", 4, hold=24 * HOUR, not_before=at(4, 12)),
            job("sand", 2),
            job("cured", 0),
            dependencies=(Dependency("coat", "sand"), Dependency("coat", "cured")),
        )
    )
    assert dates(plan)["sand"] == (at(7, 8), at(7, 10))
    assert dates(plan)["cured"] == (at(5, 16), at(5, 16))


@pytest.mark.parametrize(
    ("relation", "lag", "calendar", "start"),
    [
        (FS, 0, None, at(1, 8)),  # first works Mon 8-16
        (FS, 90, None, at(1, 8)),  # 17:30, closed
        (FS, 90, "weekdays", at(1, 9, 30)),
        (FS, -2 * HOUR, None, at(0, 14)),
        (FS, -9 * HOUR, "weekdays", at(0, 8)),  # before the start of the calendar: no bound
        (Relation.START_TO_START, 3 * HOUR, None, at(0, 11)),
        (Relation.FINISH_TO_FINISH, 0, None, at(0, 14)),  # 2 h of work that end at 16:00
        (Relation.FINISH_TO_FINISH, HOUR, None, at(0, 14, 1)),  # end 17:00 or later: Tue 8:01
        (Relation.START_TO_FINISH, 10 * HOUR, None, at(0, 14, 1)),  # end 18:00 or later: the same
        (Relation.START_TO_FINISH, 4 * HOUR, "weekdays", at(0, 10)),
    ],
)
def test_a_dependency_of_each_relation_and_lag_bounds_the_start(
    relation: Relation, lag: Minutes, calendar: str | None, start: Minutes
) -> None:
    plan = solved(
        small_refit(
            job("first", 8),
            job("second", 2),
            dependencies=(Dependency("first", "second", relation, lag, None, calendar),),
        )
    )
    assert dates(plan)["second"][0] == start


def test_an_outage_sends_a_job_behind_it() -> None:
    # The welder is away Mon 10:00 - Tue 10:00. 4 h do not fit before it, and work is not split
    # around it: from Tue 10:00.
    welder = Resource("welder", 1, ResourceKind.VENDOR, (Outage(at(0, 10), at(1, 10), 1),))
    plan = solved(small_refit(job("weld", 4, demands=(Demand("welder"),)), resources=(welder,)))
    assert dates(plan)["weld"] == (at(1, 10), at(1, 14))


def test_a_shared_boat_serves_two_jobs_at_once_at_one_place_and_moves_when_both_are_over() -> None:
    # hull Mon 8-12, cabin Mon 8-15, both on the boat in the shed: together. It is free at 15:00;
    # the slip is always open, so it arrives at 17:00. The trial may run at any hour.
    trial = Package("trial", HOUR, "always", place="slip", pieces=("boat",), not_before=at(0, 9))
    plan = solved(
        small_refit(
            job("hull", 4, place="shed", pieces=("boat",)),
            job("cabin", 7, place="shed", pieces=("boat",)),
            trial,
            dependencies=(Dependency("hull", "trial"), Dependency("cabin", "trial")),
            pieces=(Piece("boat", "shed", shared=True),),
        )
    )
    assert dates(plan) == {
        "hull": (at(0, 8), at(0, 12)),
        "cabin": (at(0, 8), at(0, 15)),
        "trial": (at(0, 17), at(0, 18)),
    }
    (move,) = plan.moves
    assert (move.free_at, move.after_package) == (at(0, 15), "cabin")


def test_a_piece_that_is_not_shared_serves_one_job_at_a_time() -> None:
    plan = solved(
        small_refit(
            job("sew", 3, place="shed", pieces=("cushion",)),
            job("fill", 4, place="shed", pieces=("cushion",)),
            pieces=(Piece("cushion", "shed"),),
        )
    )
    assert dates(plan) == {"sew": (at(0, 8), at(0, 11)), "fill": (at(0, 11), at(0, 15))}


def test_a_gap_before_a_booking_is_used_only_if_the_piece_is_back_in_time() -> None:
    # coat is booked at the shop Tue 12:00, two hours away, so a job in the shed must end by 10:00
    # on Tuesday (the way is open then). 10 h from Mon 8:00 end Tue 10:00 and fit; 11 h do not and
    # come after the coat: shop Tue 12-14, shed from Tue 16:00, hence Wed 8:00.
    def plan_with(hours: int) -> Plan:
        return solved(
            small_refit(
                job("sand", hours, place="shed", pieces=("frame",)),
                job("coat", 2, place="shop", pieces=("frame",), booked=at(1, 12)),
                pieces=(Piece("frame", "shed"),),
            )
        )

    assert dates(plan_with(10))["sand"] == (at(0, 8), at(1, 10))
    assert dates(plan_with(11))["sand"][0] == at(2, 8)
    assert dates(plan_with(11))["coat"] == dates(plan_with(10))["coat"] == (at(1, 12), at(1, 14))


def test_a_booking_is_reserved_and_longer_work_goes_around_it() -> None:
    # The bay is booked Wed 8-16. Two days fit before, three do not: Thu, Fri, Mon.
    in_bay = {"demands": (Demand("bay", through_hold=True),)}
    plan = solved(
        small_refit(
            job("two days", 16, **in_bay),
            job("three days", 24, **in_bay),
            job("booked", 8, booked=at(2, 8), **in_bay),
            resources=(BAY,),
        )
    )
    assert dates(plan) == {
        "two days": (at(0, 8), at(1, 16)),
        "booked": (at(2, 8), at(2, 16)),
        "three days": (at(3, 8), at(7, 16)),
    }
    assert plan.shortfalls == ()


def test_a_booking_before_the_end_of_what_it_waits_for_is_missed_and_said_so() -> None:
    # strip takes 20 h: Mon, Tue, Wed until 12:00. The coater was booked for Wed 8:00.
    plan = solved(
        small_refit(
            job("strip", 20),
            job("coat", 4, booked=at(2, 8)),
            dependencies=(Dependency("strip", "coat"),),
        )
    )
    assert dates(plan)["coat"] == (at(2, 12), at(2, 16))
    assert plan.shortfalls == (Shortfall(ShortfallKind.BOOKING, "coat", at(2, 8), at(2, 12)),)
    assert plan.shortfalls[0].by == 4 * HOUR


def test_a_booking_that_a_resource_delays_through_its_predecessor_is_given_up() -> None:
    # strip could end Mon 16:00 by hours alone, but its bay has an outage until Tue 8:00: it ends
    # Tue 16:00 and the coat booked for Tue 8:00 starts Wed 8:00.
    bay = Resource("bay", 1, ResourceKind.BAY, (Outage(0, at(1, 8), 1),))
    plan = solved(
        small_refit(
            job("strip", 8, demands=(Demand("bay"),)),
            job("coat", 4, booked=at(1, 8)),
            dependencies=(Dependency("strip", "coat"),),
            resources=(bay,),
        )
    )
    assert plan.shortfalls == (Shortfall(ShortfallKind.BOOKING, "coat", at(1, 8), at(2, 8)),)


def test_of_two_bookings_of_one_bay_one_is_kept_and_the_other_named() -> None:
    # Both want Tue 8:00; the earlier by id is reserved first, the other follows at 12:00.
    in_bay = {"demands": (Demand("bay"),), "booked": at(1, 8)}
    plan = solved(small_refit(job("b", 4, **in_bay), job("a", 4, **in_bay), resources=(BAY,)))
    assert plan.shortfalls == (Shortfall(ShortfallKind.BOOKING, "b", at(1, 8), at(1, 12)),)


def test_bookings_against_their_order_are_reported_not_refused() -> None:
    # second waits for first, but is booked a day before it: it follows on Wednesday at 12:00.
    plan = solved(
        small_refit(
            job("first", 4, booked=at(2, 8)),
            job("second", 4, booked=at(1, 8)),
            dependencies=(Dependency("first", "second"),),
        )
    )
    assert plan.shortfalls == (Shortfall(ShortfallKind.BOOKING, "second", at(1, 8), at(2, 12)),)


def test_a_booking_in_closed_hours_is_missed_until_opening() -> None:
    plan = solved(small_refit(job("coat", 4, booked=at(1, 7, 30))))
    assert plan.shortfalls == (Shortfall(ShortfallKind.BOOKING, "coat", at(1, 7, 30), at(1, 8)),)


def test_a_deadline_that_cannot_be_kept_is_reported() -> None:
    # 20 h end Wed 12:00; the deadline is Tue 16:00, 20 elapsed hours earlier.
    plan = solved(small_refit(job("weld", 20, deadline=at(1, 16))))
    assert plan.shortfalls == (Shortfall(ShortfallKind.DEADLINE, "weld", at(1, 16), at(2, 12)),)
    assert plan.shortfalls[0].by == 20 * HOUR


def test_a_deadline_decides_who_goes_first() -> None:
    # One crew, 8 h each: only the one that starts on Monday is done on Monday.
    by_crew = {"demands": (Demand("crew"),)}
    plan = solved(
        small_refit(
            job("a", 8, **by_crew),
            job("b", 8, deadline=at(0, 16), **by_crew),
            resources=(CREW,),
        )
    )
    assert dates(plan) == {"b": (at(0, 8), at(0, 16)), "a": (at(1, 8), at(1, 16))}
    assert plan.shortfalls == ()


def test_a_window_that_a_weekend_breaks_is_missed_when_the_first_coat_is_booked() -> None:
    # coat 1 is booked for Friday 8-16; coat 2 within 24 h, that is by Sat 16:00. The next open
    # minute is Mon 8:00, 40 hours too late.
    plan = solved(
        small_refit(
            job("coat 1", 8, booked=at(4, 8)),
            job("coat 2", 4),
            dependencies=(Dependency("coat 1", "coat 2", max_lag=24 * HOUR),),
        )
    )
    (missed,) = plan.shortfalls
    assert missed == Shortfall(ShortfallKind.WINDOW, "coat 2", at(5, 16), at(7, 8), before="coat 1")
    assert missed.by == 40 * HOUR


def test_a_window_is_kept_by_delaying_the_first_coat_if_that_is_free() -> None:
    # coat 1 could end Fri 16:00, and coat 2 (4 h of drying later, at most 24 h) cannot be on
    # Saturday. coat 2 can be on Monday if coat 1 ends on Monday: begun Fri 14:01 it ends Mon
    # 8:01, the earliest end inside a window that reaches an open hour; 4 h on, Mon 12:01.
    plan = solved(
        small_refit(
            job("coat 1", 2, not_before=at(4, 14)),
            job("coat 2", 3),
            dependencies=(Dependency("coat 1", "coat 2", FS, 4 * HOUR, 24 * HOUR),),
        )
    )
    assert plan.shortfalls == ()
    assert dates(plan) == {
        "coat 1": (at(4, 14, 1), at(7, 8, 1)),
        "coat 2": (at(7, 12, 1), at(7, 15, 1)),
    }


def test_a_window_is_kept_when_its_second_package_has_to_wait_for_a_bay() -> None:
    # The bay is taken by a booking Mon 8 - Wed 16. mix is good for 2 h, so it must not be made on
    # Monday: spread can start Thu 8:00, so mix ends Thu 6:00 at the earliest. Work of 1 h that
    # ends after Wed 16:00 starts at Wed 15:01 and ends Thu 8:01, and spread follows.
    plan = solved(
        small_refit(
            job("mix", 1),
            job("spread", 2, demands=(Demand("bay"),)),
            job("guest", 24, booked=at(0, 8), demands=(Demand("bay"),)),
            dependencies=(Dependency("mix", "spread", max_lag=2 * HOUR),),
            resources=(BAY,),
        )
    )
    assert plan.shortfalls == ()
    assert dates(plan)["mix"] == (at(2, 15, 1), at(3, 8, 1))
    assert dates(plan)["spread"] == (at(3, 8, 1), at(3, 10, 1))


def test_a_window_nobody_can_keep_is_reported_without_delaying_anything() -> None:
    # The hold alone is longer than the window allows: start to start at most 2 h, work 4 h.
    plan = solved(
        small_refit(
            job("mix", 4),
            job("spread", 2),
            dependencies=(
                Dependency("mix", "spread"),
                Dependency("mix", "spread", Relation.START_TO_START, 0, 2 * HOUR),
            ),
        )
    )
    assert dates(plan) == {"mix": (at(0, 8), at(0, 12)), "spread": (at(0, 12), at(0, 14))}
    assert [s.kind for s in plan.shortfalls] == [ShortfallKind.WINDOW]


def test_begun_work_counts_on_from_now_and_finished_work_holds_on() -> None:
    # Now is Tuesday 12:00. coat was finished today at 10:00 and cures 24 h, to Wed 10:00: the
    # bay is taken until then. strip was begun Mon 8:00 and has 3 h left: Tue 15:00. wires was
    # begun Mon 12:00 with 12 h planned, 8 of them over (Mon 12-16, Tue 8-12): 4 h, Tue 16:00.
    # late was begun Mon 8:00 with 4 h planned: all over, so it is done at now, not before.
    plan = solved(
        small_refit(
            job(
                "coat",
                4,
                hold=24 * HOUR,
                demands=(Demand("bay", through_hold=True),),
                progress=Progress(at(0, 8), finished=at(1, 10)),
            ),
            job("strip", 9, progress=Progress(at(0, 8), remaining=3 * HOUR)),
            job("wires", 12, progress=Progress(at(0, 12))),
            job("late", 4, progress=Progress(at(0, 8))),
            job("next", 2, demands=(Demand("bay"),)),
            resources=(BAY,),
            now=at(1, 12),
        )
    )
    assert dates(plan) == {
        "coat": (at(0, 8), at(2, 10)),
        "strip": (at(0, 8), at(1, 15)),
        "wires": (at(0, 12), at(1, 16)),
        "late": (at(0, 8), at(1, 12)),
        "next": (at(2, 10), at(2, 12)),
    }


def test_begun_work_may_break_a_dependency_and_says_where_its_piece_is() -> None:
    # second was begun before first, which it waits for: a fact. It has the frame at the shop
    # (though the frame is said to be in the shed) until Tue 10:00, two more hours from now. first
    # needs it in the shed: Tue 12:00.
    plan = solved(
        small_refit(
            job("first", 1, place="shed", pieces=("frame",)),
            job(
                "second",
                4,
                place="shop",
                pieces=("frame",),
                progress=Progress(at(0, 14), remaining=2 * HOUR),
            ),
            dependencies=(Dependency("first", "second"),),
            pieces=(Piece("frame", "shed"),),
            now=at(1, 8),
        )
    )
    assert dates(plan) == {"second": (at(0, 14), at(1, 10)), "first": (at(1, 12), at(1, 13))}


def test_nothing_starts_in_the_past_and_a_past_booking_is_missed() -> None:
    plan = solved(small_refit(job("coat", 4, booked=at(0, 8)), job("sand", 1), now=at(1, 9)))
    assert dates(plan) == {"coat": (at(1, 9), at(1, 13)), "sand": (at(1, 9), at(1, 10))}
    assert [s.package for s in plan.shortfalls] == ["coat"]


def test_a_promise_stretches_the_work_and_those_behind_wait() -> None:
    # 4 h could end Mon 12:00, but the shop says Thursday 12:00; the hold runs from there.
    plan = solved(
        small_refit(
            job("weld", 4, promised=at(3, 12), hold=HOUR),
            job("fit", 2),
            dependencies=(Dependency("weld", "fit"),),
        )
    )
    assert Planned("weld", at(0, 8), at(3, 12), at(3, 13)) in plan.packages
    assert dates(plan)["fit"] == (at(3, 13), at(3, 15))


def test_a_promise_that_is_too_early_does_not_shorten_the_work() -> None:
    plan = solved(small_refit(job("weld", 12, promised=at(0, 12))))
    assert dates(plan)["weld"] == (at(0, 8), at(1, 12))


def test_the_plan_before_is_kept_where_another_is_no_better() -> None:
    # a and b are alike, so either may go first; what was planned is not turned round.
    by_crew = {"demands": (Demand("crew"),)}
    problem = small_refit(job("a", 4, **by_crew), job("b", 4, **by_crew), resources=(CREW,))
    turned = Plan(
        (
            Planned("a", at(0, 12), at(0, 16), at(0, 16)),
            Planned("b", at(0, 8), at(0, 12), at(0, 12)),
        )
    )
    assert level(problem) != level(problem, previous=turned)
    assert level(problem, previous=turned).packages == turned.packages


def test_an_empty_refit_has_an_empty_plan() -> None:
    assert level(small_refit()) == Plan(())


def test_a_ring_of_packages_is_named() -> None:
    with pytest.raises(CycleFound) as found:
        level(
            small_refit(
                job("a"), job("b"), dependencies=(Dependency("a", "b"), Dependency("b", "a"))
            )
        )
    assert set(found.value.ids) == {"a", "b"}


@pytest.mark.parametrize(
    ("problem", "message"),
    [
        (small_refit(job("a"), job("a")), "a is given twice"),
        (small_refit(job("a", pieces=("frame",), place="shed")), "a names the unknown piece frame"),
        (small_refit(job("a", demands=(Demand("bay"),))), "a names the unknown resource bay"),
        (small_refit(job("a", place="moon")), "a names the unknown place moon"),
        (
            small_refit(job("a", pieces=("frame",)), pieces=(Piece("frame", "shed"),)),
            "a needs pieces but names no place",
        ),
        (small_refit(pieces=(Piece("frame", "moon"),)), "frame names the unknown place moon"),
        (
            small_refit(job("a", demands=(Demand("bay", 2),)), resources=(BAY,)),
            "a demands 2 of bay, which never has more than 1",
        ),
        (
            small_refit(job("a", demands=(Demand("bay"), Demand("bay"))), resources=(BAY,)),
            "a demands a resource twice",
        ),
        (small_refit(resources=(Resource("bay", -1, ResourceKind.BAY),)), "capacity -1"),
        (
            small_refit(resources=(Resource("bay", 1, ResourceKind.BAY, (Outage(9, 9, 1),)),)),
            "outage from 9 to 9",
        ),
        (small_refit(job("a", progress=Progress(5)), now=4), "a reports progress from after now"),
    ],
)
def test_what_makes_no_sense_is_refused_by_name(problem: Problem, message: str) -> None:
    with pytest.raises(BadProblem, match=message):
        level(problem)


def test_a_way_nobody_stated_is_refused_with_both_places() -> None:
    problem = small_refit(
        job("fit", place="shed", pieces=("frame",)), pieces=(Piece("frame", "shop"),)
    )
    stranded = Problem(
        **{name: getattr(problem, name) for name in problem.__slots__ if name != "travels"}
    )
    with pytest.raises(BadProblem, match="from shop to shed"):
        level(stranded)


def test_a_calendar_that_ends_before_the_work_is_refused() -> None:
    with pytest.raises(BeyondHorizon, match="weekdays"):
        level(small_refit(job("endless", 1000)))

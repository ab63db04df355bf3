"""Whole documents planned, with dates reckoned by hand. Monday is 2 November 2026, in Lisbon."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from refit.planning.solve import NoPlan

from .documents import (
    MONDAY,
    a_document,
    booking,
    crew,
    dates,
    days_off,
    distance,
    handoff,
    package,
    piece,
    place,
    solved,
    vendor,
    wait,
    weekdays,
)


def test_work_pauses_over_the_night_and_a_hold_does_not() -> None:
    # 10 h from Monday 08:00: 9 h on Monday, 1 h on Tuesday; then 24 h on the clock.
    plan = solved(a_document(package("A", 600, hold_minutes=1440)))
    assert dates(plan, "A") == ("Mon 02 Nov 08:00", "Wed 04 Nov 09:00")


def test_a_cure_that_ends_on_saturday_lets_work_start_on_monday() -> None:
    # 45 h of work end Friday 17:00; 24 h of cure end Saturday 17:00.
    plan = solved(
        a_document(
            package("A", 45 * 60, hold_minutes=1440, hold_reason="cure"),
            package("B", 60),
            dependencies=[wait("A", "B", reason="sand it hard")],
        )
    )
    assert dates(plan, "B") == ("Mon 09 Nov 08:00", "Mon 09 Nov 09:00")
    assert plan.answers["B"].cause == (
        "waits for A Job A: its cure ends Sat 7 Nov 17:00, and Shed opens Mon 9 Nov 08:00"
        " (sand it hard)"
    )
    assert plan.answers["B"].cause_kind == "dependency"


def test_work_over_the_autumn_change_ends_at_the_right_local_time() -> None:
    # From Friday 23 October 13:00: 4 h on Friday, 9 h on Monday 26 (now winter time) until 17:00.
    document = a_document(package("A", 13 * 60), refit={"start": "2026-10-19"})
    plan = solved(document, datetime(2026, 10, 23, 12, 0, tzinfo=UTC))
    assert dates(plan, "A") == ("Fri 23 Oct 13:00", "Mon 26 Oct 17:00")
    planned = plan.answers["A"].planned
    # On the clock it is 76 hours and the one that comes twice.
    assert planned.finish - planned.start == 77 * 60


def test_a_cure_over_the_autumn_change_lasts_as_long_as_it_says() -> None:
    # 48 h from Friday 17:00 summer time end on Sunday 16:00 winter time.
    document = a_document(package("A", 540, hold_minutes=48 * 60), refit={"start": "2026-10-19"})
    plan = solved(document, datetime(2026, 10, 23, 7, 0, tzinfo=UTC))
    assert dates(plan, "A") == ("Fri 23 Oct 08:00", "Sun 25 Oct 16:00")


def test_holidays_and_closures_are_not_worked() -> None:
    # Tuesday 1 December is a public holiday, Wednesday a closure: Monday's 18 h end on Thursday.
    shed = place("Shed", holiday_country="PT", closures=[days_off("2026-12-02")])
    document = a_document(package("A", 1080), places=[shed], refit={"start": "2026-11-30"})
    plan = solved(document, datetime(2026, 11, 30, 8, 0, tzinfo=UTC))
    assert dates(plan, "A") == ("Mon 30 Nov 08:00", "Thu 03 Dec 17:00")


def test_named_people_do_not_work_while_they_are_away_and_others_do() -> None:
    document = a_document(
        package("A", 1080, people=["Runa"]),
        package("B", 1080, people=["Teo"]),
        crew=[crew("Runa", days_off("2026-11-03", "2026-11-04")), crew("Teo")],
    )
    plan = solved(document)
    assert dates(plan, "A") == ("Mon 02 Nov 08:00", "Thu 05 Nov 17:00")
    assert dates(plan, "B") == ("Mon 02 Nov 08:00", "Tue 03 Nov 17:00")


def test_packages_with_the_same_people_away_share_a_calendar() -> None:
    absent = crew("Runa", days_off("2026-11-03"))
    document = a_document(
        package("A", people=["Runa"]), package("B", people=["Runa"]), package("C"), crew=[absent]
    )
    assert len(solved(document).built.problem.calendars) == 2


def test_nobody_is_in_two_packages_at_once() -> None:
    plan = solved(
        a_document(
            package("A", 540, people=["Runa"]),
            package("B", 540, people=["Runa"]),
            crew=[crew("Runa"), crew("Teo")],
        )
    )
    starts = sorted(dates(plan, code)[0] for code in "AB")
    assert starts == ["Mon 02 Nov 08:00", "Tue 03 Nov 08:00"]


def test_more_hands_than_there_are_must_wait() -> None:
    # Two hands each, three in the crew: one after the other.
    plan = solved(
        a_document(
            package("A", 540, helpers=2),
            package("B", 540, helpers=2),
            crew=[crew("Runa"), crew("Teo"), crew("Mirre")],
        )
    )
    assert sorted(dates(plan, code)[0] for code in "AB") == ["Mon 02 Nov 08:00", "Tue 03 Nov 08:00"]


def test_a_hand_that_is_away_is_missing_from_the_crew() -> None:
    # Two of two hands: not before Teo is back on Wednesday.
    document = a_document(
        package("A", 540, helpers=2), crew=[crew("Runa"), crew("Teo", days_off("2026-11-03"))]
    )
    plan = solved(document, MONDAY + timedelta(hours=5))
    assert dates(plan, "A")[0] == "Wed 04 Nov 08:00"
    assert plan.answers["A"].cause.startswith("waits for hands: enough are free Wed 4 Nov 00:00")


def test_a_package_that_needs_more_hands_than_the_crew_has_is_refused_by_name() -> None:
    with pytest.raises(NoPlan) as refused:
        solved(a_document(package("A", helpers=2), crew=[crew("Runa")]))
    assert refused.value.sentences == [
        "A Job A needs 2 hands at once, but the crew has 1 person; add people or ask for fewer."
    ]
    assert refused.value.codes == ["A"]


@pytest.mark.parametrize(
    ("jobs", "starts"),
    [(1, ["Mon 02 Nov 08:00", "Tue 03 Nov 08:00"]), (2, ["Mon 02 Nov 08:00", "Mon 02 Nov 08:00"])],
)
def test_a_vendor_does_as_many_jobs_at_once_as_it_says(jobs: int, starts: list[str]) -> None:
    plan = solved(
        a_document(
            package("A", 540, at="Booth", vendor="Coater"),
            package("B", 540, at="Booth", vendor="Coater"),
            places=[place("Booth", vendor="Coater")],
            vendors=[vendor("Coater", jobs)],
        )
    )
    assert sorted(dates(plan, code)[0] for code in "AB") == starts


def test_a_bay_and_a_zone_stay_taken_until_the_hold_ends() -> None:
    # A ends Monday 17:00 and holds until Tuesday 12:00.
    for fields in ({"takes_bay": True}, {"zones": ["Deck"]}):
        plan = solved(
            a_document(
                package("A", 540, hold_minutes=19 * 60, **fields),
                package("B", 60, **fields),
                places=[place("Shed", bays=1)],
                zones=[{"name": "Deck"}],
                dependencies=[wait("A", "B", relation="start-to-start")],
            )
        )
        assert dates(plan, "B")[0] == "Tue 03 Nov 12:00"


def test_a_piece_travels_before_the_next_shop_can_start() -> None:
    # A ends Monday 17:00 as the shed closes: it leaves Tuesday 08:00 and is there at 09:30.
    plan = solved(
        a_document(
            package("A", 540, needs=("F",)),
            package("B", 60, at="Booth", needs=("F",)),
            places=[place("Shed"), place("Booth")],
            pieces=[piece("F", "Shed", returns_to="Shed")],
            distances=[distance("Shed", "Booth", 90)],
            dependencies=[wait("A", "B")],
        )
    )
    assert dates(plan, "B") == ("Tue 03 Nov 09:30", "Tue 03 Nov 10:30")
    assert plan.answers["B"].cause == (
        "waits for Piece F: A Job A has it until Mon 2 Nov 17:00, then 1 h 30 min from Shed,"
        " there Tue 3 Nov 09:30"
    )
    there, back = plan.moves
    assert (there.after_package, there.for_package) == ("A", "B")
    assert (back.destination, back.for_package) == ("Shed", None)


def test_a_guessed_way_is_owned_up_to() -> None:
    plan = solved(
        a_document(
            package("A", 60, at="Booth", needs=("F",)),
            places=[place("Shed"), place("Booth")],
            pieces=[piece("F", "Shed")],
        )
    )
    assert dates(plan, "A")[0] == "Mon 02 Nov 09:00"
    assert any(
        note.startswith("How far it is from Shed to Booth is not known; the plan guesses 60")
        for note in plan.notes
    )


def test_a_promise_stretches_the_work_and_what_waits_for_it() -> None:
    plan = solved(
        a_document(
            package("A", 60, started_at="2026-11-02T07:00:00Z", promised="2026-11-05T12:00:00Z"),
            package("B", 60, is_launch=True),
            dependencies=[wait("A", "B")],
        )
    )
    assert dates(plan, "B")[0] == "Thu 05 Nov 12:00"
    assert plan.driving == ["A", "B"]
    assert plan.because == "A Job A is promised by our crew for Thu 5 Nov 12:00"


def test_a_late_vendor_pushes_the_launch_day_by_day() -> None:
    # 4 h of work are said to be left, and nobody says that they are done.
    document = a_document(
        package(
            "A",
            540,
            at="Booth",
            vendor="Coater",
            started_at="2026-11-02T08:00:00Z",
            remaining_minutes=240,
            promised="2026-11-03T17:00:00Z",
        ),
        package("L", 60, is_launch=True),
        places=[place("Shed"), place("Booth", vendor="Coater")],
        vendors=[vendor("Coater")],
        dependencies=[wait("A", "L")],
    )
    launches = [
        dates(solved(document, datetime(2026, 11, day, 8, 0, tzinfo=UTC)), "L")[0]
        for day in (3, 4, 5, 6)
    ]
    assert launches == [
        "Wed 04 Nov 08:00",  # the promise still holds: Tuesday 17:00
        "Wed 04 Nov 12:00",
        "Thu 05 Nov 12:00",
        "Fri 06 Nov 12:00",
    ]
    late = solved(document, datetime(2026, 11, 5, 8, 0, tzinfo=UTC)).notes
    assert late == [
        "A Job A was promised for Tue 3 Nov 17:00 and is not reported as finished. The plan"
        " counts what is left from now; ask Coater for a new date."
    ]


def test_nothing_starts_before_the_refit_does() -> None:
    plan = solved(a_document(package("A", 60)), MONDAY - timedelta(days=20))
    assert dates(plan, "A")[0] == "Mon 02 Nov 08:00"


def test_a_window_missed_is_noted_with_what_can_be_done() -> None:
    # A ends Friday 17:00; B within 24 h would be Saturday.
    plan = solved(
        a_document(
            package("A", 540, started_at="2026-11-06T08:00:00Z", remaining_minutes=540),
            package("B", 60),
            dependencies=[wait("A", "B", max_lag_minutes=1440, reason="the primer must be fresh")],
        ),
        datetime(2026, 11, 6, 8, 0, tzinfo=UTC),
    )
    assert plan.notes[0] == (
        "B Job B must follow A Job A by Sat 7 Nov 17:00 at the latest (the primer must be fresh),"
        " but comes Mon 9 Nov 08:00, 39 h too late. Start A Job A later in the week so that no"
        " closed days lie between, or add a package that makes the surface ready again (abrade,"
        " clean)."
    )


def test_a_deadline_missed_is_noted() -> None:
    plan = solved(
        a_document(
            package("A", 1080, deadline="2026-11-03T12:00:00Z", deadline_reason="spring tide")
        )
    )
    assert plan.notes[0].startswith(
        "A Job A must be finished by Tue 3 Nov 12:00 (spring tide) but ends Tue 3 Nov 17:00, 5 h"
        " late."
    )


def test_the_wanted_launch_is_no_deadline() -> None:
    plan = solved(
        a_document(package("A", 1080, is_launch=True), refit={"wanted_launch": "2026-11-02"})
    )
    assert plan.plan.shortfalls == ()
    assert plan.notes == []


def test_bookings_that_contradict_each_other_are_both_named() -> None:
    plan = solved(
        a_document(
            package("A", 540),
            package("M", 60),
            package("B", 60),
            dependencies=[wait("A", "M"), wait("M", "B")],
            bookings=[booking("A", "2026-11-05T08:00:00Z"), booking("B", "2026-11-04T08:00:00Z")],
        )
    )
    assert plan.notes[0] == (
        "Two bookings contradict each other: B Job B is booked for Wed 4 Nov 08:00, but it comes"
        " after A Job A, by way of M Job M, which is booked for Thu 5 Nov 08:00. It can start"
        " Fri 6 Nov 09:00 at the earliest; agree another date for one of the two."
    )


def test_a_booking_in_closed_hours_says_so() -> None:
    plan = solved(a_document(package("A", 60), bookings=[booking("A", "2026-11-07T08:00:00Z")]))
    assert plan.notes[0].startswith(
        "A Job A is booked for Sat 7 Nov 08:00, when Shed is closed or somebody it needs is away"
    )


def test_a_booking_that_passed_asks_whether_it_has_begun() -> None:
    document = a_document(package("A", 60), bookings=[booking("A", "2026-11-02T08:00:00Z")])
    plan = solved(document, MONDAY + timedelta(days=2))
    assert plan.notes[0].startswith("A Job A was booked for Mon 2 Nov 08:00 and is not reported")


def test_not_before_is_kept_and_is_the_cause() -> None:
    document = a_document(
        package("A", 60),
        bookings=[booking("A", "2026-11-04T09:00:00Z", "not before", agreed_with="Dag")],
    )
    plan = solved(document)
    assert dates(plan, "A")[0] == "Wed 04 Nov 09:00"
    assert plan.answers["A"].cause == "is agreed for not before Wed 4 Nov 09:00, agreed with Dag"


def test_a_working_lag_counts_in_the_hours_of_the_place_of_the_second() -> None:
    # A ends Monday 17:00; 4 h of opening hours later it is Tuesday 13:00 in a shop from 09:00.
    plan = solved(
        a_document(
            package("A", 540),
            package("B", 60, at="Loft"),
            places=[place("Shed"), place("Loft", hours=weekdays("09:00", "17:00"))],
            dependencies=[wait("A", "B", min_lag_minutes=240, lag_in="working")],
        )
    )
    assert dates(plan, "B")[0] == "Tue 03 Nov 13:00"


def test_a_ring_is_named_by_titles() -> None:
    with pytest.raises(NoPlan) as refused:
        solved(
            a_document(
                package("A"),
                package("B"),
                package("C"),
                dependencies=[wait("A", "B"), wait("B", "C"), wait("C", "A")],
            )
        )
    [sentence] = refused.value.sentences
    assert "in a ring: " in sentence
    ring = sentence.split("in a ring: ")[1].split(". ")[0].split(" → ")
    assert ring[0] == ring[-1]
    assert set(ring) == {"A Job A", "B Job B", "C Job C"}
    assert sorted(refused.value.codes) == ["A", "B", "C"]


def test_a_place_without_hours_is_refused_only_where_there_is_work_left() -> None:
    document = a_document(
        package("A", at="Booth"), places=[place("Shed"), place("Booth", hours=[])]
    )
    with pytest.raises(NoPlan) as refused:
        solved(document)
    assert refused.value.sentences == [
        "Booth has no opening hours; add them so that work there can be planned."
    ]
    assert refused.value.codes == ["A"]
    document["packages"][0]["place"] = "Shed"
    assert dates(solved(document), "A")[0] == "Mon 02 Nov 08:00"


def test_every_obstacle_is_named_at_once() -> None:
    document = a_document(
        package("A", at="Booth", helpers=1), places=[place("Shed"), place("Booth", hours=[])]
    )
    document["places"][1]["holiday_country"] = "XX"
    with pytest.raises(NoPlan) as refused:
        solved(document)
    assert len(refused.value.sentences) == 3


def test_progress_from_the_future_is_refused_by_name() -> None:
    with pytest.raises(NoPlan) as refused:
        solved(a_document(package("A", started_at="2026-11-03T08:00:00Z")))
    assert refused.value.sentences == [
        "A Job A has an actual start in the future (Tue 3 Nov 08:00); correct it or take it out."
    ]


def test_hours_that_never_come_are_no_plan() -> None:
    shed = place("Shed", closures=[days_off("2026-11-01", "2060-01-01")])
    with pytest.raises(NoPlan) as refused:
        solved(a_document(package("A"), places=[shed]))
    assert "opening hours are known" in refused.value.sentences[0]


def test_work_of_many_years_gets_a_longer_horizon() -> None:
    # 45 h a week: 9,990 h are 222 weeks, which end on a Friday 222 * 7 - 3 days after the Monday.
    plan = solved(a_document(package("A", 222 * 45 * 60)))
    assert plan.finish_at == datetime(2026, 11, 2, 17, 0, tzinfo=UTC) + timedelta(days=1551)


def test_no_packages_are_a_plan_without_dates() -> None:
    plan = solved(a_document())
    assert plan.answers == {}
    assert plan.launch_at is None


def test_a_piece_under_way_can_be_used_when_it_is_expected() -> None:
    document = a_document(
        package("A", 60, at="Booth", needs=("F",)),
        places=[place("Shed"), place("Booth")],
        pieces=[piece("F", None)],
        handoffs=[
            handoff(
                "F",
                "Shed",
                "Booth",
                state="under way",
                sent_at="2026-11-02T08:00:00Z",
                arrive_at="2026-11-04T10:00:00Z",
            )
        ],
    )
    plan = solved(document)
    assert dates(plan, "A")[0] == "Wed 04 Nov 10:00"
    assert plan.moves == ()
    assert plan.answers["A"].cause == (
        "waits for Piece F, which is on its way and expected Wed 4 Nov 10:00"
    )

"""Why this day, how long it may slip: what people read, word for word."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from refit.planning.solve import Solved

from .documents import (
    MONDAY,
    a_document,
    booking,
    crew,
    days_off,
    package,
    place,
    solved,
    vendor,
    wait,
)


def two(**lag: Any) -> Solved:
    """A: 10 h from Monday 08:00 and an hour of hold, until Tuesday 10:00. B, 1 h, waits for it."""
    return solved(
        a_document(
            package("A", 600, hold_minutes=60),
            package("B", 60, is_launch=True),
            dependencies=[wait("A", "B", **lag)],
        )
    )


@pytest.mark.parametrize(
    ("lag", "said"),
    [
        ({}, "waits for A Job A: its hold ends Tue 3 Nov 10:00"),
        (
            {"min_lag_minutes": 1500},
            "waits for A Job A: its hold ends Tue 3 Nov 10:00, then 25 h must pass",
        ),
        (
            {"min_lag_minutes": 600, "lag_in": "working"},
            "waits for A Job A: its hold ends Tue 3 Nov 10:00,"
            " then 1 day 2 h of opening hours must pass",
        ),
        (
            {"min_lag_minutes": -120},
            "waits for A Job A: its hold ends Tue 3 Nov 10:00, and the last 2 h may overlap",
        ),
        (
            {"relation": "start-to-start", "min_lag_minutes": 120},
            "waits for A Job A: it starts Mon 2 Nov 08:00, then 2 h must pass",
        ),
        (
            {"relation": "finish-to-finish"},
            "is not to finish before A Job A: its hold ends Tue 3 Nov 10:00",
        ),
        (
            {"relation": "start-to-finish", "min_lag_minutes": 180},
            "is not to finish before A Job A: it starts Mon 2 Nov 08:00, then 3 h must pass",
        ),
    ],
)
def test_a_dependency_says_which_end_it_waits_for_and_why(lag: dict[str, Any], said: str) -> None:
    assert two(**lag).answers["B"].cause == f"{said} (one is under the other)"


def test_shared_things_say_who_has_them_and_until_when() -> None:
    plan = solved(
        a_document(
            package("A", 540, at="Booth", vendor="Coater", is_launch=True),
            package("B", 60, at="Booth", vendor="Coater"),
            package("C", 60, takes_bay=True),
            package("D", 60, takes_bay=True),
            package("E", 60, zones=["Deck"]),
            package("F", 60, zones=["Deck"]),
            package("G", 60, people=["Runa"]),
            package("H", 60, people=["Runa"]),
            places=[place("Shed", bays=1), place("Booth", vendor="Coater")],
            vendors=[vendor("Coater")],
            zones=[{"name": "Deck"}],
            crew=[crew("Runa")],
            dependencies=[
                wait(first, then, relation="start-to-start")
                for first, then in ("AB", "CD", "EF", "GH")
            ],
        )
    )
    assert [plan.answers[code].cause for code in "BDFH"] == [
        "waits for Coater, who is busy with A Job A until Mon 2 Nov 17:00, and Booth opens"
        " Tue 3 Nov 08:00",
        "waits for the bay of Shed: C Job C takes it until Mon 2 Nov 09:00",
        "waits for Deck: E Job E takes it until Mon 2 Nov 09:00",
        "waits for Runa, who is busy with G Job G until Mon 2 Nov 09:00",
    ]
    assert [plan.answers[code].slip_note for code in "ACEG"] == [
        "any delay moves the launch",
        "any delay pushes D Job D, which needs the bay of Shed",
        "any delay pushes F Job F, which needs Deck",
        "any delay pushes H Job H, which needs Runa",
    ]


def test_a_window_says_what_it_must_not_come_too_early_for() -> None:
    # L needs 2,000 min until Thursday 14:20; B follows it, and A by at most two hours before B.
    plan = solved(
        a_document(
            package("A", 60),
            package("L", 2000),
            package("B", 60, is_launch=True),
            dependencies=[wait("A", "B", max_lag_minutes=120), wait("L", "B")],
        )
    )
    assert plan.answers["A"].cause == (
        "must not come too early for B Job B: at most 2 h may lie between (one is under the other)"
    )


def test_hours_say_when_the_place_opens_and_who_must_be_there() -> None:
    sunday = datetime(2026, 11, 8, 12, 0, tzinfo=UTC)
    assert solved(a_document(package("A", 60)), sunday).answers["A"].cause == (
        "nothing holds it: Shed opens Mon 9 Nov 08:00"
    )
    away = a_document(
        package("A", 60, people=["Runa"]), crew=[crew("Runa", days_off("2026-11-02", "2026-11-03"))]
    )
    assert solved(away).answers["A"].cause == (
        "nothing holds it: Shed is open with Runa there from Wed 4 Nov 08:00"
    )


def test_bookings_and_begun_work_say_so() -> None:
    plan = solved(
        a_document(
            package("A", 60, started_at="2026-11-02T07:00:00Z", is_launch=True),
            package("B", 60),
            bookings=[booking("B", "2026-11-05T08:00:00Z", agreed_with="Dag Ellery")],
        )
    )
    assert plan.answers["A"].cause == "was begun Mon 2 Nov 07:00"
    assert plan.answers["B"].cause == "is booked for Thu 5 Nov 08:00, agreed with Dag Ellery"
    assert plan.answers["B"].slip_note == "any delay misses its booking"
    assert plan.because == "A Job A is under way until Mon 2 Nov 09:00"


def test_what_nothing_waits_for_may_slip_as_long_as_it_likes() -> None:
    plan = solved(a_document(package("A", 60, is_launch=True), package("B", 60)))
    assert (plan.answers["B"].slip, plan.answers["B"].slip_note) == (None, "")
    assert plan.answers["A"].slip == 0


def test_without_a_launch_it_is_the_end_that_moves() -> None:
    plan = solved(a_document(package("A", 60)))
    assert plan.answers["A"].slip_note == "any delay moves the end of everything"
    assert plan.notes == [
        "No package is marked as the launch; the date shown is the finish of everything."
    ]


def test_a_year_is_said_when_it_is_another_one() -> None:
    plan = solved(a_document(package("A", 45 * 60 * 9)), MONDAY)
    assert plan.built.say(plan.answers["A"].planned.finish) == "Fri 1 Jan 2027 17:00"

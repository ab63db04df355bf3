"""Where pieces are when planning begins, and what rides on the boat."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from refit.interchange.document import RefitDocument
from refit.planning.solve import Solved
from refit.planning.travel import GUESS

from .documents import (
    MONDAY,
    a_document,
    dates,
    distance,
    handoff,
    package,
    piece,
    place,
    solved,
    wait,
)

PLACES = [place("Shed"), place("Booth"), place("Loft")]
WAYS = [
    distance("Shed", "Booth", 60), distance("Shed", "Loft", 60), distance("Booth", "Loft", 60),
]  # fmt: skip
WEDNESDAY = datetime(2026, 11, 4, 8, 0, tzinfo=UTC)


def boat(where: str | None = "Shed", **fields: Any) -> dict[str, Any]:
    return piece("BOAT", where, is_boat=True, **fields)


def a_yard(*packages: dict[str, Any], **lists: Any) -> RefitDocument:
    return a_document(*packages, places=PLACES, distances=WAYS, **lists)


def ways(plan: Solved) -> list[tuple[str, str, str]]:
    """Moves that people see, as (piece, origin, destination)."""
    return [(move.piece, move.origin, move.destination) for move in plan.moves]


def test_a_piece_that_comes_off_goes_to_the_shop_on_its_own_and_back_on_to_the_boat() -> None:
    plan = solved(
        a_yard(
            package("OFF", 60, takes_off=("F",)),
            package("WELD", 60, at="Booth", needs=("F",)),
            package("ON", 60, fits=("F",)),
            pieces=[boat(), piece("F", "Shed", fitted=True, returns_to="Loft")],
            dependencies=[wait("OFF", "WELD"), wait("WELD", "ON")],
        )
    )
    # It belongs to the loft, but is on the boat in the end and stays there.
    assert ways(plan) == [("F", "Shed", "Booth"), ("F", "Booth", "Shed")]


def test_a_fitted_piece_travels_with_the_boat_and_has_no_move_of_its_own() -> None:
    plan = solved(
        a_yard(
            package("PATTERN", 60, at="Loft", needs=("F",)),
            pieces=[boat(returns_to="Shed"), piece("F", None, fitted=True, returns_to="Shed")],
        )
    )
    assert ways(plan) == [("BOAT", "Shed", "Loft"), ("BOAT", "Loft", "Shed")]
    # An hour of road takes the boat 60 / 0.8 = 75 minutes.
    assert dates(plan, "PATTERN")[0] == "Mon 02 Nov 09:15"


def test_work_on_a_piece_after_it_was_fitted_needs_the_boat_there() -> None:
    plan = solved(
        a_yard(
            package("ON", 60, fits=("F",)),
            package("PATTERN", 60, at="Loft", needs=("F",)),
            pieces=[boat(), piece("F", "Shed")],
            dependencies=[wait("ON", "PATTERN")],
        )
    )
    assert ways(plan) == [("BOAT", "Shed", "Loft")]


def test_work_on_a_piece_before_it_comes_off_needs_the_boat_there() -> None:
    plan = solved(
        a_yard(
            package("LOOK", 60, at="Loft", needs=("F",)),
            package("OFF", 60, takes_off=("F",)),
            pieces=[boat(), piece("F", None, fitted=True)],
            dependencies=[wait("LOOK", "OFF")],
        )
    )
    assert ways(plan) == [("BOAT", "Shed", "Loft"), ("BOAT", "Loft", "Shed")]


def test_a_piece_is_taken_off_before_a_shop_works_on_it_even_if_nobody_said_so() -> None:
    plan = solved(
        a_yard(
            package("WELD", 60, at="Booth", needs=("F",)),
            package("ON", 60, fits=("F",)),
            package("OFF", 60, takes_off=("F",)),
            pieces=[boat(), piece("F", None, fitted=True)],
        )
    )
    order = sorted(plan.answers, key=lambda code: plan.answers[code].planned.start)
    assert order == ["OFF", "WELD", "ON"]
    assert ways(plan) == [("F", "Shed", "Booth"), ("F", "Booth", "Shed")]
    assert plan.answers["WELD"].cause.startswith("waits for Piece F: OFF Job OFF has it until")
    reasons = plan.built.reasons
    assert reasons["OFF", "WELD", "finish-to-start"] == "Piece F comes off the boat first"
    assert reasons["WELD", "ON", "finish-to-start"] == "Piece F goes on to the boat after that"
    assert set(plan.built.pieces.comes_first) == {("OFF", "ON"), ("OFF", "WELD"), ("WELD", "ON")}


def test_what_people_stated_is_never_turned_into_a_ring_by_what_follows() -> None:
    # Somebody wants the weld before the piece is off: then it is welded on the boat.
    plan = solved(
        a_yard(
            package("WELD", 60, at="Booth", needs=("F",)),
            package("OFF", 60, takes_off=("F",)),
            pieces=[boat(), piece("F", None, fitted=True)],
            dependencies=[wait("WELD", "OFF")],
        )
    )
    assert plan.built.pieces.comes_first == {}
    assert ways(plan) == [("BOAT", "Shed", "Booth"), ("BOAT", "Booth", "Shed")]


def test_a_finished_package_shows_whether_a_piece_is_on_the_boat() -> None:
    # The record still says fitted; taking it off is finished, so it is not.
    plan = solved(
        a_yard(
            package(
                "OFF",
                60,
                takes_off=("F",),
                started_at="2026-11-02T08:00:00Z",
                finished_at="2026-11-02T09:00:00Z",
            ),
            package("WELD", 60, at="Booth", needs=("F",)),
            pieces=[boat(), piece("F", "Shed", fitted=True)],
        ),
        WEDNESDAY,
    )
    assert ways(plan) == [("F", "Shed", "Booth")]


def test_begun_work_shows_where_a_piece_is() -> None:
    # The record has it in the shed since October; the booth has begun on it.
    plan = solved(
        a_yard(
            package("A", 2000, at="Booth", needs=("F",), started_at="2026-11-02T08:00:00Z"),
            package("B", 60, needs=("F",)),
            pieces=[piece("F", "Shed", since="2026-10-12T08:00:00Z")],
            dependencies=[wait("A", "B")],
        ),
        WEDNESDAY,
    )
    assert ways(plan) == [("F", "Booth", "Shed")]
    assert plan.built.is_here("F", "Booth")


def test_a_record_that_is_newer_than_the_work_wins_and_the_plan_says_what_is_odd() -> None:
    plan = solved(
        a_yard(
            package("A", 2000, at="Booth", needs=("F",), started_at="2026-11-02T08:00:00Z"),
            package("B", 60, at="Loft", needs=("F",)),
            pieces=[piece("F", "Loft", since="2026-11-03T08:00:00Z")],
        ),
        WEDNESDAY,
    )
    assert ways(plan) == []
    assert dates(plan, "B")[0] == "Wed 04 Nov 08:00"
    assert plan.notes[0] == ("Piece F (F) has left Booth, but A Job A is not reported as finished.")


def test_a_piece_sent_on_during_a_hold_is_not_held_back_by_it() -> None:
    plan = solved(
        a_yard(
            package(
                "A",
                60,
                at="Booth",
                needs=("F",),
                hold_minutes=7 * 1440,
                started_at="2026-11-02T08:00:00Z",
                finished_at="2026-11-02T09:00:00Z",
            ),
            package("B", 60, at="Loft", needs=("F",)),
            pieces=[piece("F", None)],
            handoffs=[
                handoff("F", "Booth", "Loft", state="under way", sent_at="2026-11-04T07:30:00Z")
            ],
        ),
        WEDNESDAY,
    )
    # Sent 07:30, an hour on the road.
    assert dates(plan, "B")[0] == "Wed 04 Nov 08:30"
    assert ways(plan) == []


def test_a_piece_that_is_overdue_on_the_road_may_come_any_moment() -> None:
    plan = solved(
        a_yard(
            package("B", 60, at="Loft", needs=("F",)),
            pieces=[piece("F", None)],
            handoffs=[
                handoff(
                    "F",
                    "Booth",
                    "Loft",
                    state="under way",
                    sent_at="2026-11-02T08:00:00Z",
                    arrive_at="2026-11-02T09:00:00Z",
                )
            ],
        ),
        WEDNESDAY,
    )
    assert dates(plan, "B")[0] == "Wed 04 Nov 08:00"


def test_a_piece_nobody_has_placed_is_taken_to_be_where_it_belongs_and_the_plan_says_so() -> None:
    plan = solved(
        a_yard(package("A", 60, needs=("F",)), pieces=[piece("F", None, returns_to="Loft")]),
    )
    assert ways(plan) == [("F", "Loft", "Shed"), ("F", "Shed", "Loft")]
    assert plan.notes[0] == (
        "Nobody has said where Piece F (F) is; the plan takes it to be at Loft."
    )


def test_several_packages_may_work_on_the_boat_at_once_in_one_place_only() -> None:
    plan = solved(
        a_yard(
            package("A", 60, needs=("BOAT",)),
            package("B", 60, needs=("BOAT",)),
            package("C", 60, at="Loft", needs=("BOAT",)),
            pieces=[boat()],
            dependencies=[wait("A", "C"), wait("B", "C")],
        )
    )
    assert dates(plan, "A")[0] == dates(plan, "B")[0] == "Mon 02 Nov 08:00"
    # 75 minutes with the boat behind.
    assert dates(plan, "C")[0] == "Mon 02 Nov 10:15"


def test_a_place_without_hours_may_keep_a_piece() -> None:
    plan = solved(
        a_document(
            package("A", 60, needs=("F",)),
            places=[place("Shed"), place("Barn", hours=[])],
            pieces=[piece("F", "Barn")],
        ),
        MONDAY,
    )
    assert plan.moves[0].arrive - plan.moves[0].depart == GUESS
    assert "Barn has no opening hours; the plan takes it to be open day and night." in plan.notes

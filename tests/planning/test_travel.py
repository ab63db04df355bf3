"""How far and how long, against published values and by hand."""

from __future__ import annotations

from typing import Any

import pytest

from refit.planning.travel import GUESS, Known, Roads, great_circle_km

from .documents import a_document, distance, package, piece, place, solved


@pytest.mark.parametrize(
    ("first", "second", "kilometres"),
    [
        # The usual worked example of the haversine formula (two airports), at a radius of
        # 6371.0 km: 2886.4444 km.
        ((36.12, -86.67), (33.94, -118.40), 2886.4444),
        # One degree of a circle with that radius: 2 * pi * 6371.0 / 360 = 111.1949 km.
        ((0, 0), (1, 0), 111.1949),
        ((0, 0), (0, 1), 111.1949),
        # Pole to pole: pi * 6371.0 = 20015.087 km.
        ((90, 0), (-90, 0), 20015.087),
        ((44.5, -63.1), (44.5, -63.1), 0.0),
    ],
)
def test_great_circles_have_the_published_length(
    first: tuple[float, float], second: tuple[float, float], kilometres: float
) -> None:
    assert great_circle_km(first, second) == pytest.approx(kilometres, abs=0.0005)


def test_the_short_way_round_goes_over_the_date_line() -> None:
    assert great_circle_km((0, 179.5), (0, -179.5)) == pytest.approx(111.1949, abs=0.0005)


def roads(*distances: tuple[str, str, str | None, int | None], **refit: Any) -> Roads:
    return Roads.of(
        a_document(
            places=[
                place("Shed", latitude="0", longitude="0"),
                place("Booth", latitude="1", longitude="0"),
                place("Loft"),
            ],
            distances=[
                {"origin": o, "destination": d, "kilometres": km, "minutes": minutes}
                for o, d, km, minutes in distances
            ],
            refit={"road_factor": "1.2", "road_speed_kmh": 60, "loading_minutes": 20} | refit,
        )
    )


def test_without_an_entry_the_straight_line_is_stretched_by_the_road_factor() -> None:
    # 111.1949 km * 1.2 = 133.434 km at 60 km/h: 133.434 min, 134 when rounded up; + 20 loading.
    way = roads().way("Shed", "Booth")
    assert way.minutes == 154
    assert way.kilometres == pytest.approx(133.434, abs=0.001)
    assert way.known is Known.COORDINATES


def test_entered_kilometres_are_driven_at_the_refits_speed() -> None:
    # 70 km at 70 km/h are exactly 60 minutes.
    way = roads(("Shed", "Booth", "70", None), road_speed_kmh=70).way("Shed", "Booth")
    assert (way.minutes, way.kilometres, way.known) == (80, 70.0, Known.KILOMETRES)


def test_entered_minutes_win_over_kilometres() -> None:
    way = roads(("Shed", "Booth", "70", 45)).way("Shed", "Booth")
    assert (way.minutes, way.kilometres, way.known) == (65, 70.0, Known.MINUTES)


def test_an_entry_holds_for_the_way_back_unless_that_has_its_own() -> None:
    both = roads(("Booth", "Shed", None, 50), ("Shed", "Booth", None, 40))
    assert both.way("Shed", "Booth").minutes == 60
    assert both.way("Booth", "Shed").minutes == 70
    assert roads(("Booth", "Shed", None, 50)).way("Shed", "Booth").minutes == 70


def test_an_unknown_way_is_a_guess_and_says_so() -> None:
    way = roads().way("Shed", "Loft")
    assert (way.minutes, way.kilometres, way.guess) == (GUESS, None, True)


def test_staying_takes_no_time() -> None:
    assert roads().way("Shed", "Shed").minutes == 0


def test_with_the_boat_behind_the_drive_is_slower_and_loading_is_not() -> None:
    known = roads(("Shed", "Booth", None, 60))
    assert known.way("Shed", "Booth").minutes == 80
    # 60 min at 80 % of the speed: 60 / 0.8 = 75 min, and 20 loading.
    assert known.way("Shed", "Booth", towed=True).minutes == 95
    # A guess is a guess.
    assert known.way("Shed", "Loft", towed=True).minutes == GUESS


def test_the_plan_gives_the_boat_the_towed_time_and_a_piece_the_other() -> None:
    both = [piece("ST-00", "Shed", is_boat=True), piece("ST-03", "Shed")]
    jobs = [
        package("A", at="Booth", needs=("ST-00",)),
        package("B", at="Booth", needs=("ST-03",)),
    ]
    plan = solved(
        a_document(
            *jobs,
            pieces=both,
            places=[place("Shed"), place("Booth")],
            distances=[distance("Shed", "Booth", 60)],
            driving={"tow_speed": 50},
        )
    )
    # An hour without the boat, two at half the speed.
    took = {move.piece: move.arrive - move.depart for move in plan.moves}
    assert took == {"ST-00": 120, "ST-03": 60}

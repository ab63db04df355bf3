"""Readings against criteria: gloss, film, limits."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from refit.quality.judging import Shot, Wanted, judge
from tests.builders import NOW

GLOSS = Wanted("gloss", "60", "GU", "at least", Decimal(80), None, 3)
FILM = Wanted("film", "", "µm", "spots", Decimal(100), None, 5)


def shot(station: str, *numbers: float, stage: str = "after", hours: int = 0, **more: str) -> Shot:
    kind = {"method": "gloss", "geometry": "60", "unit": "GU"} | more
    return Shot(
        station=station, stage=stage, numbers=tuple(Decimal(str(n)) for n in numbers),
        at=NOW + timedelta(hours=hours), **kind,
    )  # fmt: skip


def test_gloss_fails_at_one_station_is_reworked_and_passes() -> None:
    first = [shot("P1", 84, 85, 86), shot("P2", 71, 72, 73), shot("P3", 88)]
    failed = judge(GLOSS, first)
    assert failed.passed is False
    assert failed.sentence == (
        "Failed. 3 stations at 60°: 72 to 88 GU, mean 81.7. Wanted: at least 80 GU."
        " Outside: P2 (72)."
    )
    passed = judge(GLOSS, [*first, shot("P2", 82, 83, 84, hours=4)])
    assert passed.passed is True
    assert "Every station is inside" in passed.sentence


def test_readings_of_another_geometry_are_never_compared() -> None:
    # One panel reads 35 GU at 20°, 70 at 60° and 95 at 85° (ISO 2813:2014, basic principles).
    panel = [
        shot(f"P{n}", gloss, geometry=angle)
        for n in (1, 2, 3)
        for angle, gloss in (("20", 35), ("60", 70), ("85", 95))
    ]
    at_60 = judge(GLOSS, panel)
    assert at_60.passed is False
    assert at_60.mean == 70
    only_85 = judge(GLOSS, [one for one in panel if one.geometry == "85"])
    assert only_85.passed is None
    assert only_85.sentence == "0 of 3 stations were read after the work."


def test_before_and_after_meet_at_the_same_station() -> None:
    found = judge(GLOSS, [shot("P1", 24, stage="before"), shot("P1", 86), shot("P9", 90)])
    one, other = found.stations
    assert [one.before, one.after, one.gained] == [Decimal(24), Decimal(86), Decimal(62)]
    assert other.gained is None


def test_numbers_far_apart_at_one_station_are_told_as_limits() -> None:
    # Spread above 5 GU: report limits, not just the mean (ISO 2813:1994, from memory).
    wide = judge(GLOSS, [shot("P1", 80, 86), shot("P2", 80, 85), shot("P3", 90)])
    assert [one.wide for one in wide.stations] == [(Decimal(80), Decimal(86)), None, None]


def film(*spots: float) -> list[Shot]:
    return [
        shot(f"S{n}", spot - 1, spot, spot + 1, method="film", geometry="", unit="µm")
        for n, spot in enumerate(spots, 1)
    ]


def test_film_spots_within_80_to_120_per_cent_and_the_mean_at_least_nominal() -> None:
    # SSPC-PA 2 and ISO 19840, read second-hand.
    assert judge(FILM, film(80, 100, 120, 105, 100)).passed is True
    low = judge(FILM, film(79, 110, 110, 110, 110))
    assert low.passed is False
    assert "Outside: S1 (79)" in low.sentence
    assert judge(FILM, film(121, 100, 100, 100, 100)).passed is False
    thin = judge(FILM, film(90, 95, 98, 99, 100))
    assert thin.passed is False
    assert "The mean, 96.4, is below the nominal, 100" in thin.sentence
    assert judge(FILM, film(100, 100, 100, 100)).passed is None


def test_limits_from_below_above_and_both_sides() -> None:
    def one(rule: str, low: str | None, high: str | None, value: float) -> bool | None:
        limits = [None if one is None else Decimal(one) for one in (low, high)]
        wanted = Wanted("other", "", "", rule, limits[0], limits[1], 1)
        return judge(wanted, [shot("A", value, method="other", geometry="", unit="")]).passed

    assert one("at most", None, "12", 12) is True
    assert one("at most", None, "12", 12.1) is False
    assert one("between", "10", "12", 9.9) is False
    assert one("between", "10", "12", 11) is True
    assert one("at least", None, None, 11) is None


@given(st.lists(st.integers(0, 100), min_size=3, max_size=8), st.integers(0, 100))
def test_gloss_passes_exactly_when_no_station_is_below(values: list[int], low: int) -> None:
    wanted = Wanted("gloss", "60", "GU", "at least", Decimal(low), None, 3)
    shots = [shot(f"P{n}", value) for n, value in enumerate(values)]
    assert judge(wanted, shots).passed is (min(values) >= low)

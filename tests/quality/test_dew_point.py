"""The dew point and the limits of the air, against calculated values and industry guides."""

from __future__ import annotations

from decimal import Decimal

import pytest

from refit.quality.dew_point import dew_point, judge_air
from refit.work.processes import library


@pytest.mark.parametrize(
    ("air", "humidity", "dew"),
    # Magnus with 17.62 and 243.12, calculated; constants of other sources agree within 0.05.
    [(20, 50, 9.26), (25, 60, 16.69), (15, 85, 12.50), (30, 70, 23.93), (10, 80, 6.71)],
)
def test_the_dew_point_is_that_of_the_magnus_formula(
    air: float, humidity: float, dew: float
) -> None:
    assert dew_point(air, humidity) == pytest.approx(dew, abs=0.05)


def test_at_a_hundred_per_cent_the_air_itself_is_the_dew_point() -> None:
    assert dew_point(18, 100) == pytest.approx(18)
    with pytest.raises(ValueError, match="humidity"):
        dew_point(18, 0)


def go(air: str, humidity: str, surface: str | None, step: str = "topcoat") -> object:
    limits = library()["spray-coating"].step(step).limits  # type: ignore[union-attr]
    return judge_air(
        air=Decimal(air),
        humidity=Decimal(humidity),
        surface=None if surface is None else Decimal(surface),
        limits=limits,
    )


def test_a_surface_three_degrees_above_the_dew_point_is_enough_and_less_is_not() -> None:
    # Air 25 °C and 60 %: spread 2.31 at 19.0 °C is refused, 3.31 at 20.0 °C accepted
    # (calculated; the limit of 3 °C: industry guides citing ISO 8502-4 and ISO 12944-7).
    refused, taken = go("25", "60", "19"), go("25", "60", "20")
    assert refused.go is False  # type: ignore[attr-defined]
    assert "2.3 °C above the dew point, less than 3 °C" in refused.sentence  # type: ignore[attr-defined]
    assert taken.go is True  # type: ignore[attr-defined]
    assert taken.spread == pytest.approx(3.31, abs=0.05)  # type: ignore[attr-defined]


def test_humidity_below_85_is_not_enough_by_itself() -> None:
    # Surface and air both 20 °C: a spread of 3 °C means at most 82.9 % (calculated).
    assert go("20", "84", "20").go is False  # type: ignore[attr-defined]
    assert go("20", "82.8", "20").go is True  # type: ignore[attr-defined]


def test_without_a_surface_nobody_knows_and_without_limits_neither() -> None:
    assert go("20", "50", None).go is None  # type: ignore[attr-defined]
    assert go("20", "90", None).go is False  # type: ignore[attr-defined]
    bare = judge_air(air=Decimal(20), humidity=Decimal(50), surface=Decimal(20), limits=())
    assert bare.go is None
    assert bare.sentence == "Not known: no limits are known for this work."

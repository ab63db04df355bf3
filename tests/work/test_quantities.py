"""Areas and paint against the formulas that paint makers publish, and their worked values."""

from __future__ import annotations

from decimal import Decimal as D

import pytest

from refit.work import quantities as q


def test_the_bottom_of_a_powerboat() -> None:
    # Paint makers: waterline x (beam + draft), some x 0.85. Worked: 6.4 x (2.5 + 0.45) = 18.88.
    area = q.bottom_area(D("6.4"), D("2.5"), D("0.45"))
    assert area == D("18.88")
    assert q.rounded(area * D("0.85")) == D("16.05")


def test_paint_for_two_coats_with_a_tenth_more() -> None:
    # Worked: 16.05 m2, 2 coats at 10 m2 a litre = 3.21 L, and 10 % = 3.53 L.
    bare = q.paint_litres(D("16.05"), coats=2, coverage=D(10), extra=D(0))
    assert q.rounded(bare) == D("3.21")
    assert q.rounded(q.paint_litres(D("16.05"), coats=2, coverage=D(10))) == D("3.53")


def test_length_times_beam_in_feet() -> None:
    # Read second-hand: LOA x B x 0.85 in feet. Worked: 24 x 8.5 = 173.4 ft2 = 16.11 m2.
    assert q.bottom_area_by_length(D(24), D("8.5")) == D("173.4")
    assert q.rounded(D("173.4") * q.SQUARE_FOOT) == D("16.11")


def test_sides_and_deck() -> None:
    # Paint makers: (LOA + B) x 2F; LOA x B x 0.75.
    assert q.freeboard_area(D("7.3"), D("2.5"), D("0.9")) == D("17.64")
    assert q.deck_area(D("7.3"), D("2.5")) == D("13.6875")


def test_only_what_the_dimensions_allow_is_estimated() -> None:
    known = {"length": D(7), "waterline": None, "beam": D(2), "draft": None, "freeboard": None}
    assert [one.of for one in q.of_boat(**known)] == ["bottom", "deck"]
    assert q.of_boat(length=None, waterline=None, beam=None, draft=None, freeboard=None) == []


def test_shapes() -> None:
    assert q.area_of_shape("rectangle", D(4), D("1.5")) == 6
    assert q.area_of_shape("triangle", D(4), D("1.5")) == 3
    assert q.area_of_shape("trapezium", D(3), D(1), D(2)) == 4
    assert q.rounded(q.area_of_shape("circle", D(2))) == D("3.14")
    assert q.rounded(q.area_of_shape("ellipse", D(4), D(2))) == D("6.28")
    with pytest.raises(q.Missing, match="A trapezium needs its height"):
        q.area_of_shape("trapezium", D(3), D(1))


def test_discs_cloth_and_gelcoat() -> None:
    assert q.discs(D("17.64"), area_a_disc=D(1), grits=4) == 72
    assert q.rounded(q.cloth_metres(D(3), layers=2, roll_width=D("1.25"))) == D("5.00")
    # 18 to 25 mil wet is 0.46 to 0.64 mm (gelcoat suppliers' guides): 0.5 mm on 1 m2 is 0.5 L.
    assert q.gelcoat_litres(D(1), D("0.5")) == D("0.5")
    assert q.squares(D("17.64")) == 49

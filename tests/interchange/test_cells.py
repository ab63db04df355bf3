"""What people type into cells, and what it means."""

from __future__ import annotations

from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refit.interchange import cells
from refit.interchange.cells import CellError, Habits
from refit.interchange.reading import guarded, unguarded
from refit.work.measures import FOOT, METRE, POUND

HALIFAX = Habits(ZoneInfo("America/Halifax"), Decimal("7.5"), "metric")


def read(cell: cells.Cell, text: str) -> object:
    return cell.read(text, HALIFAX, {})


def test_an_objection_to_what_is_typed_is_one_to_the_cell() -> None:
    with pytest.raises(CellError, match="is not a number"):
        read(cells.WHOLE, "twelve")
    with pytest.raises(CellError, match="can be read in two ways"):
        read(cells.MONEY, "1,250")


def test_a_day_of_work_has_the_hours_of_the_refit_and_a_day_of_hold_has_24() -> None:
    assert read(cells.WORKING, "2 d") == 900
    assert read(cells.ELAPSED, "2 d") == 2880
    assert cells.LAG.read("-2 h", HALIFAX, {"lag_in": "elapsed"}) == -120
    assert cells.LAG.read("1 d", HALIFAX, {"lag_in": "working"}) == 450


def test_a_bare_number_is_no_duration() -> None:
    with pytest.raises(CellError, match="Write it with a unit"):
        read(cells.WORKING, "2")


def test_moments_are_local_to_the_refit() -> None:
    # Halifax keeps UTC-4 in winter and UTC-3 in summer.
    assert read(cells.MOMENT, "2026-12-04 14:00") == "2026-12-04T18:00:00+00:00"
    assert read(cells.MOMENT, "2026-07-04T9:30") == "2026-07-04T12:30:00+00:00"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("4.12.2026", "is not a date and time; write it like 2026-12-04 14:00"),
        ("2026-12-04", "needs a time of day as well, like 2026-12-04 14:00"),
        ("2026-02-30 08:00", "is not a date and time that exists"),
        ("2026-12-04 25:00", "is not a date and time that exists"),
        ("2026-03-08 02:30", "does not exist: the clocks go forward over it"),
        ("1026-03-08 02:30", "the year must lie between 1900 and 2199"),
    ],
)
def test_moments_that_are_none_are_refused(text: str, said: str) -> None:
    with pytest.raises(CellError, match=said):
        read(cells.MOMENT, text)


def test_hours_are_read_in_the_ways_people_write_them() -> None:
    assert read(cells.HOURS, "8-12; 13:00–17.30") == [["08:00", "12:00"], ["13:00", "17:30"]]
    assert read(cells.HOURS, "18:00 to 24:00") == [["18:00", "00:00"]]
    assert read(cells.HOURS, "closed") == []
    for text, said in (
        ("all day", "are no hours"),
        ("17-8", "closes before it opens"),
        ("8-12; 11-17", "two of these spans overlap"),
        ("8-25", "a day ends at 24:00"),
    ):
        with pytest.raises(CellError, match=said):
            read(cells.HOURS, text)


def test_days_are_read_with_and_without_an_end_and_a_reason() -> None:
    assert read(cells.DAYS, "2026-12-24 to 2027-01-02 winter closing; 2026-11-27") == [
        {"first_day": "2026-12-24", "last_day": "2027-01-02", "reason": "winter closing"},
        {"first_day": "2026-11-27", "last_day": "2026-11-27", "reason": ""},
    ]
    with pytest.raises(CellError, match="ends before it begins"):
        read(cells.DAYS, "2026-12-24 to 2026-12-23")
    with pytest.raises(CellError, match="are no days"):
        read(cells.DAYS, "Christmas")


def test_feet_and_pounds_are_stored_metric() -> None:
    # 27 ft = 27 x 0.3048 m = 8.2296 m, kept to the millimetre.
    assert read(cells.measure(FOOT), "27") == "8.23"
    assert read(cells.measure(METRE), "8,23 m") == "8.23"
    # 100 lb = 45.359237 kg, kept to ten grams.
    assert read(cells.measure(POUND), "100") == "45.36"


def test_choices_are_read_with_or_without_hyphens_and_a_slip_gets_a_hint() -> None:
    relation = cells.choice("finish-to-start", "start-to-start")
    assert read(relation, "Finish to start") == "finish-to-start"
    with pytest.raises(CellError, match="Did you mean “finish-to-start”"):
        read(relation, "finish-to-strat")


@pytest.mark.parametrize("cell", ["=1+1", "+49", "-5", "@home", "\tx", "'=x", "''-5", "'quoted'"])
def test_an_apostrophe_guards_what_would_be_a_formula_and_comes_off_again(cell: str) -> None:
    assert guarded(cell)[0] == "'"
    assert unguarded(guarded(cell)) == cell


@given(st.text(max_size=8))
def test_guarding_loses_nothing(cell: str) -> None:
    assert unguarded(guarded(cell)) == cell


EVERY_CELL = [
    cells.TEXT, cells.YES, cells.WHOLE, cells.MONEY, cells.WORKING, cells.ELAPSED, cells.LAG,
    cells.MOMENT, cells.HOURS, cells.DAYS, cells.choice("a", "b"), cells.measure(FOOT),
    cells.some_names("names"), cells.decimal("degrees", 5, -90, 90),
]  # fmt: skip


@given(st.sampled_from(EVERY_CELL), st.text(min_size=1, max_size=20))
def test_any_text_is_read_or_refused_with_a_sentence(cell: cells.Cell, text: str) -> None:
    try:
        value = cell.read(text, HALIFAX, {})
    except CellError as error:
        sentence = str(error)
    else:
        sentence = cell.write(value, HALIFAX, {}) or "nothing"
    assert sentence


@given(
    st.sampled_from(
        [
            (cells.WORKING, st.integers(0, 500_000)),
            (cells.ELAPSED, st.integers(0, 500_000)),
            (cells.LAG, st.integers(-500_000, 500_000)),
            (cells.YES, st.booleans()),
        ]
    ).flatmap(lambda pair: st.tuples(st.just(pair[0]), pair[1]))
)
def test_what_is_written_is_read_back_to_the_same(pair: tuple[cells.Cell, object]) -> None:
    cell, value = pair
    assert cell.read(cell.write(value, HALIFAX, {}), HALIFAX, {}) == value

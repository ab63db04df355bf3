"""How sure the launch is, in words."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from refit.planning.models import PlanRisk
from refit.planning.risk_words import say_days, say_sure, say_tenths
from refit.work.models import Refit

TODAY = date(2026, 11, 25)


def noon(month: int, day: int, year: int = 2027) -> datetime:
    return datetime(year, month, day, 12, tzinfo=UTC)


def a_risk(**fields: object) -> PlanRisk:
    known: dict[str, object] = {
        "runs": 10_000,
        "p10": noon(1, 6),
        "p50": noon(1, 12),
        "p80": noon(1, 18),
        "p90": noon(1, 20),
        "mean": noon(1, 13),
        "wanted_share": 0.19,
        "promises": [
            {"code": "C3", "vendor": "Brackwater Canvas", "gain": 2112, "drives": 0.4},
            {"code": "F2", "vendor": "Scoter Coating Works", "gain": 1889, "drives": 0.3},
        ],
        "bases": [
            {"vendor": "Brackwater Canvas", "returns": 9},
            {"vendor": "Scoter Coating Works", "returns": 0},
        ],
    }
    return PlanRisk(**(known | fields))


REFIT = Refit(time_zone="UTC", wanted_launch=date(2027, 1, 7))
NAMED = {"C3": ("Fit the canvas", noon(1, 4)), "F2": ("Spray the frame", noon(12, 1, 2026))}


def test_the_range_the_day_wanted_and_the_promise_are_said_as_on_the_telephone() -> None:
    sure = say_sure(a_risk(), refit=REFIT, today=TODAY, named=NAMED)
    assert sure.said == "In 8 of 10 tries it is afloat by Mon 18 Jan 2027, in half by Tue 12 Jan."
    assert sure.wanted == "In 2 of 10 tries it is afloat by Thu 7 Jan, the day wanted."
    assert sure.promise == (
        "What matters most is that Brackwater Canvas is done with “Fit the canvas” on Mon 4 Jan"
        " 2027. If that is never late, the launch comes 1½ days earlier on average."
    )
    assert sure.span == "Wed 6 to Wed 20 Jan"
    assert (sure.first, sure.half, sure.most, sure.last) == tuple(
        date(2027, 1, day) for day in (6, 12, 18, 20)
    )


def test_what_the_runs_rest_on_is_said_with_what_is_only_assumed() -> None:
    basis = say_sure(a_risk(), refit=REFIT, today=TODAY, named=NAMED).basis
    assert basis.startswith("10,000 tries of this plan")
    assert "its own record here: Brackwater Canvas (9 returns)." in basis
    assert "For Scoter Coating Works it is assumed" in basis
    assert "common practice, no source" in basis
    ours = say_sure(a_risk(bases=[]), refit=REFIT, today=TODAY, named=NAMED).basis
    assert "assumed" not in ours
    assert "record" not in ours


def test_days_are_those_of_the_refits_own_zone() -> None:
    there = Refit(time_zone="Pacific/Auckland")
    assert say_sure(a_risk(), refit=there, today=TODAY, named={}).most == date(2027, 1, 19)


def test_nothing_is_said_where_there_is_nothing_to_say() -> None:
    small = [{"code": "C3", "vendor": "Brackwater Canvas", "gain": 600, "drives": 0.4}]
    sure = say_sure(
        a_risk(promises=small, wanted_share=None), refit=REFIT, today=TODAY, named=NAMED
    )
    assert (sure.promise, sure.wanted) == ("", "")
    gone = say_sure(a_risk(), refit=REFIT, today=TODAY, named={"F2": NAMED["F2"]})
    assert "“Spray the frame”" in gone.promise


def test_a_launch_that_hardly_varies_is_one_day() -> None:
    same = dict.fromkeys(("p10", "p50", "p80", "p90"), noon(1, 6))
    sure = say_sure(a_risk(**same), refit=REFIT, today=TODAY, named=NAMED)
    assert sure.is_one_day
    assert sure.said == "In nearly every try it is afloat by Wed 6 Jan 2027."
    two = say_sure(a_risk(p50=noon(1, 18)), refit=REFIT, today=TODAY, named=NAMED)
    assert two.said == "In 8 of 10 tries it is afloat by Mon 18 Jan 2027."
    months = say_sure(a_risk(p90=noon(2, 3)), refit=REFIT, today=TODAY, named=NAMED)
    assert months.span == "Wed 6 Jan to Wed 3 Feb"


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.0, "hardly any try"),
        (0.049, "hardly any try"),
        (0.1, "1 of 10 tries"),
        (0.78, "8 of 10 tries"),
        (0.951, "nearly every try"),
        (1.0, "nearly every try"),
    ],
)
def test_shares_are_said_in_tenths(share: float, said: str) -> None:
    assert say_tenths(share) == said


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (720, "half a day"),
        (1440, "1 day"),
        (2112, "1½ days"),
        (2880, "2 days"),
        (5 * 1440 + 720, "6 days"),
    ],
)
def test_what_a_promise_is_worth_is_said_to_half_a_day(minutes: int, said: str) -> None:
    assert say_days(minutes) == said

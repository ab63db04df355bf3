"""Dates in the languages of letters, against the locale tables of Unicode (CLDR), from memory."""

from datetime import UTC, date, datetime

import pytest

from refit.work.dates import LANGUAGES, dates_in, example
from refit.work.wording import say_day, say_moment

DAY = date(2026, 11, 25)
MOMENT = datetime(2026, 11, 25, 14, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("", "Wed 25 Nov 14:00"),
        ("de", "Mi 25. November 14:00"),
        ("fr", "mer 25 novembre 14:00"),
        ("nb", "ons 25. november 14:00"),
        ("en-us", "Wed November 25 2 p.m."),
        ("xx", "Wed 25 Nov 14:00"),
    ],
)
def test_a_moment_is_said_in_the_language_chosen(language: str, said: str) -> None:
    with dates_in(language):
        assert say_moment(MOMENT, UTC, DAY) == said
    assert say_moment(MOMENT, UTC, DAY) == "Wed 25 Nov 14:00", "and only inside"


def test_the_year_is_said_when_it_is_another() -> None:
    with dates_in("de"):
        assert say_day(DAY, date(2027, 1, 1)) == "Mi 25. November 2026"


def test_every_language_can_be_chosen_and_no_two_are_said_alike() -> None:
    said = {example(code) for code in LANGUAGES}
    assert len(said) == len(LANGUAGES)
    assert all("25" in one for one in said)

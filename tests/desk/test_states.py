"""How a package stands, in words."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from refit.desk.states import open_days, say_slip, state_of
from refit.planning.models import PlannedPackage
from refit.work.models import Refit, WorkPackage
from tests.builders import NOW

REFIT = Refit(time_zone="UTC")


def _state(planned_in_days: float | None = None, **fields: Any) -> str:
    planned = None
    if planned_in_days is not None:
        planned = PlannedPackage(start=NOW + timedelta(days=planned_in_days))
    return state_of(WorkPackage(**fields), planned, REFIT, NOW).word


def test_every_state_has_its_word() -> None:
    day = timedelta(days=1)
    assert _state() == "no date yet"
    assert _state(0.2) == "starts today"
    assert _state(1) == "starts tomorrow"
    assert _state(9) == "to come"
    assert _state(started_at=NOW - day) == "under way"
    assert _state(started_at=NOW - day, promised=NOW - day / 2) == "overdue"
    assert _state(started_at=NOW - day, promised=NOW + day) == "under way"
    assert _state(started_at=NOW - day, finished_at=NOW) == "finished"
    cured = _state(started_at=NOW - day, finished_at=NOW, hold_minutes=120)
    assert cured == "hold until Wed 25 Nov 11:00"
    assert _state(started_at=NOW - day, finished_at=NOW - day / 2, hold_minutes=120) == "finished"


@pytest.mark.parametrize(
    ("minutes", "drives", "said"),
    [
        (None, False, ""),
        (0, True, "drives the launch"),
        (600, True, "drives the launch"),
        (0, False, "may not slip"),
        (40, False, "may slip 40 min"),
        (359, False, "may slip 5 h"),
        (1440, False, "may slip a day"),
        (4319, False, "may slip 2 days"),
    ],
)
def test_a_slip_is_rounded_down(minutes: int | None, drives: bool, said: str) -> None:
    assert say_slip(PlannedPackage(slip_minutes=minutes, drives=drives)) == said


def test_only_open_weekdays_are_counted() -> None:
    # Mon 23 Nov to Sun 29 Nov 2026 holds five weekdays; from Fri to Mon two.
    weekdays = {0, 1, 2, 3, 4}
    assert open_days(date(2026, 11, 23), date(2026, 11, 29), weekdays) == 5
    assert open_days(date(2026, 11, 27), date(2026, 11, 30), weekdays) == 2
    assert open_days(date(2026, 11, 27), date(2026, 11, 30), set()) == 4
    assert open_days(date(2026, 11, 27), date(2026, 11, 20), weekdays) == 0

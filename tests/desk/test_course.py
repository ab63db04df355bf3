"""The drawing of the course to the launch."""

from __future__ import annotations

import itertools
from datetime import date, timedelta

from refit.desk.course import LETTER, MARGIN, RIGHT, WIDTH, draw_course
from refit.planning.models import PlannedPackage
from refit.work.models import Refit, WorkPackage
from tests.builders import NOW


def _row(code: str, start: float, work: float, hold: float = 0) -> PlannedPackage:
    begins = NOW + timedelta(days=start)
    return PlannedPackage(
        package=WorkPackage(code=code, title=code),
        start=begins,
        work_finish=begins + timedelta(days=work),
        finish=begins + timedelta(days=work + hold),
    )


def test_days_become_lengths_on_one_scale() -> None:
    refit = Refit(time_zone="UTC")
    chain = [_row("A", 0, 10), _row("B", 10, 5, 5)]
    course = draw_course(refit=refit, now=NOW, launch_at=NOW + timedelta(days=20), chain=chain)
    assert course is not None
    one_day = (WIDTH - MARGIN - RIGHT) / 20
    first, second = course.legs
    assert first.x1 == MARGIN
    assert abs(second.x1 - (MARGIN + 10 * one_day)) < 0.1
    assert abs(second.x3 - second.x1 - 10 * one_day) < 0.2
    assert course.launch == course.end == WIDTH - RIGHT
    assert course.wanted is None


def test_a_wanted_day_after_the_launch_stretches_the_line() -> None:
    refit = Refit(time_zone="UTC", wanted_launch=date(2027, 1, 14))
    course = draw_course(
        refit=refit, now=NOW, launch_at=NOW + timedelta(days=20), chain=[_row("A", 0, 20)]
    )
    assert course is not None
    assert course.wanted == course.end
    # The label ends where the drawing does.
    assert course.wanted_middle + LETTER * len(course.wanted_label) / 2 == WIDTH
    assert course.launch < course.end


def test_work_begun_earlier_is_drawn_from_today() -> None:
    refit = Refit(time_zone="UTC")
    course = draw_course(
        refit=refit, now=NOW, launch_at=NOW + timedelta(days=9), chain=[_row("A", -5, 14)]
    )
    assert course is not None
    assert course.legs[0].x1 == MARGIN


def test_labels_of_mondays_leave_each_other_room() -> None:
    refit = Refit(time_zone="UTC")
    for days in (5, 30, 200, 900):
        course = draw_course(
            refit=refit, now=NOW, launch_at=NOW + timedelta(days=days), chain=[_row("A", 0, 1)]
        )
        assert course is not None
        places = [tick.x for tick in course.ticks if tick.label]
        assert all(b - a >= 60 for a, b in itertools.pairwise(places))


def test_no_label_below_the_line_touches_another() -> None:
    for launch in (5, 20, 43, 90, 400):
        for wanted in range(-20, 120):
            refit = Refit(time_zone="UTC", wanted_launch=NOW.date() + timedelta(days=wanted))
            course = draw_course(
                refit=refit, now=NOW, launch_at=NOW + timedelta(days=launch), chain=[]
            )
            assert course is not None
            labels = [(6 + LETTER * 2.5, "today"), (course.wanted_middle, course.wanted_label)]
            labels += [(tick.x, tick.label) for tick in course.ticks if tick.label]
            ends = sorted((x - LETTER * len(s) / 2, x + LETTER * len(s) / 2) for x, s in labels)
            assert all(a[1] <= b[0] + 0.1 for a, b in itertools.pairwise(ends)), (launch, wanted)
            assert ends[-1][1] <= WIDTH + 0.1


def test_a_launch_that_is_past_is_not_drawn() -> None:
    refit = Refit(time_zone="UTC")
    assert draw_course(refit=refit, now=NOW, launch_at=NOW, chain=[]) is None

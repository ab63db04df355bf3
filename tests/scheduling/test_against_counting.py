"""Critical path against a method that knows no arithmetic: move a minute, look again.

The counting scheduler below shares nothing with the real one but the words of `problem`. It moves
each package a minute later as long as anything asked of it is broken, and stops when nothing is;
for latest dates a minute earlier. Hopelessly slow, and hard to get wrong.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import accumulate

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from refit.scheduling import critical_path
from refit.scheduling.problem import (
    BadProblem,
    BeyondHorizon,
    Calendar,
    Contradiction,
    Dependency,
    Package,
    Problem,
    Progress,
    Relation,
    ShortfallKind,
)

PERIOD, REPEATS = 14, 6
CLOSED = PERIOD * REPEATS
"""From here on every calendar is closed; packages without work may still be later."""
LIMIT = CLOSED + 60

Dates = dict[str, int]


class Counting:
    """A problem, looked at minute by minute."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.packages = {package.id: package for package in problem.packages}
        self.open = {
            calendar.id: {m for start, end in calendar.spans for m in range(start, end)}
            for calendar in problem.calendars
        }
        self.so_far = {
            name: list(accumulate((m in minutes for m in range(CLOSED)), initial=0))
            for name, minutes in self.open.items()
        }

    def count(self, calendar: str, start: int, end: int) -> int:
        """Open minutes in [start, end); negative backwards."""
        so_far = self.so_far[calendar]
        return so_far[min(max(end, 0), CLOSED)] - so_far[min(max(start, 0), CLOSED)]

    def work_finish(self, package: Package, start: int) -> int | None:
        if package.progress is not None and package.progress.finished is not None:
            return package.progress.finished
        moment, left = start, package.work
        if package.progress is not None:
            done = self.count(package.calendar, start, self.problem.now)
            remaining = package.progress.remaining
            left = max(0, package.work - done) if remaining is None else remaining
            moment = self.problem.now
        while left:
            left -= moment in self.open[package.calendar]
            moment += 1
            if moment > CLOSED:
                return None
        return max(moment, package.promised or 0)

    def finish(self, name: str, dates: Dates) -> int | None:
        end = self.work_finish(self.packages[name], dates[name])
        return None if end is None else end + self.packages[name].hold

    def ends(self, dependency: Dependency, dates: Dates) -> tuple[int | None, int | None]:
        relation, before, after = dependency.relation, dependency.before, dependency.after
        return (
            self.finish(before, dates) if relation.from_finish else dates[before],
            dates[after] if relation.to_start else self.finish(after, dates),
        )

    def keeps_minimum(self, dependency: Dependency, dates: Dates) -> bool:
        first, second = self.ends(dependency, dates)
        if first is None or second is None:
            return False
        if dependency.lag_calendar is None or dependency.min_lag == 0:
            return second >= first + dependency.min_lag
        return self.count(dependency.lag_calendar, first, second) >= dependency.min_lag

    def keeps_window(self, dependency: Dependency, dates: Dates) -> bool:
        first, second = self.ends(dependency, dates)
        if dependency.max_lag is None:
            return True
        if first is None or second is None:
            return False
        if dependency.lag_calendar is None:
            return second <= first + dependency.max_lag
        return self.count(dependency.lag_calendar, first, second) <= dependency.max_lag

    def startable(self, package: Package, start: int) -> bool:
        open_minutes = self.open[package.calendar]
        if package.unbroken and package.progress is None:
            return all(start + minute in open_minutes for minute in range(package.work))
        return not package.work or start in open_minutes

    def earliest(self) -> Dates | None:
        """None if that never ends."""
        dates = {}
        for package in self.problem.packages:
            wishes = (self.problem.now, package.not_before or 0, package.booked or 0)
            dates[package.id] = max(wishes)
            if package.progress is not None:
                dates[package.id] = package.progress.started
        moving = True
        while moving:
            moving = False
            for name, package in self.packages.items():
                if package.progress is not None:
                    continue
                while not self.right_so_far(package, dates):
                    dates[name] += 1
                    moving = True
                    if dates[name] > LIMIT:
                        return None
        return dates if all(self.finish(name, dates) is not None for name in dates) else None

    def right_so_far(self, package: Package, dates: Dates) -> bool:
        if not self.startable(package, dates[package.id]):
            return False
        if self.finish(package.id, dates) is None:
            return False
        for dependency in self.problem.dependencies:
            if dependency.after == package.id and not self.keeps_minimum(dependency, dates):
                return False
            if (
                dependency.before == package.id
                and package.booked is None
                and not self.keeps_window(dependency, dates)
            ):
                return False
        return True

    def in_time(
        self, package: Package, dates: Dates, others: Dates, earliest: Dates, end: int
    ) -> bool:
        """Whether the date of one package is early enough, the others being at ``others``."""
        name = package.id
        mixed = {**others, name: dates[name]}
        finish = self.finish(name, mixed)
        if finish is None or finish > end or not self.startable(package, dates[name]):
            return False
        for dependency in self.problem.dependencies:
            after = self.packages[dependency.after]
            if dependency.before == name and after.progress is None:
                if not self.keeps_minimum(dependency, mixed):
                    return False
            elif dependency.after == name:
                before = self.packages[dependency.before]
                fixed = before.booked is not None or before.progress is not None
                seen = {**mixed, before.id: earliest[before.id]} if fixed else mixed
                if not self.keeps_window(dependency, seen):
                    return False
        return True

    def end(self, earliest: Dates, name: str | None) -> int:
        finishes = [self.finish(other, earliest) or 0 for other in self.packages]
        if name is not None and name == self.problem.target:
            return self.finish(name, earliest) or 0
        return max(finishes)

    def latest(self, earliest: Dates) -> Dates | None:
        dates = {
            name: earliest[name] if package.progress is not None else LIMIT
            for name, package in self.packages.items()
        }
        moving = True
        while moving:
            moving = False
            for name, package in self.packages.items():
                if package.progress is not None:
                    continue
                end = min(
                    self.end(earliest, name),
                    LIMIT if package.deadline is None else package.deadline,
                )
                booked = LIMIT if package.booked is None else package.booked
                while dates[name] > booked or not self.in_time(
                    package, dates, dates, earliest, end
                ):
                    dates[name] -= 1
                    moving = True
                    if dates[name] < 0:
                        return None
        return dates

    def free_float(self, name: str, earliest: Dates) -> int:
        package = self.packages[name]
        if package.booked is not None:
            return 0
        dates = dict(earliest)
        dates[name] = LIMIT
        while dates[name] > earliest[name] and not self.in_time(
            package, dates, earliest, earliest, self.end(earliest, name)
        ):
            dates[name] -= 1
        return self.count(package.calendar, earliest[name], dates[name])


@st.composite
def calendars(draw: st.DrawFn, name: str) -> Calendar:
    """Opening hours that repeat, such as weeks do, with one closure."""
    if draw(st.integers(0, 3)) == 0:
        return Calendar(name, ((0, CLOSED),))
    cuts = sorted(draw(st.sets(st.integers(0, PERIOD - 1), min_size=2, max_size=6)))
    pairs = list(zip(cuts[::2], cuts[1::2], strict=False))
    closed = draw(st.integers(0, REPEATS))
    return Calendar(
        name,
        tuple(
            (week * PERIOD + start, week * PERIOD + end)
            for week in range(REPEATS)
            if week != closed
            for start, end in pairs
        ),
    )


@st.composite
def problems(draw: st.DrawFn, *, windows: bool = True, wishes: bool = True) -> Problem:
    hours = (draw(calendars("crew")), draw(calendars("shop")))
    size = draw(st.integers(2, 5))
    now = draw(st.integers(0, 10))
    packages = []
    for number in range(size):
        package = Package(
            f"P{number}",
            work=draw(st.integers(0, 6)),
            calendar=draw(st.sampled_from(("crew", "shop"))),
            hold=draw(st.sampled_from((0, 0, 3, 8))),
        )
        if wishes:
            wish = draw(st.integers(0, 9))
            moment = draw(st.integers(0, 45))
            if wish == 0:
                package = replace(package, booked=moment)
            elif wish == 1:
                package = replace(package, not_before=moment)
            elif wish == 2:
                package = replace(package, deadline=moment)
            elif wish == 3:
                package = replace(package, promised=moment)
            elif wish == 4:
                started = draw(st.integers(0, now))
                finished = draw(st.none() | st.integers(started, now))
                remaining = draw(st.none() | st.integers(0, 5))
                package = replace(package, progress=Progress(started, remaining, finished))
            package = replace(package, unbroken=draw(st.integers(0, 3)) == 0)
        packages.append(package)
    pairs = [(i, j) for j in range(size) for i in range(j)]
    dependencies = []
    for i, j in draw(st.lists(st.sampled_from(pairs), max_size=6)):
        relation = draw(st.sampled_from((Relation.FINISH_TO_START, *Relation)))
        lag = draw(st.sampled_from((0, 0, 4, 7, -3)))
        window = None
        if windows and draw(st.booleans()):
            window = max(0, lag) + draw(st.integers(0, 20))
        lag_calendar = draw(st.sampled_from((None, None, "crew", "shop")))
        dependencies.append(Dependency(f"P{i}", f"P{j}", relation, lag, window, lag_calendar))
    order = draw(st.permutations(packages))
    target = draw(st.none() | st.sampled_from([package.id for package in packages]))
    return Problem(tuple(order), tuple(dependencies), hours, now=now, target=target)


def compare(problem: Problem) -> None:
    counting = Counting(problem)
    never = {
        package.id
        for package in problem.packages
        if package.unbroken
        and package.progress is None
        and not any(counting.startable(package, start) for start in range(CLOSED))
    }
    if never:
        event("never open for so long")
        with pytest.raises(BadProblem, match="in one go"):
            critical_path(problem)
        return
    earliest = counting.earliest()
    try:
        path = critical_path(problem)
    except (BeyondHorizon, Contradiction) as error:
        event(type(error).__name__)
        assert earliest is None
        return
    assert earliest is not None
    event("dated")
    for row in path.packages:
        assert row.start == earliest[row.id]
        assert row.work_finish == counting.work_finish(counting.packages[row.id], row.start)
        assert row.finish == counting.finish(row.id, earliest)
    latest = counting.latest(earliest)
    for row in path.packages:
        package = counting.packages[row.id]
        if package.progress is not None:
            continue
        assert row.free_float == counting.free_float(row.id, earliest) or package.promised
        if latest is not None:
            assert row.latest_start == latest[row.id]
            known = min(counting.open[package.calendar]) <= latest[row.id]
            if known and not package.promised:
                assert row.total_float == counting.count(
                    package.calendar, row.start, latest[row.id]
                )
    event("latest compared" if latest is not None else "hopeless deadline")
    compare_conflicts(problem, counting, earliest)


def compare_conflicts(problem: Problem, counting: Counting, earliest: Dates) -> None:
    expected: set[tuple[ShortfallKind, str]] = set()
    for name, package in counting.packages.items():
        progress = package.progress
        if package.booked is not None and progress is None and earliest[name] > package.booked:
            expected.add((ShortfallKind.BOOKING, name))
        finish = counting.finish(name, earliest)
        if package.deadline is not None and (finish or 0) > package.deadline:
            expected.add((ShortfallKind.DEADLINE, name))
    for dependency in problem.dependencies:
        after = counting.packages[dependency.after]
        if after.progress is None and not counting.keeps_window(dependency, earliest):
            expected.add((ShortfallKind.WINDOW, dependency.after))
    found = critical_path(problem).conflicts
    assert {(conflict.kind, conflict.package) for conflict in found} == expected
    assert all(conflict.because[-1] == conflict.package for conflict in found)
    assert all(conflict.by > 0 for conflict in found)


@settings(max_examples=400, deadline=None)
@given(problems(windows=False, wishes=False))
def test_dates_and_floats_are_those_found_by_counting(problem: Problem) -> None:
    compare(problem)


@settings(max_examples=400, deadline=None)
@given(problems())
def test_windows_bookings_and_progress_too(problem: Problem) -> None:
    compare(problem)

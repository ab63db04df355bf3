"""How a package stands, in words: a state with its sign, days done, what it may slip.

Pure: from a package, its planned dates and the moment.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo

from refit.planning.models import PlannedPackage
from refit.work.models import Refit, WorkPackage
from refit.work.wording import say_moment, say_near

DAY = 24 * 60


@dataclass(frozen=True)
class State:
    """``look`` is one of the looks of `.state` in refit.css."""

    word: str
    look: str
    group: str
    """under way, to come, finished: what lists are sorted by."""

    @property
    def is_news(self) -> bool:
        """Says more than the heading of its group does."""
        return self.word != self.group


def state_of(
    package: WorkPackage, planned: PlannedPackage | None, refit: Refit, now: datetime
) -> State:
    """The one word for a package at ``now``."""
    if package.finished_at is not None:
        hold_ends = package.finished_at + timedelta(minutes=package.hold_minutes)
        if hold_ends > now:
            return State(f"hold until {say_moment(hold_ends, refit.zone)}", "going", "under way")
        return State("finished", "ok", "finished")
    if package.started_at is not None:
        if package.promised is not None and package.promised < now:
            return State("overdue", "late", "under way")
        return State("under way", "going", "under way")
    if planned is None:
        return State("no date yet", "still", "to come")
    start = refit.local(planned.start).date()
    today = refit.today(now)
    if (start - today).days <= 1:
        return State(f"starts {say_near(start, today)}", "soon", "to come")
    return State("to come", "still", "to come")


def say_slip(planned: PlannedPackage | None) -> str:
    """“may slip 3 days”, “drives the launch”, or nothing if the launch does not wait for it."""
    if planned is None or planned.slip_minutes is None:
        return ""
    if planned.drives:
        return "drives the launch"
    if not planned.slip_minutes:
        return "may not slip"
    return f"may slip {_say_roughly(planned.slip_minutes)}"


def _say_roughly(minutes: int) -> str:
    """Rounded down, so that nobody counts on more: “3 days”, “a day”, “6 h”, “40 min”."""
    days, hours = minutes // DAY, minutes // 60
    if days:
        return "a day" if days == 1 else f"{days} days"
    return f"{hours} h" if hours else f"{minutes} min"


def open_days(first: date, last: date, weekdays: set[int]) -> int:
    """Days from ``first`` to ``last``, both included, on the given weekdays (all if none).

    Closures and holidays are not taken out: it counts working days the way people do aloud.
    """
    days = max((last - first).days + 1, 0)
    if not weekdays:
        return days
    return sum((first + timedelta(days=n)).weekday() in weekdays for n in range(min(days, 2000)))


def say_progress(package: WorkPackage, planned: PlannedPackage, zone: tzinfo, now: datetime) -> str:
    """“Day 3 of 4”, in open days of the place, for a package under way."""
    assert package.started_at is not None
    weekdays = {span.weekday for span in package.place.hours.all()}
    first = package.started_at.astimezone(zone).date()
    last = planned.work_finish.astimezone(zone).date()
    done = open_days(first, min(now.astimezone(zone).date(), last), weekdays)
    return f"Day {max(done, 1)} of {max(open_days(first, last, weekdays), done, 1)}"

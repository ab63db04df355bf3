"""Earned value and earned schedule against a baseline: is as much done as should be by now?

The figures are those of `refit.scheduling.earned_value`; here is what they are made of:

- A package is worth its agreed price, or else its budget, as the baseline kept it; one without
  either is worth nothing here, and counted in `Earned.without_money`.
- By the baseline its worth is earned evenly from its start to the end of its work.
- Done is all of it once it is finished; of one under way, the share of its working time that is
  not left by the last report, or else the share of its time that has passed by the current plan.
- Weeks count from the earliest start in the baseline.

What work has cost is not recorded here, so nothing is said about cost.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from refit.scheduling.earned_value import EarnedSchedule, EarnedValue, earned_schedule

from .baselines import PackageDrift
from .models import BaselinePackage

WEEK = timedelta(weeks=1)


@dataclass(frozen=True)
class Earned:
    """``value`` in money, ``schedule`` in weeks since ``begins``."""

    value: EarnedValue
    schedule: EarnedSchedule
    begins: datetime
    without_money: int

    @property
    def reached_at(self) -> datetime:
        """When as much as is done now was to be done by the baseline."""
        return self.begins + WEEK * float(self.schedule.earned)

    @property
    def ends_at(self) -> datetime | None:
        """When all of it is done if it goes on at this pace; None before anything is done."""
        weeks = self.schedule.estimate_at_completion
        return None if weeks is None else self.begins + WEEK * float(weeks)


def earned_against(kept: list[PackageDrift], now: datetime) -> Earned | None:
    """Where the work stands at ``now``; None before the baseline begins or without money in it."""
    rows = [(row.kept, row) for row in kept if row.kept is not None]
    if not rows:
        return None
    begins = min(line.start for line, _ in rows)
    budget = sum((_worth(line) for line, _ in rows), Fraction(0))
    if not budget or now <= begins:
        return None
    ends = max(line.work_finish for line, _ in rows)
    lines = [line for line, _ in rows]
    weeks = -((begins - ends) // WEEK) or 1
    curve = [_planned(lines, begins + WEEK * week) for week in range(1, weeks + 1)]
    earned = sum((_worth(line) * _done(row, now) for line, row in rows), Fraction(0))
    return Earned(
        value=EarnedValue(_planned(lines, now), earned, Fraction(0), budget),
        schedule=earned_schedule(curve, earned, _share(now - begins, WEEK)),
        begins=begins,
        without_money=sum(not _worth(line) for line in lines),
    )


def _worth(line: BaselinePackage) -> Fraction:
    return Fraction(line.agreed_price or line.budget or Decimal(0))


def _planned(lines: list[BaselinePackage], at: datetime) -> Fraction:
    return sum(
        (_worth(line) * _passed(line.start, line.work_finish, at) for line in lines), Fraction(0)
    )


def _passed(start: datetime, end: datetime, at: datetime) -> Fraction:
    """The share of the time from ``start`` to ``end`` that has passed, from 0 to 1."""
    if at >= end:
        return Fraction(1)
    return max(_share(at - start, end - start), Fraction(0))


def _share(part: timedelta, whole: timedelta) -> Fraction:
    micro = timedelta(microseconds=1)
    return Fraction(part // micro, whole // micro)


def _done(row: PackageDrift, now: datetime) -> Fraction:
    package = row.package
    if package is None or package.started_at is None:
        return Fraction(0)
    if package.finished_at is not None:
        return Fraction(1)
    if package.remaining_minutes is not None:
        left = Fraction(package.remaining_minutes, package.likely_minutes or 1)
        return max(Fraction(1) - left, Fraction(0))
    if row.planned is None:
        return Fraction(0)
    return _passed(package.started_at, row.planned.work_finish, now)

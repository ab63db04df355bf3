"""How late vendors hand back: from this installation's own record, or by a stated assumption.

Pure: what the record says comes in as moments, lateness for the planning core goes out.

- A vendor hands back at the end of the last package of a series: one that no other unfinished
  package of the same vendor waits for, and after which none of its pieces is used by the vendor
  again. Each is late by a figure of its own, those of one vendor together by half (`CORRELATION`).
- With at least `ENOUGH` returns on record, their lateness is what is drawn, each as likely as the
  other. How long the work takes is in it already and is not drawn again.
- With fewer, `ASSUMED` is drawn, on top of low, likely and high: common practice, no source.

Lateness is counted in the open hours of the vendor's place: due on Friday at closing and ready on
Monday at opening is not late.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from refit.scheduling.calendars import Hours
from refit.scheduling.problem import WEEK, Minutes, Plan, Problem
from refit.scheduling.sampling import Lateness

from .build import Built

ENOUGH = 5
"""Returns from which on a vendor's own record is believed (common practice, no source)."""
MOST = 60
"""The latest returns that count: shops change."""
ASSUMED = (0, 0, 0, 0, 0, 0, 1, 2, 3, 5)
"""Working days late in ten returns, where nothing is known (common practice, no source)."""
CORRELATION = 0.5
"""How much the returns of one vendor go together (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Return:
    """A vendor had something ready at ``ready`` that was expected at ``expected``."""

    expected: datetime
    ready: datetime


@dataclass(frozen=True, slots=True)
class Basis:
    """What the lateness of one vendor rests on: so many returns on record, 0 if it is assumed."""

    vendor: str
    returns: int


def lateness_of(
    built: Built, plan: Plan, record: Mapping[str, Iterable[Return]]
) -> tuple[tuple[Lateness, ...], tuple[Basis, ...]]:
    """Lateness of every vendor with work ahead, and what each rests on.

    ``record``: returns by the vendor's name, the latest first.
    """
    hours = {calendar.id: Hours(calendar) for calendar in built.problem.calendars}
    calendars = {package.id: hours[package.calendar] for package in built.problem.packages}
    found: list[Lateness] = []
    bases: list[Basis] = []
    for vendor, codes in vendors_ahead(built).items():
        open_hours = calendars[codes[0]]
        if not open_hours.starts:
            continue
        returns = tuple(record.get(vendor, ()))[:MOST]
        known = len(returns) >= ENOUGH
        if known:
            minutes = tuple(_late(one, built, open_hours) for one in returns)
        else:
            day = _working_day(open_hours)
            minutes = tuple(days * day for days in ASSUMED)
        found.append(
            Lateness(
                vendor=vendor,
                minutes=minutes,
                packages=tuple(last_of_series(built.problem, plan, codes)),
                correlation=CORRELATION,
                fixed_work=tuple(codes) if known else (),
            )
        )
        bases.append(Basis(vendor, len(returns) if known else 0))
    return tuple(found), tuple(bases)


def vendors_ahead(built: Built) -> dict[str, list[str]]:
    """The codes of each vendor's unfinished packages."""
    ahead: dict[str, list[str]] = {}
    for code, row in built.packages.items():
        if row["vendor"] is not None and row["finished_at"] is None:
            ahead.setdefault(row["vendor"], []).append(code)
    return ahead


def last_of_series(problem: Problem, plan: Plan, codes: list[str]) -> Iterable[str]:
    """Those packages of one vendor after which it hands something back."""
    own = set(codes)
    followed = {d.before for d in problem.dependencies if d.before in own and d.after in own}
    starts = {planned.id: (planned.start, planned.finish) for planned in plan.packages}
    pieces = {package.id: package.pieces for package in problem.packages}
    shared = {piece.id for piece in problem.pieces if piece.shared}
    users: dict[str, list[str]] = {}
    for name in sorted(starts, key=lambda name: starts[name]):
        for piece in pieces[name]:
            if piece not in shared:
                users.setdefault(piece, []).append(name)
    for names in users.values():
        for name, behind in pairwise(names):
            if name in own and behind in own:
                followed.add(name)
    return [code for code in codes if code not in followed]


def _late(one: Return, built: Built, hours: Hours) -> Minutes:
    """Working minutes; 0 if it was early. What lies before the calendar is counted as if it had
    happened whole weeks later: hours repeat by the week."""
    expected, ready = (built.clock.minutes(moment) for moment in (one.expected, one.ready))
    short = hours.starts[0] - min(expected, ready)
    if short > 0:
        weeks = -(-short // WEEK)
        expected, ready = expected + weeks * WEEK, ready + weeks * WEEK
    return max(0, hours.worked(expected, ready))


def _working_day(hours: Hours) -> Minutes:
    """Open minutes of a usual day: those of the longest stretch of the coming month without a
    night in it are close enough, and pauses at noon are bridged."""
    day, longest, last_end = 0, 0, None
    for start, end in zip(hours.starts[:60], hours.ends[:60], strict=True):
        if last_end is not None and start - last_end <= 180:
            day += end - start
        else:
            day = end - start
        last_end = end
        longest = max(longest, min(day, 12 * 60))
    return longest

"""Using the float in the plan to bring moves together.

A package that may slip without moving the launch can wait for its pieces until a drive comes by
anyway. So trips are planned once more with later due times; if that saves money or a late piece,
the packages concerned are put off as “not before” in a copy of the document, which is planned
anew: only if the launch stays, nothing new is missed, and every piece is free when its trip comes,
are those trips kept. A piece that gets free later by it is planned with its new time. What is put
off too far by several shifts together is tried with half as much float, then a quarter.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from time import monotonic
from typing import Any

from refit.custody.models import HandoffState
from refit.interchange.document import BookingRow, RefitDocument
from refit.interchange.export import export_refit
from refit.planning.models import Plan, PlannedPackage
from refit.planning.solve import NoPlan, Solved, solve
from refit.scheduling.trips_problem import TripPlan, TripProblem
from refit.work.models import Booking, Driving, Refit

from .build import BuiltTrips, build_trips

SHARES, ROUNDS = (1.0, 0.5, 0.25), 4
MARGIN, MOST = 60, 14 * 24 * 60
"""Minutes of float that are never used, since plans are not that exact; and the most that one
package is put off (common practice, no source)."""


@dataclass(frozen=True)
class Shift:
    """The package, by id and name, starts at ``at`` instead of at ``was``."""

    package: int
    name: str
    was: datetime
    at: datetime

    def as_json(self) -> dict[str, Any]:
        return {
            "package": self.package,
            "name": self.name,
            "was": self.was.isoformat(),
            "at": self.at.isoformat(),
        }

    @classmethod
    def of_json(cls, kept: Mapping[str, Any]) -> Shift:
        was, at = (datetime.fromisoformat(kept[name]) for name in ("was", "at"))
        return cls(kept["package"], kept["name"], was, at)


Think = Callable[[TripProblem], TripPlan]


def use_float(
    refit: Refit,
    driving: Driving,
    now: datetime,
    built: BuiltTrips,
    plan: TripPlan,
    think: Think,
    keep_today: bool,
    patience: float,
) -> tuple[BuiltTrips, TripPlan, list[Shift]]:
    """Better trips with the shifts they need; the ones given, and none, if no better ones are found
    within ``patience`` seconds or so."""
    floats = _floats(refit)
    if not floats:
        return built, plan, []
    document = export_refit(refit, for_planning=True)
    try:
        before = solve(document, now)
    except NoPlan:
        return built, plan, []
    until = monotonic() + patience
    for share in SHARES:
        extra = {package: int(minutes * share) for package, minutes in floats.items()}
        free: dict[int, datetime] = {}
        for _ in range(ROUNDS):
            if monotonic() > until:
                return built, plan, []
            wider = build_trips(refit, driving, now, keep_today=keep_today, extra=extra, free=free)
            if wider.problem is None or wider.version != built.version:
                return built, plan, []
            found = think(wider.problem)
            better = (len(found.left), len(wider.late), found.cost)
            if better >= (len(plan.left), len(built.late), plan.cost):
                break
            shifts = _shifts(wider, found)
            after = _put_off(document, now, before, shifts)
            if after is None:
                break
            too_early = _not_yet_free(after, wider, found)
            if not too_early:
                return wider, found, shifts
            free |= too_early
    return built, plan, []


def _floats(refit: Refit) -> dict[int, int]:
    """Minutes by which packages that nobody has booked or begun may slip in the current plan."""
    plan = Plan.objects.current(refit)
    if plan is None or plan.refit_version != refit.version:
        return {}
    booked = Booking.objects.filter(package__refit=refit).values("package")
    rows = PlannedPackage.objects.filter(plan=plan, package__started_at=None, drives=False)
    slips = rows.exclude(package__in=booked).values_list("package_id", "slip_minutes")
    return {
        package: (MOST if slip is None else min(MOST, slip)) - MARGIN
        for package, slip in slips
        if slip is None or slip > MARGIN
    }


def _shifts(built: BuiltTrips, plan: TripPlan) -> list[Shift]:
    """Packages whose pieces these trips bring after the plan needs them."""
    found: dict[int, Shift] = {}
    for trip in plan.trips:
        for stop in trip.stops:
            there = built.clock.moment(stop.leave)
            for move in stop.unload:
                row = built.rows[move]
                package = row.for_package
                if package is None or row.needed_at is None or there <= row.needed_at:
                    continue
                if move in built.late:
                    continue
                known = found.get(package.pk)
                if known is None or known.at < there:
                    name = f"{package.code} {package.title}"
                    found[package.pk] = Shift(package.pk, name, row.needed_at, there)
    return sorted(found.values(), key=lambda shift: shift.was)


def _put_off(
    document: RefitDocument, now: datetime, before: Solved, shifts: list[Shift]
) -> Solved | None:
    """The plan with these shifts; None if it launches later or misses something new."""
    changed = document.copy()
    changed["bookings"] = document["bookings"] + [
        BookingRow(
            package=shift.name.split(" ", 1)[0],
            kind="not before",
            at=shift.at.isoformat(),
            agreed_with="",
            note="",
        )
        for shift in shifts
    ]
    try:
        after = solve(changed, now)
    except NoPlan:
        return None
    if before.launch_at is None or after.launch_at is None or after.launch_at > before.launch_at:
        return None
    return after if len(after.plan.shortfalls) <= len(before.plan.shortfalls) else None


def _not_yet_free(after: Solved, built: BuiltTrips, plan: TripPlan) -> dict[int, datetime]:
    """Handoffs that these trips load before the shifted plan has them free, and when it has."""
    moment = after.built.clock.moment
    free = {
        (m.piece, m.origin, m.destination, m.for_package): moment(m.free_at) for m in after.moves
    }
    found: dict[int, datetime] = {}
    for trip in plan.trips:
        for stop in trip.stops:
            begin = built.clock.moment(stop.begin)
            for move in stop.load:
                row = built.rows[move]
                package = row.for_package.code if row.for_package is not None else None
                key = (row.piece.tag, row.origin.name, row.destination.name, package)
                if row.state == HandoffState.READY or key not in free:
                    continue
                if free[key] > begin:
                    found[row.pk] = free[key]
    return found

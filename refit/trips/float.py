"""Using the float in the plan to bring moves together.

A package that may slip without moving the launch can wait for its pieces until a drive comes by
anyway. So trips are planned once more with later due times; if that saves money or a late piece,
the packages concerned are put off as “not before” in a copy of the document, which is planned
anew: only if the launch stays, nothing new is missed, and every piece is free when its trip comes,
are those trips kept. What is put off too far by several shifts together is tried with half as
much float, then a quarter.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from refit.interchange.document import BookingRow, RefitDocument
from refit.interchange.export import export_refit
from refit.planning.models import Plan, PlannedPackage
from refit.planning.solve import NoPlan, Solved, solve
from refit.scheduling.trips_problem import TripPlan, TripProblem
from refit.work.models import Booking, Refit

from .build import BuiltTrips, build_trips
from .models import Driving

SHARES = (1.0, 0.5, 0.25)
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
) -> tuple[BuiltTrips, TripPlan, list[Shift]]:
    """Better trips with the shifts they need; the ones given, and none, if there are no better."""
    floats = _floats(refit)
    if not floats:
        return built, plan, []
    document = export_refit(refit)
    try:
        before = solve(document, now)
    except NoPlan:
        return built, plan, []
    for share in SHARES:
        extra = {package: int(minutes * share) for package, minutes in floats.items()}
        wider = build_trips(refit, driving, now, keep_today=keep_today, extra=extra)
        if wider.problem is None or wider.version != built.version:
            break
        found = think(wider.problem)
        shifts = _shifts(wider, found)
        better = (len(found.left), len(wider.late), found.cost)
        if better >= (len(plan.left), len(built.late), plan.cost):
            continue
        if not shifts or _holds(document, now, before, wider, found, shifts):
            return wider, found, shifts
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


def _holds(
    document: RefitDocument,
    now: datetime,
    before: Solved,
    built: BuiltTrips,
    plan: TripPlan,
    shifts: list[Shift],
) -> bool:
    """Whether the plan with these shifts launches no later, misses nothing new, and has every
    piece free when its trip comes for it."""
    changed = document.copy()
    changed["bookings"] = document["bookings"] + [
        BookingRow(
            package=shift.name.split(" ", 1)[0], kind="not before", at=shift.at.isoformat(),
            agreed_with="", note="",
        )
        for shift in shifts
    ]  # fmt: skip
    try:
        after = solve(changed, now)
    except NoPlan:
        return False
    if before.launch_at is None or after.launch_at is None or after.launch_at > before.launch_at:
        return False
    if len(after.plan.shortfalls) > len(before.plan.shortfalls):
        return False
    free = {
        (m.piece, m.origin, m.destination, m.for_package): after.built.clock.moment(m.free_at)
        for m in after.moves
    }
    for trip in plan.trips:
        for stop in trip.stops:
            begin = built.clock.moment(stop.begin)
            for move in stop.load:
                row = built.rows[move]
                package = row.for_package.code if row.for_package is not None else None
                key = (row.piece.tag, row.origin.name, row.destination.name, package)
                if row.free_at is None or begin < row.free_at:
                    continue  # said to be ready before the plan has it free
                if key in free and free[key] > begin:
                    return False
    return True

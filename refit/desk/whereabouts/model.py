"""From the database to plain rows, in a fixed number of queries.

What happened comes before what is planned: actual starts and finishes, moves as they were sent
and received; only the rest is taken from the plan. No layout here, nothing is written.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from functools import lru_cache
from itertools import pairwise

import holidays
from django.urls import reverse

from refit.custody.models import Handoff, HandoffState
from refit.planning.models import Plan, PlannedMove, PlannedPackage
from refit.work.models import BookingKind, Piece, PieceUse, Place, Refit, WorkPackage
from refit.work.wording import say_day, say_moment

from .rows import ClosedRow, Effect, LegRow, PackageRow, PieceRow, PlaceRow, Rows, UseRow


def gather(refit: Refit, plan: Plan | None, now: datetime) -> Rows:
    """Everything that the picture of ``refit`` needs, as of ``now``: nine queries at most."""
    planned = (
        {row.package_id: row for row in PlannedPackage.objects.filter(plan=plan)} if plan else {}
    )
    uses: dict[int, list[UseRow]] = defaultdict(list)
    for use in PieceUse.objects.filter(package__refit=refit).order_by("id"):
        uses[use.package_id].append(UseRow(use.piece_id, Effect(use.effect)))
    packages, undated = [], []
    driving = [str(code) for code in plan.driving] if plan else []
    found = WorkPackage.objects.filter(refit=refit).select_related("vendor", "booking")
    for package in found:
        row = _package_row(refit, package, planned.get(package.pk), tuple(uses[package.pk]), now)
        if row is None:
            undated.append((package.code, package.title))
        else:
            packages.append(row)
    codes = {package.pk: package.code for package in found}
    first = min([refit.start, *(refit.local(row.start).date() for row in packages)])
    last = max([refit.today(now), *(refit.local(row.finish).date() for row in packages)])
    return Rows(
        now=now,
        zone=refit.zone,
        start=refit.start,
        places=tuple(_places(refit, first, last + timedelta(days=14))),
        pieces=tuple(_pieces(refit)),
        packages=tuple(packages),
        legs=tuple(_legs(refit, plan, now, driving, codes)),
        wanted=refit.wanted_launch,
        launch_at=plan.launch_at if plan else None,
        undated=tuple(undated),
    )


def _package_row(
    refit: Refit,
    package: WorkPackage,
    planned: PlannedPackage | None,
    uses: tuple[UseRow, ...],
    now: datetime,
) -> PackageRow | None:
    start = package.started_at or (planned.start if planned else None)
    if start is None:
        return None
    hold = timedelta(minutes=package.hold_minutes)
    if package.finished_at is not None:
        work_finish = package.finished_at
        finish = work_finish + hold
    elif planned is not None:
        work_finish, finish = planned.work_finish, planned.finish
    else:  # started, but the planner has not seen it yet: at least until now
        work_finish = max(now, start)
        finish = work_finish + hold
    return PackageRow(
        code=package.code,
        title=package.title,
        place=package.place_id,
        start=start,
        work_finish=max(work_finish, start),
        finish=max(finish, work_finish, start),
        uses=uses,
        started=package.is_started,
        finished=package.is_finished,
        drives=planned.drives if planned else False,
        is_launch=package.is_launch,
        cause=planned.cause if planned else "",
        hold_reason=package.hold_reason,
        late=tuple(_late(refit, package, start, finish, now)),
        by=package.vendor.name if package.vendor else "",
        href=reverse("desk:package", args=[refit.slug, package.pk]),
    )


def _late(
    refit: Refit, package: WorkPackage, start: datetime, finish: datetime, now: datetime
) -> Iterator[str]:
    """What was missed, or will be if the plan stays as it is."""
    zone, today = refit.zone, refit.today(now)
    promised = package.promised
    if promised is not None and promised < now and not package.is_finished:
        yield f"Promised for {say_moment(promised, zone, today)}, and not finished."
    if package.deadline is not None and finish > package.deadline:
        yield (
            f"Must be finished by {say_moment(package.deadline, zone, today)}; it is "
            f"{'finished' if package.is_finished else 'planned for'} "
            f"{say_moment(finish, zone, today)}."
        )
    booking = getattr(package, "booking", None)
    if (
        booking is not None
        and booking.kind == BookingKind.STARTS
        and not package.is_started
        and refit.local(start).date() > refit.local(booking.at).date()
    ):
        yield (
            f"Booked for {say_day(refit.local(booking.at).date(), today)}, but it cannot start "
            f"before {say_day(refit.local(start).date(), today)}."
        )


def _places(refit: Refit, first: date, last: date) -> Iterator[PlaceRow]:
    found = (
        Place.objects.filter(refit=refit)
        .select_related("vendor")
        .prefetch_related("hours", "closures")
    )
    for place in found:
        closed = [
            ClosedRow(row.first_day, row.last_day, row.reason or "closed")
            for row in place.closures.all()
        ]
        named = holidays_of(place.holiday_country, place.holiday_region, first.year, last.year)
        closed += [ClosedRow(day, day, name) for day, name in named if first <= day <= last]
        yield PlaceRow(
            id=place.pk,
            name=place.name,
            whose=_whose(place),
            is_home=place.kind == "home",
            open_weekdays=frozenset(row.weekday for row in place.hours.all()),
            closed=tuple(closed),
        )


def _whose(place: Place) -> str:
    if place.vendor is not None:
        return place.vendor.trade or place.vendor.name
    return "our own" if place.kind == "home" else place.get_kind_display()


@lru_cache(maxsize=64)
def holidays_of(country: str, region: str, first: int, last: int) -> tuple[tuple[date, str], ...]:
    """Public holidays by name in the years ``first`` to ``last``; none for an unknown country or
    region, because the planner already says so in a sentence."""
    if not country:
        return ()
    try:
        found = holidays.country_holidays(
            country.upper(), subdiv=region or None, years=range(first, last + 1)
        )
    except NotImplementedError:
        return ()
    return tuple(sorted((day, str(name)) for day, name in found.items()))


def _pieces(refit: Refit) -> Iterator[PieceRow]:
    for piece in Piece.objects.filter(refit=refit):
        yield PieceRow(
            id=piece.pk,
            tag=piece.tag,
            name=piece.name,
            is_boat=piece.is_boat,
            place=piece.place_id,
            fitted=piece.fitted,
            since=piece.since,
            href=reverse("desk:piece", args=[refit.slug, piece.pk]),
        )


def _legs(
    refit: Refit, plan: Plan | None, now: datetime, driving: list[str], codes: dict[int, str]
) -> Iterator[LegRow]:
    """Moves that happened, as they were recorded; those to come, as the plan has them, and those
    that were entered by hand and are in no plan."""
    waiting: dict[tuple[int, int, int], list[Handoff]] = defaultdict(list)
    handoffs = Handoff.objects.filter(refit=refit).exclude(state=HandoffState.CANCELLED)
    for handoff in handoffs:
        if handoff.sent_at is None:
            way = (handoff.piece_id, handoff.origin_id, handoff.destination_id)
            waiting[way].append(handoff)
            continue
        expected = handoff.arrive_at or handoff.sent_at
        yield LegRow(
            handoff.piece_id,
            handoff.origin_id,
            handoff.destination_id,
            handoff.sent_at,
            handoff.received_at or max(expected, now),
            sent=True,
            arrived=handoff.received_at is not None,
        )
    pairs = set(pairwise(driving))
    for move in PlannedMove.objects.filter(plan=plan).order_by("depart", "id") if plan else ():
        known = waiting.get((move.piece_id, move.origin_id, move.destination_id))
        joined = (codes.get(move.after_package_id or 0), codes.get(move.for_package_id or 0))
        yield LegRow(
            move.piece_id,
            move.origin_id,
            move.destination_id,
            move.depart,
            move.arrive,
            drives=joined in pairs,
            late=_overdue(refit, known.pop(0), now) if known else "",
        )
    for left in waiting.values():
        for handoff in left:
            if handoff.depart_at is not None and handoff.depart_at >= now:
                yield LegRow(
                    handoff.piece_id,
                    handoff.origin_id,
                    handoff.destination_id,
                    handoff.depart_at,
                    max(handoff.arrive_at or handoff.depart_at, handoff.depart_at),
                    late=_overdue(refit, handoff, now),
                )


def _overdue(refit: Refit, handoff: Handoff, now: datetime) -> str:
    due = handoff.promised_at or handoff.due_at
    if due is None or due >= now or handoff.state != HandoffState.PLANNED:
        return ""
    word = "Promised" if handoff.promised_at else "Due"
    return f"{word} for {say_moment(due, refit.zone, refit.today(now))}, and not ready."

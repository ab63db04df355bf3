"""What stands in whose calendar, from the rows of the refit as they are now.

A manager sees all work, moves, dates and the launch; an owner the launch, what decides it, and
where the boat goes; a vendor its own work, what comes to it and what is due back from it. No
prices in any of them. Titles are made for the reader's own calendar, among dentists and birthdays:
a vendor's names the boat.

Only reading. What becomes of it is in ``services.py``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from django.conf import settings
from django.db.models import Q, QuerySet
from django.urls import reverse

from refit.accounts.models import LinkKind, PrivateLink
from refit.custody.models import Handoff, HandoffState
from refit.planning.models import Plan, PlannedPackage
from refit.quality.models import Decision, Finding
from refit.work.models import (
    Booking,
    Dependency,
    LagIn,
    PieceUse,
    Place,
    Refit,
    RelationChoice,
)
from refit.work.wording import say_day

RELATIONS = {
    RelationChoice.FINISH_TO_START: "FINISHTOSTART",
    RelationChoice.START_TO_START: "STARTTOSTART",
    RelationChoice.FINISH_TO_FINISH: "FINISHTOFINISH",
    RelationChoice.START_TO_FINISH: "STARTTOFINISH",
}
"""RFC 9253: task A, which carries the relation, is the one that is waited for."""
FROM_FINISH = (RelationChoice.FINISH_TO_START, RelationChoice.FINISH_TO_FINISH)


@dataclass(frozen=True)
class Wanted:
    """An event that shall stand in a calendar; the fields are those of `FeedEvent`."""

    source: str
    summary: str
    description: str = ""
    location: str = ""
    address: str = ""
    first_day: date | None = None
    last_day: date | None = None
    starts_at: datetime | None = None
    ends_at: datetime | None = None
    takes_time: bool = False
    relations: tuple[tuple[str, int | None, str], ...] = ()
    """Kind of relation, minutes between, source of the other event; see `FeedEvent`."""

    @property
    def fields(self) -> dict[str, object]:
        told = {name: value for name, value in self.__dict__.items() if name != "source"}
        return told | {"relations": [list(relation) for relation in self.relations]}


def wanted_events(link: PrivateLink, plan: Plan | None) -> list[Wanted]:
    """All that shall stand in the calendar of ``link``. A fixed number of queries."""
    match link.kind:
        case LinkKind.MANAGER_FEED:
            events = list(_for_manager(link.refit, plan))
        case LinkKind.OWNER_FEED:
            events = list(_for_owner(link.refit, plan))
        case LinkKind.CREW_FEED:
            events = list(_for_crew(link, plan))
        case LinkKind.PLACE_FEED:
            events = list(_for_place(link, plan))
        case LinkKind.BOAT_FEED:
            events = list(_for_boat(link.refit, plan))
        case _:
            events = list(_for_vendor(link, plan))
    return _related(link.refit, events)


def _related(refit: Refit, events: list[Wanted]) -> list[Wanted]:
    """With what waits for what, among the packages of this calendar only.

    The gap after a finish counts from the end of the work, which is where the event ends: the hold
    and the minimum lag together. A lag in working time has no gap on the clock, so none is given.
    """
    there = {event.source for event in events}
    ties: dict[str, list[tuple[str, int | None, str]]] = defaultdict(list)
    for link in (
        Dependency.objects.filter(refit=refit).select_related("before").order_by("pk").iterator()
    ):
        before, after = f"package {link.before_id}", f"package {link.after_id}"
        if before not in there or after not in there:
            continue
        gap: int | None = None
        if link.lag_in == LagIn.ELAPSED or not link.min_lag_minutes:
            held = link.before.hold_minutes if link.relation in FROM_FINISH else 0
            gap = (held + link.min_lag_minutes) or None
        ties[before].append((RELATIONS[RelationChoice(link.relation)], gap, after))
        ties[after].append(("DEPENDS-ON", None, before))
    return [replace(event, relations=tuple(ties[event.source])) for event in events]


def _for_manager(refit: Refit, plan: Plan | None) -> Iterator[Wanted]:
    address = settings.SITE_ADDRESS + reverse("desk:today", args=[refit.slug])
    yield from _launch(refit, plan, address)
    for planned in _packages(plan).filter(package__is_launch=False):
        package = planned.package
        who = f" ({package.vendor.name})" if package.vendor else ""
        waits = ", ".join(link.before.code for link in package.waits_for.all())
        yield _span(
            refit,
            planned,
            f"{package.code} {package.title}{who}",
            description=_lines(
                planned.cause and f"Why then: {planned.cause}",
                waits and f"Waits for {waits}.",
                "Decides the launch." if planned.drives else "",
            ),
            address=address,
        )
    for booking in _bookings(refit):
        yield _booking(booking, f"Booked: {booking.package}", address)
    for handoff in _handoffs(refit):
        yield from _drive(handoff, address)
        if handoff.origin.vendor:
            yield from _due_back(
                refit, handoff, f"Due back: {handoff.piece.name} ({handoff.origin.vendor.name})"
            )


def _for_owner(refit: Refit, plan: Plan | None) -> Iterator[Wanted]:
    boat = refit.boat.name
    yield from _launch(refit, plan, "")
    for planned in _packages(plan).filter(package__is_launch=False, drives=True):
        yield _span(refit, planned, f"{boat}: {planned.package.title}")
    for handoff in _handoffs(refit).filter(piece__is_boat=True):
        moment = handoff.sent_at or handoff.depart_at
        if moment:
            yield Wanted(
                source=f"move {handoff.pk}",
                summary=f"{boat} goes to {handoff.destination.name}",
                location=_where(handoff.destination),
                first_day=refit.local(moment).date(),
                last_day=refit.local(moment).date(),
            )
    for finding in Finding.objects.filter(
        refit=refit, decision=Decision.ASK_OWNER, decide_by__isnull=False
    ):
        if finding.decide_by:
            day = refit.local(finding.decide_by).date()
            yield Wanted(
                source=f"decision {finding.pk}",
                summary=f"{boat}: your decision on {finding.title}",
                first_day=day,
                last_day=day,
            )


def _for_vendor(link: PrivateLink, plan: Plan | None) -> Iterator[Wanted]:
    refit, vendor = link.refit, link.vendor
    if vendor is None:
        return
    boat = refit.boat.name
    for planned in _packages(plan).filter(package__vendor=vendor):
        yield _span(refit, planned, f"{boat}: {planned.package.title}")
    for booking in _bookings(refit).filter(package__vendor=vendor):
        yield _booking(booking, f"{boat}, booked: {booking.package.title}", "")
    for handoff in _handoffs(refit).filter(
        Q(origin__vendor=vendor) | Q(destination__vendor=vendor)
    ):
        if handoff.destination.vendor_id == vendor.pk:
            moment = handoff.received_at or handoff.arrive_at
            if moment:
                day = refit.local(moment).date()
                yield Wanted(
                    source=f"coming {handoff.pk}",
                    summary=f"{boat}: {handoff.piece.name} comes to you",
                    location=_where(handoff.destination),
                    first_day=day,
                    last_day=day,
                )
        if handoff.origin.vendor_id == vendor.pk:
            yield from _due_back(refit, handoff, f"{boat}: {handoff.piece.name} due back")


def _for_crew(link: PrivateLink, plan: Plan | None) -> Iterator[Wanted]:
    """What one of the crew is named for. Whoever happens to be free for the rest is not known."""
    boat = link.refit.boat.name
    for planned in _packages(plan).filter(package__people=link.crew_member):
        yield _span(
            link.refit,
            planned,
            f"{boat}: {planned.package.title}",
            description=planned.package.scope,
        )


def _for_place(link: PrivateLink, plan: Plan | None) -> Iterator[Wanted]:
    """What is done at one place, what comes to it and what leaves it."""
    refit, place = link.refit, link.place
    boat = refit.boat.name
    for planned in _packages(plan).filter(package__place=place):
        yield _span(refit, planned, f"{boat}: {planned.package.title}")
    for booking in _bookings(refit).filter(package__place=place):
        yield _booking(booking, f"{boat}, booked: {booking.package.title}", "")
    for handoff in _handoffs(refit).filter(Q(origin=place) | Q(destination=place)):
        comes = handoff.destination_id == link.place_id
        moment = (
            handoff.received_at or handoff.arrive_at
            if comes
            else handoff.sent_at or handoff.depart_at
        )
        if moment is not None:
            day = refit.local(moment).date()
            yield Wanted(
                source=f"{'coming' if comes else 'leaving'} {handoff.pk}",
                summary=f"{boat}: {handoff.piece.name} {'arrives' if comes else 'leaves'}",
                description=f"From {handoff.origin.name} to {handoff.destination.name}.",
                first_day=day,
                last_day=day,
            )


def _for_boat(refit: Refit, plan: Plan | None) -> Iterator[Wanted]:
    """The launch, the work on the boat herself, and where she goes."""
    boat = refit.boat.name
    yield from _launch(refit, plan, "")
    works = PieceUse.objects.filter(piece__refit=refit, piece__is_boat=True).values("package")
    for planned in _packages(plan).filter(package__is_launch=False, package__in=works):
        yield _span(refit, planned, f"{boat}: {planned.package.title}")
    for handoff in _handoffs(refit).filter(piece__is_boat=True):
        yield from _drive(handoff, "")


# --- the rows ---------------------------------------------------------------------------------


def _packages(plan: Plan | None) -> QuerySet[PlannedPackage]:
    planned = PlannedPackage.objects.filter(plan=plan) if plan else PlannedPackage.objects.none()
    return planned.select_related("package__vendor", "package__place").prefetch_related(
        "package__waits_for__before"
    )


def _bookings(refit: Refit) -> QuerySet[Booking]:
    return Booking.objects.filter(package__refit=refit).select_related("package__place")


def _handoffs(refit: Refit) -> QuerySet[Handoff]:
    return Handoff.objects.filter(refit=refit).exclude(state=HandoffState.CANCELLED).with_names()


# --- the events -------------------------------------------------------------------------------


def _launch(refit: Refit, plan: Plan | None, address: str) -> Iterator[Wanted]:
    if plan is None or plan.launch_at is None:
        return
    day = refit.local(plan.launch_at).date()
    wish = refit.wanted_launch
    yield Wanted(
        source="launch",
        summary=f"Launch of {refit.boat.name}, as planned now",
        description=f"Wanted for {say_day(wish)} {wish.year}." if wish else "",
        address=address,
        first_day=day,
        last_day=day,
    )


def _span(
    refit: Refit,
    planned: PlannedPackage,
    summary: str,
    *,
    description: str = "",
    address: str = "",
) -> Wanted:
    """Work as whole local days, the last one included; what has been done, when it was done."""
    package = planned.package
    first = refit.local(package.started_at or planned.start).date()
    last = refit.local(_just_before(package.finished_at or planned.work_finish)).date()
    return Wanted(
        source=f"package {package.pk}",
        summary=summary,
        description=description,
        location=_where(package.place),
        address=address,
        first_day=first,
        last_day=max(first, last),
    )


def _just_before(moment: datetime) -> datetime:
    """Work that ends at midnight does not take the day that begins then."""
    return moment - timedelta(minutes=1)


def _booking(booking: Booking, summary: str, address: str) -> Wanted:
    return Wanted(
        source=f"booked {booking.package_id}",
        summary=summary,
        description=_lines(
            booking.agreed_with and f"Agreed with {booking.agreed_with}.", booking.note
        ),
        location=_where(booking.package.place),
        address=address,
        starts_at=booking.at,
        ends_at=booking.ends_at,
        takes_time=True,
    )


def _drive(handoff: Handoff, address: str) -> Iterator[Wanted]:
    start = handoff.sent_at or handoff.depart_at
    if start is None:
        return
    arrives = handoff.received_at if handoff.sent_at else handoff.arrive_at
    if arrives is None and handoff.depart_at and handoff.arrive_at:
        arrives = start + (handoff.arrive_at - handoff.depart_at)
    end = max(arrives or start, start + timedelta(minutes=15))
    yield Wanted(
        source=f"handoff {handoff.pk}",
        summary=f"{handoff.piece.name}: {handoff.origin.name} to {handoff.destination.name}",
        description=handoff.get_carrier_display().capitalize() + ".",
        location=_where(handoff.origin),
        address=address,
        starts_at=start,
        ends_at=end,
        takes_time=handoff.carrier == "crew",
    )


def _due_back(refit: Refit, handoff: Handoff, summary: str) -> Iterator[Wanted]:
    """The day it is expected; once it has left, the day on which that was."""
    moment = handoff.sent_at or handoff.expected_at
    if moment is None:
        return
    day = refit.local(moment).date()
    yield Wanted(
        source=f"due {handoff.pk}",
        summary=f"{summary}: done" if handoff.sent_at else summary,
        description="" if handoff.sent_at or not handoff.promised_at else "As promised.",
        location=_where(handoff.origin),
        first_day=day,
        last_day=day,
    )


def _where(place: Place) -> str:
    return ", ".join(filter(None, (place.name, place.address)))


def _lines(*lines: str) -> str:
    return "\n".join(filter(None, lines))

"""What one vendor sees: what it holds and owes, what is coming, its jobs. Only reading.

Nothing here names another vendor or a price; what waits for a piece is named by its job alone.
The number of queries does not depend on how much there is.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db.models import F, Q

from refit.custody.models import Carrier, Handoff, HandoffState
from refit.planning.models import Plan, PlannedPackage, PlanState
from refit.quality.models import PunchItem
from refit.work.models import Booking, Piece, Refit, Vendor, WorkPackage
from refit.work.wording import say_count, say_day, say_moment

from .forms import LeavingForm, PromiseForm, ReadingForm, ReceiptForm
from .pages import Contact, manager_contact


@dataclass
class Held:
    """A piece in the vendor's shop that has to go on from there."""

    handoff: Handoff
    consequence: str
    collecting: str
    late_days: int | None
    """Days past the expected one; None if it is not late. 0: late today."""
    near: bool
    """Expected within three days."""
    form: PromiseForm
    leaving: LeavingForm

    @property
    def is_ready(self) -> bool:
        return self.handoff.state == HandoffState.READY


@dataclass
class Coming:
    """A piece on its way to the vendor, or planned to be."""

    handoff: Handoff
    booking: Booking | None
    due_back: datetime | None
    form: ReceiptForm

    @property
    def under_way(self) -> bool:
        return self.handoff.state == HandoffState.UNDER_WAY


@dataclass
class Job:
    package: WorkPackage
    booking: Booking | None
    planned: PlannedPackage | None
    pieces: list[Piece]
    to_read: list[ReadingForm] = field(default_factory=list)
    """One form for each criterion by which the package is judged."""


@dataclass
class VendorPage:
    refit: Refit
    vendor: Vendor
    contact: Contact
    headline: str
    held: list[Held] = field(default_factory=list)
    here_without_date: list[Piece] = field(default_factory=list)
    coming: list[Coming] = field(default_factory=list)
    jobs: list[Job] = field(default_factory=list)
    to_put_right: list[PunchItem] = field(default_factory=list)
    """Lines of the punch list that are this vendor's, without their cost."""
    receipts: list[Handoff] = field(default_factory=list)
    """Of what left or reached the shop lately, the latest first."""

    @property
    def lede(self) -> str:
        """“You hold 2 pieces. 1 more is coming to you.”"""
        count = len(self.held) + len(self.here_without_date)
        said = [f"You hold {say_count(count, 'piece')}."] if count else []
        if coming := len(self.coming):
            more = " more" if count else ""
            said.append(f"{coming}{more} {'is' if coming == 1 else 'are'} coming to you.")
        return " ".join(said)


NEAR = timedelta(days=3)
LATELY = timedelta(days=60)
MOST_RECEIPTS = 12


def vendor_page(*, refit: Refit, vendor: Vendor, now: datetime) -> VendorPage:
    over = (HandoffState.RECEIVED, HandoffState.CANCELLED)
    lately = Q(sent_at__gte=now - LATELY, cancelled_at=None)
    known = list(
        Handoff.objects.filter(lately | ~Q(state__in=over), refit=refit)
        .touching(vendor)
        .with_names()
        .select_related("after_package", "for_package__booking")
        .order_by("depart_at", "id")
    )
    handoffs = [handoff for handoff in known if handoff.state not in over]
    packages = list(
        WorkPackage.objects.filter(refit=refit, vendor=vendor, finished_at=None)
        .select_related("booking", "place")
        .prefetch_related("pieces", "criteria")
        .order_by("code")
    )
    planned = _planned(refit, handoffs, packages)
    leaving = _first_of_each_piece(
        [
            handoff
            for handoff in handoffs
            if handoff.origin.vendor_id == vendor.pk
            and handoff.state in (HandoffState.PLANNED, HandoffState.READY)
        ]
    )
    held = [
        _held(handoff, planned, refit, now)
        for handoff in leaving.values()
        if handoff.piece.place_id == handoff.origin_id
    ]
    held.sort(key=_urgency)
    accounted = {item.handoff.piece_id for item in held}
    here = Piece.objects.filter(refit=refit, place__vendor=vendor, fitted=False).order_by("tag")
    coming = _first_of_each_piece(
        [handoff for handoff in handoffs if handoff.destination.vendor_id == vendor.pk]
    )
    page = VendorPage(
        refit=refit,
        vendor=vendor,
        contact=manager_contact(refit),
        headline="",
        held=held,
        here_without_date=[piece for piece in here if piece.pk not in accounted],
        coming=[
            Coming(
                handoff=handoff,
                booking=_booking(handoff.for_package),
                due_back=leaving[piece].expected_at if piece in leaving else None,
                form=ReceiptForm(handoff=handoff),
            )
            for piece, handoff in coming.items()
        ],
        jobs=[
            Job(
                package,
                _booking(package),
                planned.get(package.pk),
                list(package.pieces.all()),
                [ReadingForm(criterion=one) for one in package.criteria.all()],
            )
            for package in packages
        ],
    )
    page.to_put_right = list(
        PunchItem.objects.open()
        .filter(refit=refit, vendor=vendor)
        .select_related("piece")
        .order_by(F("due").asc(nulls_last=True), "code")
    )
    left = [(handoff.sent_at, handoff.pk, handoff) for handoff in known if handoff.sent_at]
    page.receipts = [row for at, _, row in sorted(left, reverse=True) if at >= now - LATELY]
    del page.receipts[MOST_RECEIPTS:]
    page.coming.sort(key=lambda item: not item.under_way)
    far = now + timedelta(days=36500)
    page.jobs.sort(key=lambda job: (job.planned.start if job.planned else far, job.package.code))
    page.headline = _headline(page, refit, now)
    return page


def _first_of_each_piece(handoffs: list[Handoff]) -> dict[int, Handoff]:
    """The next one of every piece, by the id of the piece; later stays come later."""
    first: dict[int, Handoff] = {}
    for handoff in handoffs:
        first.setdefault(handoff.piece_id, handoff)
    return first


def _planned(
    refit: Refit, handoffs: list[Handoff], packages: list[WorkPackage]
) -> dict[int, PlannedPackage]:
    """Current dates of the packages that the page speaks of; empty while there is no plan."""
    wanted = {package.pk for package in packages}
    wanted |= {handoff.for_package_id for handoff in handoffs if handoff.for_package_id}
    rows = PlannedPackage.objects.filter(
        plan__in=Plan.objects.filter(refit=refit, state=PlanState.CURRENT), package__in=wanted
    )
    return {row.package_id: row for row in rows}


def _booking(package: WorkPackage | None) -> Booking | None:
    return getattr(package, "booking", None) if package is not None else None


def _held(
    handoff: Handoff, planned: dict[int, PlannedPackage], refit: Refit, now: datetime
) -> Held:
    expected = handoff.expected_at
    late = None
    if expected is not None and handoff.is_overdue(now):
        late = (refit.today(now) - refit.local(expected).date()).days
    return Held(
        handoff=handoff,
        consequence=say_consequence(
            handoff, planned.get(handoff.for_package_id or 0), refit=refit, now=now
        ),
        collecting=say_collecting(handoff, refit=refit, now=now),
        late_days=late,
        near=expected is not None and late is None and expected - now <= NEAR,
        form=PromiseForm(handoff=handoff, refit=refit, now=now),
        leaving=LeavingForm(handoff=handoff),
    )


def _urgency(item: Held) -> tuple[bool, bool, float]:
    """Late and soon first, without a date after those, what is ready last."""
    expected = item.handoff.expected_at
    return (item.is_ready, expected is None, expected.timestamp() if expected else 0)


def _headline(page: VendorPage, refit: Refit, now: datetime) -> str:
    """The one thing to know, as a sentence."""
    open_items = [item for item in page.held if not item.is_ready]
    late = [item for item in open_items if item.late_days is not None]
    if late:
        if len(late) == 1:
            return f"{late[0].handoff.piece.name} is late"
        return f"{len(late)} pieces are late"
    dated = [item for item in open_items if item.handoff.expected_at]
    if dated and (expected := dated[0].handoff.expected_at):
        day = say_day(refit.local(expected).date(), refit.today(now))
        return f"Next due back: {dated[0].handoff.piece.name}, {day}"
    if arriving := [item for item in page.coming if item.under_way]:
        return f"{say_count(len(arriving), 'piece')} on the way to you"
    if page.held and not open_items:
        return "All that you hold is ready"
    if page.held or page.here_without_date:
        return "Nothing that you hold has a date yet"
    return "You hold nothing of this boat"


def say_consequence(
    handoff: Handoff, planned: PlannedPackage | None, *, refit: Refit, now: datetime
) -> str:
    """What waits for the piece and from when on the launch moves, in words.

    From the current plan: the package that needs the piece may start ``slip_minutes`` later without
    moving the launch, so the piece may leave that much later than ``leave_by``.
    """
    if handoff.for_package is None:
        return "No job waits for it at the moment."
    title = f"“{handoff.for_package.title}”"
    if planned is None:
        return f"{title} waits for it."
    today = refit.today(now)
    starts = say_day(refit.local(planned.start).date(), today)
    waits = f"{title} waits for it and is planned for {starts}."
    if planned.slip_minutes is None:
        return waits
    limit = (handoff.leave_by or planned.start) + timedelta(minutes=planned.slip_minutes)
    if limit <= now or (planned.slip_minutes == 0 and handoff.is_overdue(now)):
        return f"{waits} Every further day moves the launch."
    return (
        f"{waits} If it leaves you after {say_moment(limit, refit.zone, today)}, the launch moves."
    )


def say_collecting(handoff: Handoff, *, refit: Refit, now: datetime) -> str:
    """Who fetches or brings it, and when, as far as the plan knows."""
    leaves, today = handoff.depart_at, refit.today(now)
    day = refit.local(leaves).date() if leaves else None
    # A day that has passed is no plan any more.
    when = f" {say_day(day, today)}" if day and day >= today else ""
    match handoff.carrier:
        case Carrier.VENDOR:
            return f"You bring it to {handoff.destination}{',' if when else ''}{when}."
        case Carrier.HAULIER:
            return f"A haulier collects it{when}." if when else "A haulier will collect it."
        case _ if when:
            return f"We plan to collect it{when}."
        case _:
            return "We collect it as soon as we can."


def say_promise(handoff: Handoff, before: datetime | None, *, refit: Refit, now: datetime) -> str:
    """What the refit manager is told about a new date, in words."""
    today = refit.today(now)
    assert handoff.promised_at is not None
    day = say_day(refit.local(handoff.promised_at).date(), today)
    said = f"{handoff.piece.name} will be ready {day}"
    if before is not None and before != handoff.promised_at:
        said += f" instead of {say_day(refit.local(before).date(), today)}"
    return f"{said} ({handoff.promise_note})" if handoff.promise_note else said

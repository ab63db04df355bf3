"""Everything the planner of notices looks at, read in a number of queries that does not grow.

Only reading. What follows from it is in ``planner.py``.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import F, Q

from refit.accounts.models import LinkKind, Membership, PrivateLink, Role
from refit.contracts.goods import order_by_day
from refit.contracts.models import ChangeOrder, Goods, Quote
from refit.custody.cover import Gap, gaps, stays
from refit.custody.models import Handoff, HandoffState
from refit.planning.models import Plan, PlannedPackage, PlanState, PlanTrouble
from refit.quality.models import Decision, Finding
from refit.work.models import Booking, JournalEntry, Paper, Refit, WorkPackage

from .models import DeadAddress, Notice, NoticeKind, NoticeState, Side
from .models_requests import BookingRequest
from .things import Person
from .wishes import Wishes

FRESH = timedelta(days=2)
"""An event older than this is no news: an import must not tell a year of them."""
BOOKED_AHEAD = timedelta(days=15)
LONGEST_HOLD = timedelta(days=60)
QUOTES_AHEAD = timedelta(days=7)


@dataclass(frozen=True)
class LaunchAsPlanned:
    """What one plan said of the launch."""

    computed_at: datetime
    launch_at: datetime | None


@dataclass(frozen=True)
class LaunchTold:
    notice_id: int
    day: str
    """Local day, ISO 8601."""


@dataclass(frozen=True)
class ToOrder:
    """``by``: the last day on which the order still comes in time, with the refit's margin."""

    goods: Goods
    by: date


@dataclass(frozen=True)
class Picture:
    refit: Refit
    now: datetime
    managers: list[Person]
    crew: list[Person]
    owner: Person | None
    """Only an owner who has been given a page, and it is open."""
    held: list[Handoff]
    """Planned out of a vendor's place, the piece being there."""
    ready: list[Handoff]
    coming: list[Handoff]
    """Into a vendor's place: on the way, or planned with the piece where it leaves from."""
    bookings: list[Booking]
    requests: list[BookingRequest]
    """Invitations to coming bookings, taken back or not."""
    requests_told: frozenset[int]
    """Those that a letter has told of."""
    holds: list[WorkPackage]
    """Finished, with a hold after it; what waits for them is fetched with them."""
    findings: list[Finding]
    promises: list[JournalEntry]
    """By vendors, about handoffs that are still open; newest first."""
    promised: dict[int, Handoff]
    planned: dict[int, PlannedPackage]
    """Of the current plan, by package id: those that the handoffs are for."""
    launches: list[LaunchAsPlanned]
    """Earliest first: the plans of the last days, and the last one before them."""
    launch_at_invitation: LaunchAsPlanned | None
    """What the owner found when their page was opened for them."""
    launch_told: dict[str, LaunchTold]
    """What was told last, by `Person.key`."""
    trouble: PlanTrouble | None
    gaps: list[Gap]
    """Covers of keepers that do not last as long as our pieces stay or come."""
    running_out: list[Quote]
    """Answered, not decided, and soon no longer held to."""
    goods: list[ToOrder]
    """Not ordered yet, for packages that the plan has dates for."""
    changes: list[ChangeOrder]
    """For the owner's word."""
    wishes: Wishes
    dead: frozenset[str]
    """Addresses that nothing is written to, in small letters."""

    @property
    def current_launch(self) -> datetime | None:
        return self.launches[-1].launch_at if self.launches else None

    def request_for(self, package_id: int) -> BookingRequest | None:
        """The invitation to the booking of a package, if it stands."""
        return next(
            (
                request
                for request in self.requests
                if request.package_id == package_id and request.status != "withdrawn"
            ),
            None,
        )

    def launch_before(self, moment: datetime) -> datetime | None:
        """What the plan said just before ``moment``; None if there was none."""
        earlier = [plan for plan in self.launches if plan.computed_at < moment]
        return earlier[-1].launch_at if earlier else None


def look(refit: Refit, now: datetime) -> Picture:
    """The state of things right now."""
    owner_link = (
        PrivateLink.objects.live(now).filter(refit=refit, kind=LinkKind.OWNER).order_by("pk").last()
    )
    members = list(
        Membership.objects.filter(refit=refit, user__is_active=True).select_related("user")
    )
    handoffs = list(
        Handoff.objects.filter(
            refit=refit,
            origin__vendor__isnull=False,
            state__in=[HandoffState.PLANNED, HandoffState.READY],
        ).with_names()
    )
    promises = list(
        JournalEntry.objects.filter(
            refit=refit,
            verb="promised",
            subject_kind="handoff",
            actor_side="vendor",
            at__gte=now - FRESH,
        )
    )
    by_id = {handoff.pk: handoff for handoff in handoffs}
    today = refit.today(now)
    return Picture(
        refit=refit,
        now=now,
        managers=_people(members, Role.MANAGER, Side.MANAGER),
        crew=_people(members, Role.CREW, Side.CREW),
        owner=Person(refit.owner_email, refit.owner_name, Side.OWNER)
        if owner_link and refit.owner_email
        else None,
        held=[
            handoff
            for handoff in handoffs
            if handoff.state == HandoffState.PLANNED and handoff.piece.place_id == handoff.origin_id
        ],
        ready=[handoff for handoff in handoffs if handoff.state == HandoffState.READY],
        coming=list(
            Handoff.objects.filter(refit=refit, destination__vendor__isnull=False)
            .filter(
                Q(state=HandoffState.UNDER_WAY)
                | Q(
                    state__in=[HandoffState.PLANNED, HandoffState.READY],
                    piece__place=F("origin"),
                    arrive_at__gte=now,
                    arrive_at__lte=now + timedelta(days=7),
                )
            )
            .with_names()
        ),
        bookings=list(
            Booking.objects.filter(
                package__refit=refit,
                package__started_at=None,
                at__gte=now - timedelta(days=1),
                at__lte=now + BOOKED_AHEAD,
            ).select_related("package__vendor", "package__place")
        ),
        requests=list(
            BookingRequest.objects.filter(refit=refit, starts_at__gt=now).select_related("vendor")
        ),
        requests_told=frozenset(
            pk
            for payload in Notice.objects.filter(
                refit=refit, kind=NoticeKind.REQUEST, state=NoticeState.SENT
            ).values_list("payload", flat=True)
            if (pk := payload.get("request"))
        ),
        holds=list(
            WorkPackage.objects.filter(
                refit=refit, hold_minutes__gt=0, finished_at__gte=now - LONGEST_HOLD
            ).prefetch_related("unlocks__after")
        ),
        findings=list(
            Finding.objects.filter(refit=refit, decision__in=[Decision.WAITING, Decision.ASK_OWNER])
        ),
        promises=[entry for entry in promises if entry.subject_id in by_id],
        promised=by_id,
        planned={
            planned.package_id: planned
            for planned in PlannedPackage.objects.filter(
                plan__refit=refit,
                plan__state=PlanState.CURRENT,
                package_id__in=[handoff.for_package_id for handoff in handoffs],
            )
        },
        launches=_launches(refit, now),
        launch_at_invitation=_launch_at(refit, owner_link.created_at) if owner_link else None,
        launch_told=_launch_told(refit),
        trouble=PlanTrouble.objects.filter(refit=refit).first(),
        gaps=_gaps(refit, today),
        running_out=list(
            Quote.objects.running_out(today + QUOTES_AHEAD)
            .filter(inquiry__refit=refit, valid_until__gte=today)
            .select_related("vendor", "inquiry")
        ),
        goods=_to_order(refit),
        changes=list(ChangeOrder.objects.waiting().filter(refit=refit)),
        wishes=Wishes.of(refit),
        dead=frozenset(DeadAddress.objects.filter(refit=refit).values_list("email", flat=True)),
    )


def _gaps(refit: Refit, today: date) -> list[Gap]:
    handoffs = Handoff.objects.open().filter(refit=refit).with_names()
    kept = stays(handoffs, refit=refit, today=today)
    return gaps(kept, Paper.objects.filter(refit=refit), today=today)


def _to_order(refit: Refit) -> list[ToOrder]:
    goods = list(
        Goods.objects.filter(
            refit=refit,
            ordered_on=None,
            promised_on=None,
            arrived_on=None,
            package__started_at=None,
        ).select_related("package")
    )
    starts = dict(
        PlannedPackage.objects.filter(
            plan__refit=refit,
            plan__state=PlanState.CURRENT,
            package_id__in=[one.package_id for one in goods],
        ).values_list("package_id", "start")
    )
    return [
        ToOrder(one, order_by_day(one, refit.local(starts[one.package_id]).date(), refit))
        for one in goods
        if one.package_id in starts
    ]


def _people(members: list[Membership], role: Role, side: Side) -> list[Person]:
    return [
        Person(member.user.email, member.user.name, side)
        for member in members
        if member.role == role
    ]


def _launches(refit: Refit, now: datetime) -> list[LaunchAsPlanned]:
    # A plan in which no package is the launch says nothing of it, and moves nothing.
    plans = Plan.objects.filter(refit=refit, launch_at__isnull=False).order_by("computed_at", "id")
    since = now - FRESH
    rows = list(plans.filter(computed_at__gte=since).values_list("computed_at", "launch_at"))
    before = plans.filter(computed_at__lt=since).values_list("computed_at", "launch_at").last()
    return [LaunchAsPlanned(*row) for row in ([before] if before else []) + rows]


def _launch_at(refit: Refit, moment: datetime) -> LaunchAsPlanned | None:
    plans = (
        Plan.objects.filter(refit=refit, launch_at__isnull=False)
        .order_by("computed_at", "id")
        .values_list("computed_at", "launch_at")
    )
    row = plans.filter(computed_at__lte=moment).last() or plans.first()
    return LaunchAsPlanned(*row) if row else None


def _launch_told(refit: Refit) -> dict[str, LaunchTold]:
    told = (
        Notice.objects.filter(refit=refit, kind=NoticeKind.LAUNCH, state=NoticeState.SENT)
        .order_by("id")
        .values_list("side", "recipient", "id", "payload")
    )
    return {
        f"{side}:{email.lower()}": LaunchTold(pk, payload["day"])
        for side, email, pk, payload in told
    }

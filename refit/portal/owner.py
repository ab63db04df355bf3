"""What the owner sees: the launch and why, what is done, what is next, where everything is.

Only reading. No price of a vendor is on it; the cost of a finding is the manager's own estimate,
which the owner needs to decide. The number of queries does not depend on how much there is.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime

from refit.custody.models import Handoff, HandoffState, Picture
from refit.planning.models import Plan, PlannedPackage, PlanRisk, PlanState
from refit.planning.risk_words import Sure, say_sure
from refit.quality.models import Decision, Finding
from refit.work.models import Piece, Refit, WorkPackage
from refit.work.wording import say_count, say_day, say_list

from .pages import Contact, manager_contact

NEWEST = 6
"""Finished packages shown in full; the earlier ones stand in a folded list."""
MOST_PICTURES = 3
DRIVERS_NAMED = 3


@dataclass
class Done:
    package: WorkPackage
    pictures: list[Picture]


@dataclass
class Next:
    package: WorkPackage
    planned: PlannedPackage | None


@dataclass
class Spot:
    """Where some of the pieces are."""

    where: str
    pieces: list[Piece]

    def say_pieces(self) -> str:
        return say_list([piece.name for piece in self.pieces])


@dataclass
class OwnerPage:
    refit: Refit
    contact: Contact
    plan: Plan | None
    is_fresh: bool
    headline: str
    against_wanted: str
    is_late: bool
    why: str
    sure: Sure | None
    done_count: int
    all_count: int
    done: list[Done] = field(default_factory=list)
    done_earlier: list[WorkPackage] = field(default_factory=list)
    under_way: list[Next] = field(default_factory=list)
    next: list[Next] = field(default_factory=list)
    boat: Piece | None = None
    boat_where: str = ""
    fitted_count: int = 0
    spots: list[Spot] = field(default_factory=list)
    decisions: list[Finding] = field(default_factory=list)

    @property
    def rivets(self) -> list[str]:
        """One mark a package: done, being done, still to do."""
        now = len(self.under_way)
        rest = self.all_count - self.done_count - now
        return ["done"] * self.done_count + ["now"] * now + ["to-do"] * rest


def owner_page(*, refit: Refit, now: datetime) -> OwnerPage:
    plan = Plan.objects.filter(refit=refit, state=PlanState.CURRENT).first()
    planned = {row.package_id: row for row in plan.packages.all()} if plan else {}
    packages = list(
        WorkPackage.objects.filter(refit=refit, is_agreed=True)
        .select_related("place", "vendor")
        .order_by("code")
    )
    finished = sorted(
        (package for package in packages if package.finished_at),
        key=lambda package: (package.finished_at or now, package.code),
        reverse=True,
    )
    unfinished = sorted(
        (package for package in packages if not package.finished_at),
        key=lambda package: _start(package, planned, now),
    )
    launch = plan.launch_at if plan else None
    page = OwnerPage(
        refit=refit,
        contact=manager_contact(refit),
        plan=plan,
        is_fresh=plan is not None and plan.refit_version >= refit.version,
        headline=_headline(launch, packages, refit, now),
        against_wanted=say_against_wanted(launch, refit),
        is_late=bool(
            launch and refit.wanted_launch and refit.local(launch).date() > refit.wanted_launch
        ),
        why=say_why(plan, packages),
        sure=_how_sure(plan, refit, packages, planned, now),
        done_count=len(finished),
        all_count=len(packages),
        done=_with_pictures(finished[:NEWEST], refit),
        done_earlier=finished[NEWEST:],
        under_way=[Next(p, planned.get(p.pk)) for p in unfinished if p.is_started],
        next=[Next(p, planned.get(p.pk)) for p in unfinished if not p.is_started][:3],
        decisions=list(
            Finding.objects.filter(refit=refit, decision=Decision.ASK_OWNER)
            .exclude(change_orders__state="asked")  # asked as a change order, with its figures
            .order_by("code")
        ),
    )
    _place_pieces(page, refit)
    return page


def _start(
    package: WorkPackage, planned: dict[int, PlannedPackage], now: datetime
) -> tuple[bool, float, str]:
    """Sorts by actual or planned start; what has neither comes last."""
    row = planned.get(package.pk)
    start = package.started_at or (row.start if row else None)
    return (start is None, start.timestamp() if start else 0, package.code)


def _headline(
    launch: datetime | None, packages: list[WorkPackage], refit: Refit, now: datetime
) -> str:
    today = refit.today(now)
    done = next((p for p in packages if p.is_launch and p.finished_at), None)
    if done is not None and done.finished_at is not None:
        return f"Launched {say_day(refit.local(done.finished_at).date(), today)}"
    if launch is None:
        return "No launch date yet"
    return f"Launch {say_day(refit.local(launch).date(), today)}"


def say_against_wanted(launch: datetime | None, refit: Refit) -> str:
    """The planned launch against the day the owner wants, as a sentence."""
    wanted: date | None = refit.wanted_launch
    if wanted is None:
        return ""
    if launch is None:
        return f"You want it afloat by {say_day(wanted)}."
    day = refit.local(launch).date()
    days = (day - wanted).days
    said = say_day(wanted, day)
    if days == 0:
        return f"That is the very day you wanted, {said}."
    if days < 0:
        return f"That is {say_count(-days, 'day')} before the day you wanted, {said}."
    return f"That is {say_count(days, 'day')} after the day you wanted, {said}."


def say_why(plan: Plan | None, packages: list[WorkPackage]) -> str:
    """What the launch hangs on, first to last, of what is still to be done; and why it begins then.

    The plan speaks of packages by code and title; the owner knows them by their titles.
    """
    if plan is None or plan.launch_at is None:
        return ""
    titles = {
        package.code: package.title
        for package in packages
        if not package.is_launch and not package.is_finished
    }
    drivers = [titles[code] for code in plan.driving if code in titles]
    if not drivers:
        return ""
    named = [f"“{title}”" for title in drivers[:DRIVERS_NAMED]]
    rest = len(drivers) - len(named)
    chain = ", then ".join(named)
    if rest:
        chain += f", and {say_count(rest, 'more job')} after that"
    said = f"The date hangs on {chain}: a day lost there is a day lost at the launch."
    if because := plan.because.strip().rstrip("."):
        for package in packages:
            because = because.replace(f"{package.code} {package.title}", f"“{package.title}”")
        said += f" {because}."
    return said


def _how_sure(
    plan: Plan | None,
    refit: Refit,
    packages: list[WorkPackage],
    planned: dict[int, PlannedPackage],
    now: datetime,
) -> Sure | None:
    """The launch as a range, once that has been worked out and until it is over. One query."""
    risk = PlanRisk.objects.filter(plan=plan).first() if plan is not None else None
    if plan is None or risk is None or plan.launch_at is None or plan.launch_at <= now:
        return None
    named = {
        package.code: (package.title, planned[package.pk].work_finish)
        for package in packages
        if package.pk in planned
    }
    return say_sure(risk, refit=refit, today=refit.today(now), named=named)


def _with_pictures(packages: list[WorkPackage], refit: Refit) -> list[Done]:
    """The newest finished packages, each with pictures taken when its pieces left it."""
    pictures: dict[int, list[Picture]] = {}
    rows = (
        Picture.objects.filter(refit=refit, handoff__after_package__in=packages)
        .select_related("handoff", "piece")
        .order_by("-added_at", "-id")
    )
    for picture in rows:
        if picture.handoff is not None and picture.handoff.after_package_id is not None:
            pictures.setdefault(picture.handoff.after_package_id, []).append(picture)
    return [Done(package, pictures.get(package.pk, [])[:MOST_PICTURES]) for package in packages]


def _place_pieces(page: OwnerPage, refit: Refit) -> None:
    """Fill in where the boat is and where its pieces are; what is fitted is where the boat is."""
    pieces = list(Piece.objects.filter(refit=refit).select_related("place"))
    on_the_road = {
        handoff.piece_id: handoff
        for handoff in Handoff.objects.filter(
            refit=refit, state=HandoffState.UNDER_WAY
        ).select_related("destination")
    }
    spots: dict[str, Spot] = {}
    for piece in pieces:
        if piece.pk in on_the_road:
            where = f"on the way to {on_the_road[piece.pk].destination}"
        elif piece.place:
            where = f"at {piece.place}"
        else:
            where = "not recorded"
        if piece.is_boat:
            page.boat, page.boat_where = piece, where
        elif piece.fitted:
            page.fitted_count += 1
        else:
            spots.setdefault(where, Spot(where, [])).pieces.append(piece)
    page.spots = sorted(spots.values(), key=lambda spot: spot.where)

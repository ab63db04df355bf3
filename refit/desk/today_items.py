"""What stands on the page of the day: sentences with their consequence, from rows already read.

Pure: no queries. `gather` takes what `today` read and sorts it under the headings Call, Load,
Decide, Under way and Starting next. Each item is what a person would say on the telephone.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from refit.custody.cover import gaps, stays
from refit.custody.models import Carrier, Handoff, HandoffState
from refit.notices.models import BookingRequest, RequestStatus
from refit.planning.models import PlannedPackage
from refit.quality.models import Finding
from refit.work.models import BookingKind, Dependency, Paper, Refit, RelationChoice, Vendor
from refit.work.wording import (
    say_count,
    say_day,
    say_list,
    say_moment,
    say_money,
    say_near,
    say_working_time,
)

from .notes import Note
from .packages import say_who
from .pieces import due_of
from .states import State, say_progress, say_slip, state_of

DAYS_AHEAD = 5
FROM_FINISH = (RelationChoice.FINISH_TO_START, RelationChoice.FINISH_TO_FINISH)
TO_START = (RelationChoice.FINISH_TO_START, RelationChoice.START_TO_START)


@dataclass
class Call:
    """A vendor to ring up: what to say, and what it does if nobody does."""

    vendor: Vendor
    lines: list[str] = field(default_factory=list)
    is_late: bool = False


@dataclass(frozen=True)
class Load:
    """A handoff to carry out, with the one act that is next."""

    handoff: Handoff
    title: str
    line: str
    act: str
    """send, receive or nothing"""
    state: State


@dataclass(frozen=True)
class Going:
    """A package under way, or one whose hold runs."""

    row: PlannedPackage
    who: str
    line: str
    state: State


@dataclass(frozen=True)
class Window:
    """The time in which the next package must begin, or its surface is made ready again."""

    link: Dependency
    line: str
    state: State


@dataclass(frozen=True)
class Next:
    row: PlannedPackage
    who: str
    line: str
    state: State


@dataclass(frozen=True)
class Waiting:
    """A finding that waits for a decision."""

    finding: Finding
    line: str
    state: State | None


@dataclass(frozen=True)
class Day:
    calls: list[Call]
    loads: list[Load]
    waiting: list[Waiting]
    notes: list[Note]
    windows: list[Window]
    going: list[Going]
    following: list[Next]


def gather(
    *,
    refit: Refit,
    now: datetime,
    planned: list[PlannedPackage],
    handoffs: list[Handoff],
    findings: list[Finding],
    windows: list[Dependency],
    notes: list[Note],
    called: set[int],
    papers: list[Paper],
) -> Day:
    """``planned``: the packages not finished with, with package, vendor, place and booking;
    ``handoffs``: the open ones with names; ``windows``: elapsed longest waits after a package that
    is finished (or, of those that count from a start, started); ``called``: vendors already rung up
    today; ``papers``: those of all vendors."""
    by_package = {row.package_id: row for row in planned}
    return Day(
        calls=_calls(refit, now, planned, handoffs, called, by_package, papers),
        loads=_loads(refit, now, handoffs),
        waiting=[_waiting(refit, now, finding) for finding in findings],
        notes=notes,
        windows=[_window(refit, now, link) for link in windows],
        going=_going(refit, now, planned),
        following=_following(refit, now, planned),
    )


def _calls(
    refit: Refit,
    now: datetime,
    planned: list[PlannedPackage],
    handoffs: list[Handoff],
    called: set[int],
    by_package: dict[int, PlannedPackage],
    papers: list[Paper],
) -> list[Call]:
    calls: dict[int, Call] = {}
    today = refit.today(now)
    for handoff in handoffs:
        vendor, due = handoff.origin.vendor, due_of(handoff)
        if vendor is None or due is None or handoff.state != HandoffState.PLANNED or due >= now:
            continue
        call = calls.setdefault(vendor.pk, Call(vendor))
        call.is_late = True
        day = refit.local(due).date()
        verb = "was promised for" if handoff.promised_at else "was due back"
        call.lines.append(
            f"{handoff.piece.name} {verb} {say_day(day, today)}, {say_near(day, today)}."
            f"{_price_of_delay(handoff, by_package)}"
        )
    for row in planned:
        package = row.package
        booking = getattr(package, "booking", None)
        if booking is None or package.vendor is None or package.started_at is not None:
            continue
        at = refit.local(booking.at)
        days = (at.date() - today).days
        answer = _say_answer(
            getattr(package, "booking_request", None), package.vendor, refit, today
        )
        if answer and days >= 0:
            call = calls.setdefault(package.vendor.pk, Call(package.vendor))
            call.is_late = True
            call.lines.append(f"{answer}{_price_of_row(row)}")
        elif 0 <= days <= 1 or (0 <= days <= DAYS_AHEAD and not booking.agreed_with):
            call = calls.setdefault(package.vendor.pk, Call(package.vendor))
            says = "booked for" if booking.kind == BookingKind.STARTS else "agreed not before"
            ask = "" if booking.agreed_with else " Nobody there has confirmed it yet."
            call.lines.append(
                f"Confirm {package.title}: {says} {say_moment(booking.at, refit.zone, today)}.{ask}"
            )
    _ask_for_papers(refit, today, handoffs, papers, calls)
    open_calls = [call for pk, call in calls.items() if pk not in called]
    return sorted(open_calls, key=lambda call: (not call.is_late, call.vendor.name))


def _say_answer(request: BookingRequest | None, vendor: Vendor, refit: Refit, today: date) -> str:
    """What a shop's no leads to; nothing while it has not said no."""
    if request is None:
        return ""
    title = request.summary.partition(": ")[2] or request.summary
    when = say_moment(request.starts_at, refit.zone, today)
    ring = f"ring {vendor.contact or vendor.name}"
    if request.status == RequestStatus.DECLINED:
        return f"{vendor.name} has declined {title} on {when}; {ring} for another date."
    if request.status == RequestStatus.COUNTERED and request.proposed_at is not None:
        proposed = say_moment(request.proposed_at, refit.zone, today)
        return f"{vendor.name} proposes {proposed} for {title}, not {when}; answer, or {ring}."
    return ""


def _price_of_row(row: PlannedPackage) -> str:
    return " It drives the launch." if row.drives else ""


def _ask_for_papers(
    refit: Refit,
    today: date,
    handoffs: list[Handoff],
    papers: list[Paper],
    calls: dict[int, Call],
) -> None:
    """Covers that do not last as long as our pieces are kept, of stays that are or come soon."""
    soon = today + timedelta(days=DAYS_AHEAD)
    kept = [s for s in stays(handoffs, refit=refit, today=today) if s.is_there or s.begins <= soon]
    for gap in gaps(kept, papers, today=today):
        call = calls.setdefault(gap.vendor.pk, Call(gap.vendor))
        call.lines.append(f"{gap.sentence} Ask for the new paper.")


def _price_of_delay(handoff: Handoff, by_package: dict[int, PlannedPackage]) -> str:
    """What each further day does: the package that made it late, or the one that needs it."""
    near = [
        by_package[pk]
        for pk in (handoff.after_package_id, handoff.for_package_id)
        if pk in by_package
    ]
    if any(row.drives for row in near):
        return " Every further day moves the launch a day."
    slips = [row for row in near if row.slip_minutes is not None]
    if not slips:
        return ""
    least = min(slips, key=lambda row: row.slip_minutes or 0)
    days = (least.slip_minutes or 0) // 1440
    if days < 1:
        return " There is less than a day left before the launch moves."
    return f" The launch can bear {say_count(days, 'more day')}."


def _loads(refit: Refit, now: datetime, handoffs: list[Handoff]) -> list[Load]:
    today = refit.today(now)
    loads: list[tuple[tuple[int, datetime], Load]] = []
    for handoff in handoffs:
        load = _load(refit, today, handoff)
        if load is None:
            continue
        rank = {"overdue": 0, "on the road": 1, "ready to collect": 2}.get(load.state.word, 3)
        loads.append(((rank, handoff.depart_at or handoff.sent_at or now), load))
    return [load for _, load in sorted(loads, key=lambda pair: pair[0])]


def _load(refit: Refit, today: date, handoff: Handoff) -> Load | None:
    way = f"{handoff.origin} → {handoff.destination}"
    name = handoff.piece.name
    if handoff.state == HandoffState.UNDER_WAY:
        since = say_moment(handoff.sent_at, refit.zone, today) if handoff.sent_at else ""
        line = f"{way}, left {since}." if since else f"{way}."
        return Load(handoff, name, line, "receive", State("on the road", "going", ""))
    if handoff.depart_at is None:
        return None
    leaves = refit.local(handoff.depart_at).date()
    needed = _needed(refit, today, handoff)
    if handoff.state == HandoffState.READY:
        where = f"Ready at {handoff.origin}, goes to {handoff.destination}.{needed}"
        return Load(handoff, name, where, "send", State("ready to collect", "soon", ""))
    if leaves > today + timedelta(days=1):
        return None
    if handoff.origin.vendor is not None and handoff.piece.place_id == handoff.origin_id:
        due = due_of(handoff)
        if due is not None and refit.local(due).date() < today:
            return None  # overdue at a vendor's: stands under Call
    carrier = "" if handoff.carrier == Carrier.CREW else f" {handoff.get_carrier_display()}."
    state = State(say_near(leaves, today), "soon" if leaves <= today else "still", "")
    act = "send" if handoff.piece.place_id == handoff.origin_id else ""
    line = f"{way}, {say_moment(handoff.depart_at, refit.zone, today)}.{carrier}{needed}"
    return Load(handoff, name, line, act, state)


def _needed(refit: Refit, today: date, handoff: Handoff) -> str:
    if handoff.needed_at is None or handoff.for_package is None:
        return ""
    needed = say_day(refit.local(handoff.needed_at).date(), today)
    return f" {handoff.for_package.title} needs it {needed}."


def _waiting(refit: Refit, now: datetime, finding: Finding) -> Waiting:
    said = []
    if finding.work_minutes:
        said.append(say_working_time(finding.work_minutes, refit.hours_a_day))
    if finding.price is not None:
        said.append(say_money(finding.price, refit.currency))
    line = f"To repair it now: {say_list(said)}." if said else finding.get_severity_display() + "."
    line = line[:1].upper() + line[1:]
    today = refit.today(now)
    state = None
    if finding.decide_by is not None:
        day = refit.local(finding.decide_by).date()
        if finding.decide_by < now:
            state = State(f"was due {say_near(day, today)}", "late", "")
        else:
            state = State(f"decide {say_near(day, today)}", "soon", "")
    if finding.decision == "ask the owner":
        line += " The owner has been asked."
    return Waiting(finding, line, state)


def _going(refit: Refit, now: datetime, planned: list[PlannedPackage]) -> list[Going]:
    today = refit.today(now)
    rows = []
    for row in planned:
        package = row.package
        if package.started_at is None:
            continue
        state = state_of(package, row, refit, now)
        if package.finished_at is not None:
            reason = f" ({package.hold_reason})" if package.hold_reason else ""
            line = (
                f"Work is done; the hold{reason} ends {say_moment(row.finish, refit.zone, today)}."
            )
            state = State("holding", "going", "")
        else:
            ends = say_day(refit.local(row.work_finish).date(), today)
            line = f"{say_progress(package, row, refit.zone, now)}, done {ends}."
            if package.promised is not None:
                promised = refit.local(package.promised).date()
                line += f" Promised for {say_day(promised, today)}."
            if state.look != "late":
                state = _on_time(row, now)
        rows.append(Going(row, say_who(package), line, state))
    return rows


def _window(refit: Refit, now: datetime, link: Dependency) -> Window:
    """“Second coat by Sat 28 Nov 14:00 (recoat window)”."""
    before = link.before
    if link.relation in FROM_FINISH:
        assert before.finished_at is not None
        counts_from = before.finished_at + timedelta(minutes=before.hold_minutes)
    else:
        assert before.started_at is not None
        counts_from = before.started_at
    closes = counts_from + timedelta(minutes=link.max_lag_minutes or 0)
    said = say_moment(closes, refit.zone, refit.today(now))
    does = "begin" if link.relation in TO_START else "end"
    if closes < now:
        line = f"It was to {does} by {said} after {before.title}: {link.reason}. Make ready again."
        return Window(link, line, State("window missed", "late", ""))
    line = f"It must {does} by {said} after {before.title}: {link.reason}."
    return Window(link, line, State("window closes", "soon", ""))


def _on_time(row: PlannedPackage, now: datetime) -> State:
    package = row.package
    if package.deadline is not None and row.finish > package.deadline:
        return State("too late for its deadline", "late", "")
    if row.drives:
        return State("drives the launch", "going", "")
    return State("on time", "ok", "")


def _following(refit: Refit, now: datetime, planned: list[PlannedPackage]) -> list[Next]:
    today = refit.today(now)
    last = today + timedelta(days=DAYS_AHEAD)
    rows = []
    for row in planned:
        start = refit.local(row.start).date()
        if row.package.started_at is not None or start > last:
            continue
        slip = say_slip(row)
        line = f"{say_moment(row.start, refit.zone, today)} at {row.package.place}."
        if slip:
            line += f" {slip[:1].upper()}{slip[1:]}."
        state = State(say_near(start, today), "soon" if start <= today else "still", "")
        rows.append(Next(row, say_who(row.package), line, state))
    return sorted(rows, key=lambda item: item.row.start)


def unfinished(rows: Iterable[PlannedPackage], now: datetime) -> list[PlannedPackage]:
    """Without those whose work and hold are over."""
    return [
        row
        for row in rows
        if row.package.finished_at is None
        or row.package.finished_at + timedelta(minutes=row.package.hold_minutes) > now
    ]

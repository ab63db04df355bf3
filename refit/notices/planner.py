"""Who is told what, and when: the one place that decides it.

Pure: from a `Picture` to `Thing`s. It is asked every minute, and once more just before a letter
goes: what it does not say then is no longer true, and is not told. So each rule states a condition
on the present, never an event that passes between two looks.

1. *Due back soon*: two days before, on Friday for a date on a weekend's far side: vendor, manager.
2. *Overdue*: when the time has passed, again after 1, 3, 7 days, then weekly: vendor, manager.
3. *Ready to collect*: at once: manager, crew.
4. *Booking tomorrow*: the morning before: vendor, manager.
5. *Hold ended*: the morning of that day: manager, crew.
6. *Decision waiting*: the next morning, again after 3, 7 days, then weekly; on the last day at
   once: manager; the owner, where the owner is asked.
7. *Promise changed*: at once, with what it does to the launch: manager.
8. *Launch moved*: the next morning: owner, manager.
9. *No plan could be made*: at once, when it stays so for ten minutes: manager.

“At once” waits for the morning in the quiet hours. What a person wishes otherwise comes last, for
all rules alike (``wishes.py``). The other intervals are common practice, no
source.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from refit.custody.models import Handoff
from refit.quality.models import Decision
from refit.work.models import BookingKind, Vendor
from refit.work.wording import say_day, say_list

from .models import How, NoticeKind, Side
from .moments import digest_moment, is_quiet, next_digest
from .picture import FRESH, Picture
from .sentences import (
    consequence,
    day_of,
    effect_on_launch,
    further,
    holder,
    moment_of,
    whom_to_call,
)
from .things import Person, Thing

DUE_SOON_DAYS = 2
OVERDUE_AFTER_DAYS = (0, 1, 3, 7)
DECISION_AFTER_DAYS = (0, 3, 7)
PLAN_PATIENCE = timedelta(minutes=15)
"""How long a promise waits for the plan that says what it does."""
TROUBLE_PATIENCE = timedelta(minutes=10)
"""Somebody in the middle of editing sees the trouble on the page."""
SHORT_NOTICE = timedelta(days=1)


def plan_notices(picture: Picture) -> list[Thing]:
    """All there is to tell now or by the next morning or two, whether told already or not, as
    those who are told wish it."""
    things = (thing for rule in RULES for thing in rule(picture))
    return picture.wishes.apply(things, picture.refit)


# --- 1 and 2: pieces at vendors ---------------------------------------------------------------


def due_soon(picture: Picture) -> Iterator[Thing]:
    for handoff, expected in _expected(picture):
        due_day = picture.refit.local(expected).date()
        tell_day = _working_day_before(due_day, DUE_SOON_DAYS)
        if expected <= picture.now or tell_day > picture.refit.today(picture.now) + timedelta(1):
            continue
        when = moment_of(picture, expected)
        said = {
            "manager": f"Due back from {holder(handoff)} on {when}: {handoff.piece.name}."
            f"{consequence(picture, handoff)}{whom_to_call(handoff)}",
            "vendor": f"Due back from you on {when}: {handoff.piece.name}. If that changes,"
            " please say so on your page or by telephone.",
        }
        for person in _both(picture, handoff):
            yield Thing(
                about=f"{handoff.pk}:{_stamp(expected)}",
                kind=NoticeKind.DUE_SOON,
                person=person,
                short=f"due back on {say_day(due_day)}: {handoff.piece.name}",
                sentence=said["vendor" if person.vendor else "manager"],
                tell_at=_morning(picture, tell_day),
                until=expected,
            )


def overdue(picture: Picture) -> Iterator[Thing]:
    for handoff, expected in _expected(picture):
        if expected > picture.now:
            continue
        due_day = picture.refit.local(expected).date()
        days = (picture.refit.today(picture.now) - due_day).days
        step = _step(days, OVERDUE_AFTER_DAYS)
        when = moment_of(picture, expected)
        said = {
            "manager": f"Overdue at {holder(handoff)} since {when}:"
            f" {handoff.piece.name}.{consequence(picture, handoff)}{whom_to_call(handoff)}",
            "vendor": f"Due back on {when} and not yet reported ready: {handoff.piece.name}."
            " Please say “ready”, or give a new date.",
        }
        for person in _both(picture, handoff):
            yield _now_or_morning(
                picture,
                Thing(
                    about=f"{handoff.pk}:{_stamp(expected)}:{step}",
                    kind=NoticeKind.OVERDUE,
                    person=person,
                    short=f"overdue: {handoff.piece.name}",
                    sentence=said["vendor" if person.vendor else "manager"],
                    tell_at=picture.now,
                    urgent=step == 0,
                ),
            )


def ready(picture: Picture) -> Iterator[Thing]:
    for handoff in picture.ready:
        if handoff.ready_at is None or handoff.ready_at < picture.now - FRESH:
            continue
        for person in picture.managers + picture.crew:
            if person.name == handoff.ready_by:
                continue
            yield _now_or_morning(
                picture,
                Thing(
                    about=f"{handoff.pk}:{_stamp(handoff.ready_at)}",
                    kind=NoticeKind.READY,
                    person=person,
                    short=f"ready to collect: {handoff.piece.name}",
                    sentence=f"Ready to collect at {handoff.origin.name}: {handoff.piece.name}."
                    f" {handoff.ready_by or 'Somebody'} said so on"
                    f" {moment_of(picture, handoff.ready_at)}. Next stop:"
                    f" {handoff.destination.name}.",
                    tell_at=picture.now,
                    urgent=True,
                ),
            )


# --- 4 and 5: dates of packages ---------------------------------------------------------------


def booking_tomorrow(picture: Picture) -> Iterator[Thing]:
    for booking in picture.bookings:
        day = picture.refit.local(booking.at).date()
        if booking.at <= picture.now or day > picture.refit.today(picture.now) + timedelta(2):
            continue
        package = booking.package
        begins = "starts" if booking.kind == BookingKind.STARTS else "may start from then on"
        when = moment_of(picture, booking.at)
        people = list(picture.managers)
        if package.vendor and package.vendor.email:
            people.append(_vendor(package.vendor))
        for person in people:
            where = "with you" if person.vendor else f"at {package.place.name}"
            yield Thing(
                about=f"{booking.pk}:{_stamp(booking.at)}",
                kind=NoticeKind.BOOKING,
                person=person,
                short=f"{package.title} on {say_day(day)}",
                sentence=f"{package.title} is booked {where} for {when}: it {begins}.",
                tell_at=_morning(picture, day - timedelta(days=1)),
                until=booking.at,
            )


def hold_ended(picture: Picture) -> Iterator[Thing]:
    for package in picture.holds:
        if package.finished_at is None:
            continue
        ends = package.finished_at + timedelta(minutes=package.hold_minutes)
        day = picture.refit.local(ends).date()
        if ends < picture.now - FRESH or day > picture.refit.today(picture.now) + timedelta(1):
            continue
        reason = f" ({package.hold_reason})" if package.hold_reason else ""
        verb = "ended" if ends <= picture.now else "ends"
        waiting = sorted({link.after for link in package.unlocks.all()}, key=lambda one: one.code)
        next_up = say_list([str(one) for one in waiting if not one.is_started])
        for person in picture.managers + picture.crew:
            yield Thing(
                about=f"{package.pk}:{_stamp(ends)}",
                kind=NoticeKind.HOLD_ENDED,
                person=person,
                short=f"{package.title}: hold {verb}",
                sentence=f"The hold of {package}{reason} {verb} on {moment_of(picture, ends)}."
                + (f" Waiting for it: {next_up}." if next_up else ""),
                tell_at=_morning(picture, day),
                until=ends + FRESH,
            )


# --- 6: decisions -----------------------------------------------------------------------------


def decision_waiting(picture: Picture) -> Iterator[Thing]:
    today = picture.refit.today(picture.now)
    for finding in picture.findings:
        step = _step(
            (today - picture.refit.local(finding.found_at).date()).days, DECISION_AFTER_DAYS
        )
        last_day = finding.decide_by is not None and (
            picture.now >= finding.decide_by - SHORT_NOTICE
        )
        by = f" Decide by {moment_of(picture, finding.decide_by)}." if finding.decide_by else ""
        asked = finding.decision == Decision.ASK_OWNER
        said = (
            f"{finding.code} {finding.title} waits for the owner's decision.{by}"
            if asked
            else f"{finding.code} {finding.title} waits for your decision.{by}"
        )
        for person in picture.managers:
            yield _now_or_morning(
                picture,
                Thing(
                    about=f"{finding.pk}:{finding.decision}:{'last' if last_day else step}",
                    kind=NoticeKind.DECISION,
                    person=person,
                    short=f"decide on {finding.code} {finding.title}",
                    sentence=said,
                    tell_at=picture.now,
                    urgent=last_day,
                ),
            )
        if asked and picture.owner:
            yield _now_or_morning(
                picture,
                Thing(
                    about=f"{finding.pk}:{finding.decision}:{step}",
                    kind=NoticeKind.DECISION,
                    person=picture.owner,
                    short=f"your decision on {finding.title}",
                    sentence=f"Something was found: {finding.title}. The refit manager asks for"
                    f" your decision.{by}",
                    tell_at=picture.now,
                ),
            )


# --- 7, 8, 9: the plan ------------------------------------------------------------------------


def promise_changed(picture: Picture) -> Iterator[Thing]:
    seen: set[int] = set()
    for entry in picture.promises:
        if entry.subject_id is None or entry.subject_id in seen:
            continue
        seen.add(entry.subject_id)
        handoff = picture.promised[entry.subject_id]
        planned_since = bool(picture.launches) and picture.launches[-1].computed_at >= entry.at
        if handoff.promised_at is None or not (
            planned_since or picture.now >= entry.at + PLAN_PATIENCE
        ):
            continue
        earlier = entry.before.get("promised_at") or entry.before.get("due_at")
        instead = ""
        if earlier and datetime.fromisoformat(earlier) != handoff.promised_at:
            instead = f" instead of {moment_of(picture, datetime.fromisoformat(earlier))}"
        note = f" “{entry.note}”" if entry.note else ""
        effect = effect_on_launch(picture, entry.at) if planned_since else ""
        for person in picture.managers:
            yield _now_or_morning(
                picture,
                Thing(
                    about=f"{entry.pk}",
                    kind=NoticeKind.PROMISE,
                    person=person,
                    short=f"{handoff.piece.name}: promised for"
                    f" {say_day(picture.refit.local(handoff.promised_at).date())}",
                    sentence=f"{entry.actor_name} promises {handoff.piece.name} for"
                    f" {moment_of(picture, handoff.promised_at)}{instead}.{note}{effect}",
                    tell_at=picture.now,
                    urgent=True,
                ),
            )


def launch_moved(picture: Picture) -> Iterator[Thing]:
    if picture.current_launch is None:
        return
    day = picture.refit.local(picture.current_launch).date()
    readers = picture.managers + ([picture.owner] if picture.owner else [])
    for person in readers:
        told = picture.launch_told.get(person.key)
        known = _launch_known_to(picture, person)
        if known is None or known == day:
            continue
        yield _now_or_morning(
            picture,
            Thing(
                about=f"{told.notice_id if told else 0}:{known}>{day}",
                kind=NoticeKind.LAUNCH,
                person=person,
                short=f"launch now on {say_day(day)}",
                sentence=f"The launch is now planned for {day_of(picture, day)},"
                f" {further(known, day)} than {day_of(picture, known)}, the date before.",
                tell_at=picture.now,
                payload={"day": day.isoformat()},
            ),
        )


def no_plan(picture: Picture) -> Iterator[Thing]:
    trouble = picture.trouble
    if trouble is None or trouble.at > picture.now - TROUBLE_PATIENCE:
        return
    what = hashlib.sha256(trouble.sentence.encode()).hexdigest()[:16]
    for person in picture.managers:
        yield _now_or_morning(
            picture,
            Thing(
                about=f"{what}:{picture.refit.local(trouble.at).date()}",
                kind=NoticeKind.NO_PLAN,
                person=person,
                short="no plan could be made",
                sentence=f"No plan could be made after the last change: {trouble.sentence}"
                " The pages show the last plan that could.",
                tell_at=picture.now,
                urgent=True,
            ),
        )


RULES: tuple[Callable[[Picture], Iterator[Thing]], ...] = (
    due_soon,
    overdue,
    ready,
    booking_tomorrow,
    hold_ended,
    decision_waiting,
    promise_changed,
    launch_moved,
    no_plan,
)

# --- what the rules share ---------------------------------------------------------------------


def _expected(picture: Picture) -> Iterator[tuple[Handoff, datetime]]:
    for handoff in picture.held:
        if handoff.expected_at is not None:
            yield handoff, handoff.expected_at


def _both(picture: Picture, handoff: Handoff) -> list[Person]:
    vendor = handoff.origin.vendor
    return picture.managers + ([_vendor(vendor)] if vendor and vendor.email else [])


def _vendor(vendor: Vendor) -> Person:
    return Person(vendor.email, vendor.contact or vendor.name, Side.VENDOR, vendor)


def _step(days: int, steps: tuple[int, ...]) -> int:
    """The last of ``steps`` that has been reached; after the last one, every seventh day."""
    if days >= steps[-1] + 7:
        return steps[-1] + (days - steps[-1]) // 7 * 7
    return max(step for step in steps if step <= max(days, 0))


def _working_day_before(day: date, days: int) -> date:
    """``days`` before, or the Friday before that if it falls on a weekend."""
    told = day - timedelta(days=days)
    return told - timedelta(days=max(0, told.weekday() - 4))


def _next_morning(picture: Picture) -> datetime:
    return next_digest(picture.now, picture.refit.zone)


def _morning(picture: Picture, day: date) -> datetime:
    """The digest of ``day``, or the next one if that has gone."""
    planned = digest_moment(day, picture.refit.zone)
    return planned if planned >= picture.now else _next_morning(picture)


def _now_or_morning(picture: Picture, thing: Thing) -> Thing:
    """An urgent thing now, unless people sleep; everything else in the next digest. What is urgent
    and when people sleep is as the person wishes."""
    key, zone = thing.person.key, picture.refit.zone
    how, hours = picture.wishes.how(key, thing.kind), picture.wishes.quiet(key)
    urgent = thing.urgent if how is How.USUAL else how is How.AT_ONCE
    if urgent and not is_quiet(picture.now, zone, hours):
        return replace(thing, urgent=True)
    return replace(thing, urgent=False, tell_at=next_digest(picture.now, zone, hours))


def _stamp(moment: datetime) -> str:
    return f"{moment.astimezone(UTC):%Y-%m-%dT%H:%M}"


def _launch_known_to(picture: Picture, person: Person) -> date | None:
    """What the person was last told, or else found: the owner when the page was opened for them,
    a manager two days ago. None: nothing to compare with."""
    if told := picture.launch_told.get(person.key):
        return date.fromisoformat(told.day)
    if person.side == Side.OWNER:
        found = picture.launch_at_invitation
        known = found.launch_at if found else None
    else:
        known = picture.launch_before(picture.now - FRESH)
    return picture.refit.local(known).date() if known else None

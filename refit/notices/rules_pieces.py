"""Rules about pieces at vendors and on their way: due back, overdue, ready, coming."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from refit.custody.models import Carrier, Handoff, HandoffState
from refit.work.wording import say_day

from .models import NoticeKind
from .picture import FRESH, Picture
from .rules_common import (
    both_ends,
    morning_of,
    now_or_morning,
    stamp,
    step_reached,
    vendor_person,
    working_day_before,
)
from .sentences import consequence, holder, moment_of, whom_to_call
from .things import Thing

DUE_SOON_DAYS = 2
OVERDUE_AFTER_DAYS = (0, 1, 3, 7)
COMING_DAYS = 2


def due_soon(picture: Picture) -> Iterator[Thing]:
    for handoff, expected in _expected(picture):
        due_day = picture.refit.local(expected).date()
        tell_day = working_day_before(due_day, DUE_SOON_DAYS)
        if expected <= picture.now or tell_day > picture.refit.today(picture.now) + timedelta(1):
            continue
        when = moment_of(picture, expected)
        said = {
            "manager": f"Due back from {holder(handoff)} on {when}: {handoff.piece.name}."
            f"{consequence(picture, handoff)}{whom_to_call(handoff)}",
            "vendor": f"Due back from you on {when}: {handoff.piece.name}. If that changes,"
            " please say so on your page or by telephone.",
        }
        for person in both_ends(picture, handoff):
            yield Thing(
                about=f"{handoff.pk}:{stamp(expected)}",
                kind=NoticeKind.DUE_SOON,
                person=person,
                short=f"due back on {say_day(due_day)}: {handoff.piece.name}",
                sentence=said["vendor" if person.vendor else "manager"],
                tell_at=morning_of(picture, tell_day),
                until=expected,
                spot=f"held-{handoff.pk}",
            )


def overdue(picture: Picture) -> Iterator[Thing]:
    for handoff, expected in _expected(picture):
        if expected > picture.now:
            continue
        due_day = picture.refit.local(expected).date()
        days = (picture.refit.today(picture.now) - due_day).days
        step = step_reached(days, OVERDUE_AFTER_DAYS)
        when = moment_of(picture, expected)
        said = {
            "manager": f"Overdue at {holder(handoff)} since {when}:"
            f" {handoff.piece.name}.{consequence(picture, handoff)}{whom_to_call(handoff)}",
            "vendor": f"Due back on {when} and not yet reported ready: {handoff.piece.name}."
            " Please say “ready”, or give a new date.",
        }
        for person in both_ends(picture, handoff):
            yield now_or_morning(
                picture,
                Thing(
                    about=f"{handoff.pk}:{stamp(expected)}:{step}",
                    kind=NoticeKind.OVERDUE,
                    person=person,
                    short=f"overdue: {handoff.piece.name}",
                    sentence=said["vendor" if person.vendor else "manager"],
                    tell_at=picture.now,
                    urgent=step == 0,
                    spot=f"held-{handoff.pk}",
                ),
            )


def ready(picture: Picture) -> Iterator[Thing]:
    for handoff in picture.ready:
        if handoff.ready_at is None or handoff.ready_at < picture.now - FRESH:
            continue
        for person in picture.managers + picture.crew:
            if person.name == handoff.ready_by:
                continue
            yield now_or_morning(
                picture,
                Thing(
                    about=f"{handoff.pk}:{stamp(handoff.ready_at)}",
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


def coming(picture: Picture) -> Iterator[Thing]:
    """To the vendor who gets a piece: two days before it is planned to come, and when it is on
    its way."""
    for handoff in picture.coming:
        vendor = handoff.destination.vendor
        if vendor is None or not vendor.email:
            continue
        person, name = vendor_person(vendor), handoff.piece.name
        job = f" It is for “{handoff.for_package.title}”." if handoff.for_package else ""
        if handoff.state == HandoffState.UNDER_WAY:
            if handoff.sent_at is None or handoff.sent_at < picture.now - FRESH:
                continue
            due = handoff.arrive_at
            when = f", planned for {moment_of(picture, due)}" if due else ""
            yield now_or_morning(
                picture,
                Thing(
                    about=f"{handoff.pk}:sent {stamp(handoff.sent_at)}",
                    kind=NoticeKind.COMING,
                    person=person,
                    short=f"on the way to you: {name}",
                    sentence=f"On the way to you: {name}{when}.{job} Please say on your page when"
                    " it is there.",
                    tell_at=picture.now,
                    urgent=True,
                    spot=f"coming-{handoff.pk}",
                ),
            )
            continue
        if handoff.arrive_at is None or handoff.arrive_at <= picture.now:
            continue
        day = picture.refit.local(handoff.arrive_at).date()
        tell_day = working_day_before(day, COMING_DAYS)
        if tell_day > picture.refit.today(picture.now) + timedelta(1):
            continue
        brings = "You fetch it." if handoff.carrier == Carrier.VENDOR else "It is brought to you."
        yield Thing(
            about=f"{handoff.pk}:{day}",
            kind=NoticeKind.COMING,
            person=person,
            short=f"coming to you on {say_day(day)}: {name}",
            sentence=f"Coming to you on {moment_of(picture, handoff.arrive_at)}: {name}."
            f" {brings}{job}",
            tell_at=morning_of(picture, tell_day),
            until=handoff.arrive_at,
            spot=f"coming-{handoff.pk}",
        )


def _expected(picture: Picture) -> Iterator[tuple[Handoff, datetime]]:
    for handoff in picture.held:
        if handoff.expected_at is not None:
            yield handoff, handoff.expected_at

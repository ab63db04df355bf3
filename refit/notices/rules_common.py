"""What the rules share: whom a thing concerns, when it is told, how a series of reminders goes on.

No rule and no sentence stands here.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from refit.custody.models import Handoff
from refit.work.models import Vendor

from .models import How, Side
from .moments import digest_moment, is_quiet, next_digest
from .picture import Picture
from .things import Person, Thing


def both_ends(picture: Picture, handoff: Handoff) -> list[Person]:
    vendor = handoff.origin.vendor
    return picture.managers + ([vendor_person(vendor)] if vendor and vendor.email else [])


def vendor_person(vendor: Vendor) -> Person:
    return Person(vendor.email, vendor.contact or vendor.name, Side.VENDOR, vendor)


def step_reached(days: int, steps: tuple[int, ...]) -> int:
    """The last of ``steps`` that has been reached; after the last one, every seventh day."""
    if days >= steps[-1] + 7:
        return steps[-1] + (days - steps[-1]) // 7 * 7
    return max(step for step in steps if step <= max(days, 0))


def step_before(days_left: int, steps: tuple[int, ...]) -> int | None:
    """The last of the ``steps`` before a day that has been reached; None before the first."""
    return min((step for step in steps if days_left <= step), default=None)


def working_day_before(day: date, days: int) -> date:
    """``days`` before, or the Friday before that if it falls on a weekend."""
    told = day - timedelta(days=days)
    return told - timedelta(days=max(0, told.weekday() - 4))


def next_morning(picture: Picture) -> datetime:
    return next_digest(picture.now, picture.refit.zone)


def morning_of(picture: Picture, day: date) -> datetime:
    """The digest of ``day``, or the next one if that has gone."""
    planned = digest_moment(day, picture.refit.zone)
    return planned if planned >= picture.now else next_morning(picture)


def now_or_morning(picture: Picture, thing: Thing) -> Thing:
    """An urgent thing now, unless people sleep; everything else in the next digest. What is urgent
    and when people sleep is as the person wishes."""
    key, zone = thing.person.key, picture.refit.zone
    how, hours = picture.wishes.how(key, thing.kind), picture.wishes.quiet(key)
    urgent = thing.urgent if how is How.USUAL else how is How.AT_ONCE
    if urgent and not is_quiet(picture.now, zone, hours):
        return replace(thing, urgent=True)
    return replace(thing, urgent=False, tell_at=next_digest(picture.now, zone, hours))


def stamp(moment: datetime) -> str:
    return f"{moment.astimezone(UTC):%Y-%m-%dT%H:%M}"

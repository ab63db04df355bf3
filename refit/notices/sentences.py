"""Parts of sentences that several notices share: dates, whom to call, what the launch does."""

from __future__ import annotations

from datetime import date, datetime

from refit.custody.models import Handoff
from refit.work.wording import say_count, say_day, say_elapsed, say_moment

from .picture import Picture


def holder(handoff: Handoff) -> str:
    """Who has the piece."""
    return handoff.origin.vendor.name if handoff.origin.vendor else handoff.origin.name


def moment_of(picture: Picture, moment: datetime) -> str:
    return say_moment(moment, picture.refit.zone, picture.refit.today(picture.now))


def day_of(picture: Picture, day: date) -> str:
    return say_day(day, picture.refit.today(picture.now))


def whom_to_call(handoff: Handoff) -> str:
    vendor = handoff.origin.vendor
    if vendor is None or not vendor.phone:
        return ""
    return f" Call {vendor.contact or vendor.name}, {vendor.phone}."


def consequence(picture: Picture, handoff: Handoff) -> str:
    """What the lateness of a piece does to the launch, by the package that needs it next."""
    planned = picture.planned.get(handoff.for_package_id or 0)
    if planned is None or (planned.slip_minutes is None and not planned.drives):
        return ""
    slip = 0 if planned.drives else planned.slip_minutes or 0
    if slip < 60:
        return " The launch waits for it: every further day moves the launch a day."
    # Rounded down: whole hours of up to two days, then whole days.
    whole = slip // 60 * 60 if slip < 2 * 1440 else slip // 1440 * 1440
    return f" It may come {say_elapsed(whole)} later before the launch moves."


def effect_on_launch(picture: Picture, since: datetime) -> str:
    before, after = picture.launch_before(since), picture.current_launch
    if after is None:
        return ""
    new = picture.refit.local(after).date()
    old = picture.refit.local(before).date() if before else None
    if old is None:
        return f" The launch is planned for {day_of(picture, new)}."
    if old == new:
        return f" The launch stays on {day_of(picture, new)}."
    return (
        f" The launch moves from {day_of(picture, old)} to {day_of(picture, new)},"
        f" {further(old, new)}."
    )


def further(old: date, new: date) -> str:
    return f"{say_count(abs((new - old).days), 'day')} {'later' if new > old else 'earlier'}"

"""Rules about dates of packages: bookings, the ends of holds."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from refit.work.models import BookingKind
from refit.work.wording import say_day, say_list

from .models import NoticeKind
from .models_requests import RequestStatus
from .picture import FRESH, Picture
from .rules_common import morning_of, now_or_morning, stamp, vendor_person
from .sentences import moment_of
from .things import Thing

CONFIRM_DAYS = (14, 7, 3, 1)
"""A date that nobody at the shop has agreed to is asked for so many days before it."""


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
            people.append(vendor_person(package.vendor))
        for person in people:
            where = "with you" if person.vendor else f"at {package.place.name}"
            yield Thing(
                about=f"{booking.pk}:{stamp(booking.at)}",
                kind=NoticeKind.BOOKING,
                person=person,
                short=f"{package.title} on {say_day(day)}",
                sentence=f"{package.title} is booked {where} for {when}: it {begins}.",
                tell_at=morning_of(picture, day - timedelta(days=1)),
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
                about=f"{package.pk}:{stamp(ends)}",
                kind=NoticeKind.HOLD_ENDED,
                person=person,
                short=f"{package.title}: hold {verb}",
                sentence=f"The hold of {package}{reason} {verb} on {moment_of(picture, ends)}."
                + (f" Waiting for it: {next_up}." if next_up else ""),
                tell_at=morning_of(picture, day),
                until=ends + FRESH,
            )


def booking_to_confirm(picture: Picture) -> Iterator[Thing]:
    """A booked date with nobody's name to it is a wish: the manager is told whom to ask, the
    vendor is asked. Again as the day comes nearer."""
    for booking in picture.bookings:
        vendor = booking.package.vendor
        if vendor is None or booking.agreed_with or booking.at <= picture.now:
            continue
        day = picture.refit.local(booking.at).date()
        left = (day - picture.refit.today(picture.now)).days
        reached = [step for step in CONFIRM_DAYS if left <= step]
        if not reached:
            continue
        when, title = moment_of(picture, booking.at), booking.package.title
        ask = f" Ask {vendor.contact or vendor.name}" + (
            f", {vendor.phone}." if vendor.phone else "."
        )
        request = picture.request_for(booking.package_id)
        if request is not None and request.status in (
            RequestStatus.DECLINED, RequestStatus.COUNTERED,
        ):  # fmt: skip
            continue
        just_asked = (
            request is not None
            and request.pk in picture.requests_told
            and request.stamped_at > picture.now - FRESH
        )
        people = [
            *picture.managers,
            *([vendor_person(vendor)] if vendor.email and not just_asked else []),
        ]
        for person in people:
            said = (
                f"{title} is pencilled in with you for {when}. Please answer whether that holds:"
                " an answer to this mail or a call will do."
                if person.vendor
                else f"{title} at {vendor.name} on {when}: nobody there has agreed to it yet.{ask}"
            )
            yield now_or_morning(
                picture,
                Thing(
                    about=f"{booking.pk}:{stamp(booking.at)}:{reached[-1]}",
                    kind=NoticeKind.CONFIRM,
                    person=person,
                    short=f"to confirm: {title}, {say_day(day)}",
                    sentence=said,
                    tell_at=picture.now,
                    until=booking.at,
                ),
            )

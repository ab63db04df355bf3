"""The rule about invitations to bookings. Keeping them is in ``requests.py``."""

from __future__ import annotations

from collections.abc import Iterator

from refit.work.wording import say_day

from .models import NoticeKind, Side
from .models_requests import RequestStatus
from .picture import Picture
from .rules_common import now_or_morning
from .sentences import moment_of
from .things import Person, Thing


def booking_request(picture: Picture) -> Iterator[Thing]:
    """One mail for each time asked for. Only who got the invitation is told that it is gone."""
    for request in picture.requests:
        if request.vendor is None:
            continue
        gone = request.status == RequestStatus.WITHDRAWN
        if gone and request.pk not in picture.requests_told:
            continue
        when = moment_of(picture, request.starts_at)
        title = request.summary.partition(": ")[2] or request.summary
        day = say_day(picture.refit.local(request.starts_at).date())
        if gone:
            said = f"{title} on {when} is taken back. Please strike it from your calendar."
        elif request.sequence:
            said = (
                f"{title} is asked for at another time: {when}. Please accept or decline it in"
                " your calendar, or answer this mail."
            )
        else:
            said = (
                f"{title} is asked for on {when}. Please accept or decline it in your calendar,"
                " or answer this mail."
            )
        yield now_or_morning(
            picture,
            Thing(
                about=f"{request.pk}:{request.sequence}",
                kind=NoticeKind.REQUEST,
                person=Person(
                    request.email, request.name or request.vendor.name, Side.VENDOR, request.vendor
                ),
                short=f"{title}, {day}" + (": taken back" if gone else ""),
                sentence=said,
                tell_at=picture.now,
                urgent=True,
                until=request.starts_at,
                payload={"request": request.pk},
            ),
        )

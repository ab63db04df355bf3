"""The door that a letter carries to its recipient's page, and the mark that somebody came by it.

The door leads on to `portal:enter`, which alone lets people in, and to the place on the page where
the one thing stands that the letter is about. Opening it writes nothing: mail scanners do that at
will. It leaves a signed cookie with the number of the letter; the next POST of that browser (the
page itself sends one where scripts run, and every act is one) notes the letter as opened. So
“opened” means a browser in which something happened; “not opened” may also be somebody who only
read the mail, or reads without scripts and did nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone

from refit.accounts.mailed import GOOD_FOR, mailed_token
from refit.accounts.models import PrivateLink

from .models import Letter

COOKIE = "refit-letter"
_SALT = "refit.notices.door"


def door_address(letter: Letter, link: PrivateLink, spot: str) -> str:
    """``spot``: the place on the page (``held-12``), or empty."""
    token = signing.dumps([letter.pk, link.public_id, spot], salt=_SALT)
    address: str = settings.SITE_ADDRESS + reverse("notices:open", args=[token])
    return address


def way_in(token: str) -> tuple[str, int] | None:
    """Where the door leads and the number of its letter; None if it is none of ours, or too old.

    Whether the link behind it still opens anything is asked at the next door, not here.
    """
    try:
        letter_id, public_id, spot = signing.loads(token, salt=_SALT, max_age=GOOD_FOR)
    except (signing.BadSignature, ValueError):
        return None
    link = PrivateLink.objects.filter(public_id=public_id).first()
    if link is None:
        return None
    address = reverse("portal:enter", args=[mailed_token(link)])
    # Browsers carry the place along when they are sent on once more (RFC 9110, 10.2.2).
    return (f"{address}#{spot}" if spot else address), letter_id


def leave_mark(response: HttpResponse, letter_id: int) -> None:
    response.set_cookie(
        COOKIE,
        signing.dumps(letter_id, salt=_SALT + ".mark"),
        secure=settings.HTTPS,
        httponly=True,
        samesite="Lax",
    )


def note_opened(*, mark: str, now: datetime) -> bool:
    """Note the letter as opened. False for a forged mark, or if it was noted before."""
    try:
        letter_id = signing.loads(mark, salt=_SALT + ".mark", max_age=GOOD_FOR)
    except signing.BadSignature:
        return False
    return bool(Letter.objects.filter(pk=letter_id, opened_at=None).update(opened_at=now))


class LettersOpened:
    """Middleware: the first POST that went well, of a browser that came by the door of a letter."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        mark = request.COOKIES.get(COOKIE)
        if mark and request.method == "POST" and response.status_code < 400:
            note_opened(mark=mark, now=timezone.now())
            response.delete_cookie(COOKIE)
        return response

"""Between password and code: who is half signed in, in this browser's session.

Nothing opens to them: the session carries no user yet, only whose password was right, when, and
where they wanted to go. A password that is changed meanwhile ends it.
"""

from __future__ import annotations

import hmac
import time

from django.conf import settings
from django.http import HttpRequest

from .models import User

KEY = "waits_for_code"
GOOD_FOR_SECONDS = 600


def ask_for_code(request: HttpRequest, user: User, *, next_page: str) -> None:
    """Remember that ``user`` gave the right password, under a new session key."""
    request.session.flush()
    request.session[KEY] = {
        "user": user.pk,
        "password": user.get_session_auth_hash(),
        "at": int(time.time()),
        "next": next_page,
    }


def who_waits(request: HttpRequest) -> tuple[User, str] | None:
    """Who has to give a code now and where they want to go; None if nobody, or it took too long."""
    kept = request.session.get(KEY)
    if not isinstance(kept, dict) or time.time() - kept["at"] > GOOD_FOR_SECONDS:
        return None
    user = User.objects.filter(pk=kept["user"], is_active=True).first()
    if user is None or not hmac.compare_digest(kept["password"], user.get_session_auth_hash()):
        return None
    return user, str(kept["next"])


def client_address(request: HttpRequest) -> str:
    """Where the request comes from; behind our own proxy, what that proxy saw."""
    if settings.SECURE_PROXY_SSL_HEADER:
        seen = request.headers.get("X-Forwarded-For", "").rsplit(",", 1)[-1].strip()
        if seen:
            return seen[:45]
    return str(request.META.get("REMOTE_ADDR", ""))[:45]

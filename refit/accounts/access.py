"""Private links in the browser: the cookie that remembers them, and the door in front of a page.

Opening ``/p/in/<token>`` puts the link into a signed cookie; the pages behind carry only its
public id. The cookie says which links this browser has been shown; whether a link still opens
anything is asked of the database at every request, so that a revoked one ends at once. One and the
same page answers to a link that never was, to one that ended, and to one of somebody else.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.cache import patch_vary_headers

from .models import LinkKind, PrivateLink

SALT = "refit.private-links"
HALF_SALT = "refit.private-links.half"
HALF_SECONDS = 3600
"""How long a browser that showed the token may take to bring the mailed code."""
MAX_LINKS = 12
"""How many links one browser remembers; the earliest is forgotten first."""
COOKIE_DAYS = 365

P = ParamSpec("P")
LinkView = Callable[Concatenate[HttpRequest, PrivateLink, P], HttpResponse]


def cookie_name() -> str:
    """``__Host-`` binds the cookie to this very host, and is possible over https only."""
    return "__Host-refit-links" if settings.HTTPS else "refit-links"


def half_cookie_name() -> str:
    return f"{cookie_name()}-half"


def known_ids(request: HttpRequest) -> list[str]:
    """Public ids of the links this browser has proved to hold, earliest first."""
    return _signed_ids(request, cookie_name(), SALT, COOKIE_DAYS * 86400)


def half_known_ids(request: HttpRequest) -> list[str]:
    """Those whose token was shown, while the mailed code is still missing."""
    return _signed_ids(request, half_cookie_name(), HALF_SALT, HALF_SECONDS)


def _signed_ids(request: HttpRequest, name: str, salt: str, seconds: int) -> list[str]:
    try:
        ids = signing.loads(request.COOKIES.get(name, ""), salt=salt, max_age=seconds)
    except signing.BadSignature:
        return []
    return [known for known in ids if isinstance(known, str)] if isinstance(ids, list) else []


def remember_link(request: HttpRequest, response: HttpResponse, link: PrivateLink) -> None:
    """Add ``link`` to those the browser holds. Call only after its token was shown, and the
    mailed code where it asks for one."""
    ids = [known for known in known_ids(request) if known != link.public_id]
    _set_ids(response, cookie_name(), SALT, COOKIE_DAYS * 86400, [*ids, link.public_id])


def remember_half(request: HttpRequest, response: HttpResponse, link: PrivateLink) -> None:
    """The token was shown; the code is to come. Opens nothing but the page that asks for it."""
    ids = [known for known in half_known_ids(request) if known != link.public_id]
    _set_ids(response, half_cookie_name(), HALF_SALT, HALF_SECONDS, [*ids, link.public_id])


def _set_ids(response: HttpResponse, name: str, salt: str, seconds: int, ids: list[str]) -> None:
    response.set_cookie(
        name,
        signing.dumps(ids[-MAX_LINKS:], salt=salt, compress=True),
        max_age=seconds,
        path="/",
        secure=settings.HTTPS,
        httponly=True,
        samesite="Lax",
    )


def live_links(request: HttpRequest) -> list[PrivateLink]:
    """The links this browser holds that are open right now. No query for a browser without any."""
    ids = known_ids(request)
    if not ids:
        return []
    return list(
        PrivateLink.objects.live(timezone.now())
        .filter(public_id__in=ids)
        .select_related("refit__boat", "vendor")
    )


def closed_page(request: HttpRequest) -> HttpResponse:
    """404, the same whoever asks: it must not tell whether such a link was ever given out."""
    response = render(request, "accounts/link_closed.html", status=404)
    _keep_private(response)
    return response


def link_page(
    *kinds: LinkKind, half: bool = False
) -> Callable[[LinkView[P]], Callable[..., HttpResponse]]:
    """The view gets the live link whose public id is in the address, else the closed page is shown.

    The link must be of one of ``kinds`` and be proved by the cookie; ``half`` lets in who showed
    the token of a link that asks for a code, and has not brought the code yet. Dates inside the
    view and its templates are in the refit's zone.
    """

    def decorate(view: LinkView[P]) -> Callable[..., HttpResponse]:
        @wraps(view)
        def door(
            request: HttpRequest, public_id: str, *args: P.args, **kwargs: P.kwargs
        ) -> HttpResponse:
            link = None
            if public_id in (half_known_ids(request) if half else known_ids(request)):
                link = (
                    PrivateLink.objects.live(timezone.now())
                    .filter(public_id=public_id, kind__in=kinds)
                    .select_related("refit__boat", "vendor")
                    .first()
                )
                if half and link is not None and not link.asks_code:
                    link = None
            if link is None:
                return closed_page(request)
            with timezone.override(link.refit.zone):
                response = view(request, link, *args, **kwargs)
            _keep_private(response)
            return response

        return door

    return decorate


def _keep_private(response: HttpResponse) -> None:
    response.headers.setdefault("Cache-Control", "no-store")
    # Not "no-referrer": browsers then send "Origin: null" with a form, which the protection
    # against forged requests must refuse. Other sites get no referrer either way.
    response.headers["Referrer-Policy"] = "same-origin"
    response.headers["X-Robots-Tag"] = "noindex, nofollow"
    patch_vary_headers(response, ["Cookie"])

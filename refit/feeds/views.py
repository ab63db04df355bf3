"""The calendar behind a private address.

The token stays in the address, because calendar programs know no other way; it is kept out of
logs. A GET changes no plan; the very first one writes the calendar, later ones only read it.
"""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.http import http_date
from django.views.decorators.http import require_safe

from refit.accounts.models import PrivateLink
from refit.planning.models import Plan

from .models import Feed
from .services import refresh_feed
from .text import write_closed_calendar

CLOSED_FOR = timedelta(days=30)
"""How long a link that ended says so, before it is gone."""


@require_safe
def feed(request: HttpRequest, token: str) -> HttpResponse:
    now = timezone.now()
    link = PrivateLink.objects.for_token(token)
    if link is None or not link.is_feed:
        raise Http404
    if not link.is_live(now):
        closed_at = link.ends_at or now
        if closed_at <= now - CLOSED_FOR:
            return HttpResponse("This calendar is closed.\n", "text/plain", status=410)
        body = write_closed_calendar(link, closed_at)
        etag = hashlib.sha256(body.encode()).hexdigest()[:32]
        return _answer(request, body, etag, closed_at)
    written = Feed.objects.filter(link=link).first() or refresh_feed(
        link=link, plan=Plan.objects.current(link.refit), now=now
    )
    return _answer(request, written.body, written.etag, written.modified_at)


def _answer(request: HttpRequest, body: str, etag: str, modified_at: datetime) -> HttpResponse:
    response: HttpResponse = HttpResponse(body, "text/calendar; charset=utf-8")
    response["Content-Disposition"] = 'inline; filename="refit.ics"'
    response["ETag"] = f'"{etag}"'
    response["Last-Modified"] = http_date(modified_at.timestamp())
    shown = get_conditional_response(
        request,
        etag=f'"{etag}"',
        last_modified=int(modified_at.timestamp()),
        response=response,
    )
    answer: HttpResponse = response if shown is None else shown
    # Outside the comparison, so that “not modified” says it too.
    answer["Cache-Control"] = "private, no-cache"
    return answer

"""Bringing calendars up to date with the plan, event by event."""

from __future__ import annotations

import hashlib
import logging
import uuid
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.db import transaction

from refit.accounts.models import FEED_KINDS, PrivateLink
from refit.planning.models import Plan, PlanState

from .models import Feed, FeedEvent
from .text import write_calendar
from .wanted import Wanted, wanted_events

log = logging.getLogger(__name__)

CANCELLED_FOR = timedelta(days=30)
"""How long a cancelled event is shown as cancelled: until every reader has fetched it."""
WRITE_ANEW_AFTER = timedelta(hours=6)
"""Even if nothing changed: cancelled events run out."""
DATES = ("first_day", "last_day", "starts_at", "ends_at")


def refresh_feeds(*, now: datetime) -> int:
    """Write every open calendar anew whose refit or plan has changed. Returns how many."""
    links = list(
        PrivateLink.objects.live(now)
        .filter(kind__in=FEED_KINDS, refit__closed_at=None)
        .select_related("refit__boat", "vendor", "crew_member", "place", "feed")
    )
    plans = {
        plan.refit_id: plan
        for plan in Plan.objects.filter(
            state=PlanState.CURRENT, refit__in={link.refit_id for link in links}
        )
    }
    written = 0
    for link in links:
        plan = plans.get(link.refit_id)
        if is_current(link, plan, now):
            continue
        try:
            refresh_feed(link=link, plan=plan, now=now)
            written += 1
        except Exception:
            log.exception("The calendar of link %s could not be written.", link.pk)
    return written


def is_current(link: PrivateLink, plan: Plan | None, now: datetime) -> bool:
    feed: Feed | None = getattr(link, "feed", None)
    return (
        feed is not None
        and feed.refit_version == link.refit.version
        and feed.plan_id == (plan.pk if plan else None)
        and feed.written_at > now - WRITE_ANEW_AFTER
    )


@transaction.atomic
def refresh_feed(*, link: PrivateLink, plan: Plan | None, now: datetime) -> Feed:
    """Bring one calendar in line with the refit and write its text.

    New things get an event with a UID of its own; changed ones keep theirs and are marked as
    changed; what is no longer wanted is shown as cancelled for 30 days, then dropped. Running it
    again without a change changes nothing, not even the text.
    """
    version = link.refit.version
    feed, _made = Feed.objects.select_for_update().get_or_create(
        link=link,
        defaults={
            "body": "",
            "etag": "",
            "modified_at": now,
            "written_at": now,
            "refit_version": version,
        },
    )
    known = {event.source: event for event in feed.events.all()}
    wanted = {event.source: event for event in wanted_events(link, plan)}
    for source, want in wanted.items():
        if source in known:
            _update(known[source], want, now)
        else:
            _create(feed, want, now)
    for source, event in known.items():
        if source not in wanted:
            _cancel(event, now)
    events = list(feed.events.order_by("id"))
    modified = max((event.modified_at for event in events), default=feed.modified_at)
    body = write_calendar(link, events, modified)
    if body != feed.body:
        feed.body = body
        feed.etag = hashlib.sha256(body.encode()).hexdigest()[:32]
        feed.modified_at = now
    feed.refit_version, feed.plan_id, feed.written_at = version, plan.pk if plan else None, now
    feed.save()
    return feed


def _create(feed: Feed, want: Wanted, now: datetime) -> None:
    host = urlsplit(settings.SITE_ADDRESS).hostname or "localhost"
    FeedEvent.objects.create(
        feed=feed,
        source=want.source,
        uid=f"{uuid.uuid4()}@{host}",
        created_at=now,
        modified_at=now,
        **want.fields,
    )


def _update(event: FeedEvent, want: Wanted, now: datetime) -> None:
    changed = {name: value for name, value in want.fields.items() if getattr(event, name) != value}
    came_back = event.cancelled_at is not None
    if not changed and not came_back:
        return
    _write(event, changed, now, moved=came_back or any(name in DATES for name in changed))


def _cancel(event: FeedEvent, now: datetime) -> None:
    if event.cancelled_at is None:
        _write(event, {"cancelled_at": now}, now, moved=True)
    elif event.cancelled_at <= now - CANCELLED_FOR:
        event.delete()


def _write(event: FeedEvent, changed: dict[str, Any], now: datetime, *, moved: bool) -> None:
    event.cancelled_at = None
    for name, value in changed.items():
        setattr(event, name, value)
    event.modified_at = now
    if moved:
        event.sequence += 1
    event.save()

"""Writing the outbox: from what the planner says to notices and letters in the database.

Sending them is in ``sending.py``.
"""

from __future__ import annotations

import logging
from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime, timedelta

from django.db import transaction

from refit.work.models import Refit

from .models import Heartbeat, Letter, LetterState, Notice, NoticeState
from .moments import digest_moment
from .picture import look
from .planner import plan_notices
from .requests import keep_requests
from .things import Thing
from .wishes import Wishes, person_key

log = logging.getLogger(__name__)


def plan_all(*, now: datetime) -> bool:
    """Write what is to be told for every open refit. True if a letter is due now.

    A refit that cannot be looked at is logged and keeps nobody else's notices from being written.
    """
    for refit in Refit.objects.filter(closed_at=None).select_related("boat"):
        try:
            write_notices(refit=refit, now=now)
        except Exception:
            log.exception("Notices of refit %s could not be planned.", refit.pk)
    return Letter.objects.due(now).exists()


def write_notices(*, refit: Refit, now: datetime) -> int:
    """Write what is not written yet, and the letters that will carry it. Returns how many new.

    0. The invitations to bookings are brought in step with the bookings.
    1. What the planner says and no notice tells yet becomes a notice. One that was dropped because
       it was no longer true, and is true again, waits again.
    2. Each urgent notice gets a letter of its own, under its key.
    3. For the others, each recipient gets the letter of a local day: the one on which the notice
       is to be told, or the next whose letter has not gone.

    Safe to run twice, and at the same time: unique keys decide.
    """
    keep_requests(refit=refit, now=now)
    picture = look(refit, now)
    things = [
        thing
        for thing in plan_notices(picture)
        if thing.until is None or thing.tell_at <= thing.until
    ]
    with transaction.atomic():
        fresh = _write(refit, things, now)
        waiting = list(
            Notice.objects.filter(refit=refit, state=NoticeState.WAITING).select_related("letter")
        )
        names = {thing.key: thing.person.name for thing in things}
        _give_letters(refit, [notice for notice in waiting if notice.urgent], names, now)
        later = [notice for notice in waiting if not notice.urgent]
        _gather_days(refit, later, names, picture.wishes, now)
    return fresh


def _write(refit: Refit, things: list[Thing], now: datetime) -> int:
    known = dict(
        Notice.objects.filter(key__in=[thing.key for thing in things]).values_list("key", "state")
    )
    fresh = [thing for thing in things if thing.key not in known]
    Notice.objects.bulk_create(
        [
            Notice(
                refit=refit,
                key=thing.key,
                kind=thing.kind,
                recipient=thing.person.email,
                side=thing.person.side,
                vendor=thing.person.vendor,
                urgent=thing.urgent,
                sentence=thing.sentence,
                payload=thing.payload,
                tell_at=thing.tell_at,
                created_at=now,
            )
            for thing in fresh
        ],
        ignore_conflicts=True,
    )
    for thing in things:
        if known.get(thing.key) == NoticeState.DROPPED:
            Notice.objects.filter(key=thing.key, state=NoticeState.DROPPED).update(
                state=NoticeState.WAITING,
                # It had its letter, which has gone or was dropped: now the next digest tells it.
                urgent=False,
                letter=None,
                tell_at=thing.tell_at,
            )
    return len(fresh)


def _give_letters(
    refit: Refit, notices: list[Notice], names: dict[str, str], now: datetime
) -> None:
    without = [notice for notice in notices if notice.letter is None]
    Letter.objects.bulk_create(
        [_letter(refit, notice, f"at once:{notice.key}", names, now) for notice in without],
        ignore_conflicts=True,
    )
    letters = Letter.objects.in_bulk(
        [f"at once:{notice.key}" for notice in without], field_name="key"
    )
    for notice in without:
        notice.letter = letters[f"at once:{notice.key}"]
    Notice.objects.bulk_update(without, ["letter"])


def _gather_days(
    refit: Refit, notices: list[Notice], names: dict[str, str], wishes: Wishes, now: datetime
) -> None:
    """See that each waiting notice has a letter that will still go. Letters find their notices
    when they are sent: what counts is that there is one."""
    first_day: dict[tuple[str, str], date] = {}
    example: dict[tuple[str, str], Notice] = {}
    for notice in notices:
        person = (notice.side, notice.recipient.lower())
        day = max(refit.local(notice.tell_at).date(), refit.today(now))
        if person not in first_day or day < first_day[person]:
            first_day[person], example[person] = day, notice
    gone = _days_gone(refit, now)
    letters = []
    for (side, email), day in first_day.items():
        while day in gone[f"{side}:{email}"]:
            day += timedelta(days=1)
        letter = _letter(
            refit, example[side, email], f"day:{refit.pk}:{side}:{email}:{day}", names, now
        )
        letter.is_digest = True
        letter.due_at = digest_moment(day, refit.zone, wishes.quiet(person_key(side, email)))
        letters.append(letter)
    Letter.objects.bulk_create(letters, ignore_conflicts=True)


def _days_gone(refit: Refit, now: datetime) -> defaultdict[str, set[date]]:
    """Local days, by person, whose letter has been sent or given up."""
    gone: defaultdict[str, set[date]] = defaultdict(set)
    rows: Iterable[tuple[str, str, datetime]] = (
        Letter.objects.filter(refit=refit, is_digest=True, due_at__gte=now - timedelta(days=3))
        .exclude(state__in=[LetterState.WAITING, LetterState.CLAIMED])
        .values_list("side", "recipient", "due_at")
    )
    for side, email, due_at in rows:
        gone[f"{side}:{email.lower()}"].add(refit.local(due_at).date())
    return gone


def _letter(refit: Refit, notice: Notice, key: str, names: dict[str, str], now: datetime) -> Letter:
    return Letter(
        refit=refit,
        key=key,
        recipient=notice.recipient,
        recipient_name=names.get(notice.key, ""),
        side=notice.side,
        vendor_id=notice.vendor_id,
        due_at=notice.tell_at,
        created_at=now,
    )


def note_heartbeat(*, name: str, now: datetime) -> None:
    Heartbeat.objects.update_or_create(name=name, defaults={"at": now})

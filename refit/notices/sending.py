"""Sending what is due: claim, look again, send, mark.

1. A letter is claimed by one conditional UPDATE, for the length of a lease. Who does not get it
   leaves it alone.
2. The refit is looked at again. What the planner no longer says is dropped; a letter with nothing
   left is dropped too.
3. The mail goes out, outside any transaction, under a Message-ID that follows from the letter:
   whoever gets it twice can tell.
4. The letter is marked; a database that is away is waited for. If that does not happen (the
   process died), the lease runs out and the mail goes once more: never lost, at worst doubled.

A refusal for good (SMTP 5xx about this recipient or this mail) parks the letter; anything else is
tried again after growing waits, for a day, and then parked. Parked letters are on the manager's
page.
"""

from __future__ import annotations

import logging
import smtplib
import time
from collections.abc import Callable
from datetime import datetime, timedelta

from django.conf import settings
from django.db import InterfaceError, OperationalError, connection, transaction
from django.db.models import Q
from django.utils import timezone

from .dead import is_dead, status_in, stop_writing
from .letters import compose
from .models import Letter, LetterState, Notice, NoticeState
from .moments import QuietHours, is_quiet, next_digest
from .picture import look
from .planner import plan_notices
from .things import Thing
from .wishes import person_key

log = logging.getLogger(__name__)

LEASE = timedelta(seconds=settings.LETTER_LEASE_SECONDS)
WAITS = tuple(timedelta(seconds=seconds) for seconds in settings.LETTER_WAITS_SECONDS)
TRY_FOR = timedelta(hours=24)
MOST_ATTEMPTS = 20
"""For a letter that takes its sender down each time."""
SWEEP_FOR = timedelta(minutes=2)
MARK_TRIES = 20
MARK_PAUSE_SECONDS = 0.5

Clock = Callable[[], datetime]


class MailServerAway(Exception):
    """No letter can be sent just now, whoever it is to."""


def sweep(*, clock: Clock = timezone.now) -> int:
    """Send every letter that is due. Returns how many went.

    Stops early when the mail server cannot be reached, and after two minutes: the next sweep goes
    on. Any number of sweeps may run at once.
    """
    began = clock()
    sent = 0
    for letter_id in Letter.objects.due(began).values_list("pk", flat=True)[:500]:
        if clock() - began > SWEEP_FOR:
            break
        try:
            sent += send_letter(letter_id=letter_id, clock=clock)
        except MailServerAway:
            break
    return sent


def send_letter(*, letter_id: int, clock: Clock = timezone.now) -> bool:
    """Send one letter if it is due and nobody else has it. True if it went now."""
    now = clock()
    lease = now + LEASE
    if not Letter.objects.claim(letter_id, now=now, until=lease):
        return False
    letter = Letter.objects.select_related("refit__boat", "vendor").get(pk=letter_id)
    picture = look(letter.refit, now)
    hours = picture.wishes.quiet(person_key(letter.side, letter.recipient))
    if letter.first_try_at is None and _missed(letter, now, hours):
        _let_go(letter, now, hours)
        return False
    if letter.attempts > MOST_ATTEMPTS:
        _park(letter, "Sending it was cut short too often.")
        return False
    said = {thing.key: thing for thing in plan_notices(picture)}
    things = _what_still_holds(letter, said, now)
    if not things:
        return False
    letter.first_try_at = letter.first_try_at or now
    try:
        language = picture.wishes.language(person_key(letter.side, letter.recipient))
        message = compose(letter, things, now=now, language=language)
        Letter.objects.filter(pk=letter.pk).update(
            subject=letter.subject,
            message_id=letter.message_id,
            first_try_at=letter.first_try_at,
        )
        message.send()
    except Exception as problem:
        _failed(letter, problem, clock(), hours)
        if isinstance(problem, OSError) and not _is_about_this_letter(problem):
            raise MailServerAway from problem
        return False
    return _write_down(letter, lease, clock)


def _write_down(letter: Letter, lease: datetime, clock: Clock) -> bool:
    """Mark a letter that has gone. A database that restarts just now is waited for some seconds:
    unmarked, the letter would go once more."""
    for _ in range(MARK_TRIES):
        try:
            return _sent(letter, lease, clock())
        except (InterfaceError, OperationalError) as problem:
            if connection.in_atomic_block:
                raise
            log.warning("Letter %s has gone and cannot be marked yet: %s", letter.pk, problem)
            connection.close()
            time.sleep(MARK_PAUSE_SECONDS)
    return _sent(letter, lease, clock())


def _missed(letter: Letter, now: datetime, hours: QuietHours) -> bool:
    """People sleep, or it is the digest of a day that has passed."""
    zone = letter.refit.zone
    yesterday = letter.is_digest and letter.refit.local(letter.due_at).date() < (
        letter.refit.today(now)
    )
    return yesterday or is_quiet(now, zone, hours)


@transaction.atomic
def _let_go(letter: Letter, now: datetime, hours: QuietHours) -> None:
    """Leave its notices to the digest of the next morning."""
    letter.notices.filter(state=NoticeState.WAITING).update(
        letter=None, urgent=False, tell_at=next_digest(now, letter.refit.zone, hours)
    )
    Letter.objects.filter(pk=letter.pk).update(state=LetterState.DROPPED, claimed_until=None)


@transaction.atomic
def _what_still_holds(letter: Letter, said: dict[str, Thing], now: datetime) -> list[Thing]:
    """The letter's things as they are now; drops the notices, and the letter, of what is not."""
    if letter.is_digest:
        notices = Notice.objects.filter(
            refit=letter.refit,
            side=letter.side,
            recipient__iexact=letter.recipient,
            state=NoticeState.WAITING,
            urgent=False,
            tell_at__lte=now,
        ).exclude(Q(letter__state=LetterState.CLAIMED) & ~Q(letter=letter))
    else:
        notices = letter.notices.filter(state=NoticeState.WAITING)
    kept: list[Thing] = []
    for notice in notices:
        thing = said.get(notice.key)
        if thing is None:
            notice.state = NoticeState.DROPPED
        else:
            kept.append(thing)
            notice.letter, notice.sentence, notice.payload = letter, thing.sentence, thing.payload
        notice.save(update_fields=["state", "letter", "sentence", "payload"])
    if not kept:
        Letter.objects.filter(pk=letter.pk).update(state=LetterState.DROPPED, claimed_until=None)
    return kept


@transaction.atomic
def _sent(letter: Letter, lease: datetime, now: datetime) -> bool:
    # Whoever overstayed its lease and lost the letter to another marks nothing.
    marked = Letter.objects.filter(
        pk=letter.pk, state=LetterState.CLAIMED, claimed_until=lease
    ).update(state=LetterState.SENT, sent_at=now, claimed_until=None, last_error="")
    if marked:
        letter.notices.filter(state=NoticeState.WAITING).update(state=NoticeState.SENT)
    return bool(marked)


def _failed(letter: Letter, problem: Exception, now: datetime, hours: QuietHours) -> None:
    said = " ".join(str(problem).split())[:500] or type(problem).__name__
    log.warning("Letter %s was not sent: %s", letter.pk, said)
    if _is_final(problem):
        _park(letter, said)
        if isinstance(problem, smtplib.SMTPRecipientsRefused) and is_dead(status_in(said)):
            stop_writing(letter=letter, said=said, now=now)
        return
    first = letter.first_try_at or now
    again = now + WAITS[min(letter.attempts, len(WAITS)) - 1]
    if is_quiet(again, letter.refit.zone, hours):
        again = next_digest(again, letter.refit.zone, hours)
    if again > first + TRY_FOR:
        _park(letter, said)
        return
    Letter.objects.filter(pk=letter.pk).update(
        state=LetterState.WAITING,
        claimed_until=None,
        first_try_at=first,
        next_try_at=again,
        last_error=said,
    )


@transaction.atomic
def _park(letter: Letter, why: str) -> None:
    Letter.objects.filter(pk=letter.pk).update(
        state=LetterState.PARKED, claimed_until=None, last_error=why
    )
    letter.notices.filter(state=NoticeState.WAITING).update(state=NoticeState.PARKED)


def _is_about_this_letter(problem: Exception) -> bool:
    return isinstance(problem, smtplib.SMTPRecipientsRefused | smtplib.SMTPDataError)


def _is_final(problem: Exception) -> bool:
    """Whether trying again would bring the same answer (RFC 5321, 4.2.1: 5yz is permanent).

    Only about this mail: a 5xx on signing in or on our own sender address is a setting that
    somebody will put right.
    """
    if isinstance(problem, smtplib.SMTPRecipientsRefused):
        return all(code >= 500 for code, _said in problem.recipients.values())
    return isinstance(problem, smtplib.SMTPDataError) and problem.smtp_code >= 500


@transaction.atomic
def try_again(*, letter: Letter, now: datetime) -> bool:
    """Put a parked letter back. False if it is not parked any more."""
    back = Letter.objects.filter(pk=letter.pk, state=LetterState.PARKED).update(
        state=LetterState.WAITING,
        attempts=0,
        due_at=now,
        first_try_at=None,
        next_try_at=None,
        returned_at=None,
        last_error="",
    )
    if back:
        letter.notices.filter(state=NoticeState.PARKED).update(state=NoticeState.WAITING)
    return bool(back)

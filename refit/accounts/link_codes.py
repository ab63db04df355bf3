"""Codes that are mailed to the holder of a private link, where the link alone is not enough.

Six figures, ten minutes, five tries, five codes an hour; a code ends when it was right and when a
newer one is made. Sending it and the pages are not here. The numbers are ours (common practice, no
source).
"""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import F
from django.utils.crypto import constant_time_compare, salted_hmac

from .models import LinkCode, PrivateLink

DIGITS = 6
GOOD_FOR = timedelta(minutes=10)
TRIES = 5
CODES_AN_HOUR = 5
KEPT = timedelta(days=1)


@transaction.atomic
def make_code(*, link: PrivateLink, now: datetime) -> str | None:
    """A fresh code for ``link``, ending the one before; None if there were too many this hour."""
    # Two who ask at the same moment are counted one after the other.
    PrivateLink.objects.select_for_update().get(pk=link.pk)
    LinkCode.objects.filter(link=link, made_at__lt=now - KEPT).delete()
    lately = LinkCode.objects.filter(link=link, made_at__gt=now - timedelta(hours=1))
    if lately.count() >= CODES_AN_HOUR:
        return None
    LinkCode.objects.filter(link=link, ended_at=None).update(ended_at=now)
    code = f"{secrets.randbelow(10**DIGITS):0{DIGITS}}"
    LinkCode.objects.create(link=link, code_hash=_hash(link, code), made_at=now)
    return code


def open_code(*, link: PrivateLink, now: datetime) -> LinkCode | None:
    """The code that may be typed now."""
    return LinkCode.objects.filter(
        link=link, ended_at=None, made_at__gt=now - GOOD_FOR, tries__lt=TRIES
    ).last()


def take_code(*, link: PrivateLink, typed: str, now: datetime) -> str:
    """Use up the code if it is right. The refusal, a sentence; empty if it was right.

    Each try is counted before it is compared, by a conditional UPDATE: many at once gain nothing.
    """
    known = open_code(link=link, now=now)
    if known is None:
        return "That code has ended. Have a new one sent."
    counted = LinkCode.objects.filter(pk=known.pk, ended_at=None, tries__lt=TRIES)
    if not counted.update(tries=F("tries") + 1):
        return "That code has ended. Have a new one sent."
    plain = "".join(c for c in typed if c.isalnum())
    if not constant_time_compare(known.code_hash, _hash(link, plain)):
        left = TRIES - known.tries - 1
        if left <= 0:
            return "That was not the code, five times. Have a new one sent."
        return "That is not the code in the newest message. Look once more."
    used = LinkCode.objects.filter(pk=known.pk, ended_at=None).update(ended_at=now)
    return "" if used else "That code has been used. Have a new one sent."


def _hash(link: PrivateLink, code: str) -> str:
    return salted_hmac("refit.link-codes", f"{link.pk}:{code}", algorithm="sha256").hexdigest()

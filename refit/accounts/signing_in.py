"""Signing in with a limit on wrong passwords, and the very first account.

The limit is by person *and* address, so that a stranger who guesses cannot lock anybody out of
their own browser; a second limit by address alone stops one machine that tries many names.
The numbers are ours (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth import authenticate
from django.db import connection, transaction
from django.db.models import Max
from django.http import HttpRequest

from .models import LoginFailure, User

SPAN = timedelta(minutes=15)
TRIES_A_PERSON = 5
TRIES_AN_ADDRESS = 40
KEPT = timedelta(days=1)


@dataclass(frozen=True)
class SignIn:
    """Either ``user``, or ``refusal``: a sentence."""

    user: User | None = None
    refusal: str = ""


def sign_in(
    *, request: HttpRequest | None, email: str, password: str, address: str, now: datetime
) -> SignIn:
    """Check e-mail address and password, unless too many wrong ones came before.

    While the limit holds, the right password is refused as well. ``request`` is only handed on to
    Django's back ends.
    """
    email = email.strip().lower()[:254]
    if wait := minutes_to_wait(email=email, address=address, now=now):
        minutes = "a minute" if wait == 1 else f"{wait} minutes"
        return SignIn(refusal=f"Too many wrong passwords. Try again in {minutes}.")
    user = authenticate(request, username=email, password=password)
    if isinstance(user, User):
        LoginFailure.objects.filter(email=email, address=address).delete()
        return SignIn(user=user)
    LoginFailure.objects.create(email=email, address=address, at=now)
    LoginFailure.objects.filter(at__lt=now - KEPT).delete()
    return SignIn(refusal="This e-mail address and password do not go together.")


def minutes_to_wait(*, email: str, address: str, now: datetime) -> int:
    """Whole minutes until the next try is looked at; 0 if it may come now."""
    failures = LoginFailure.objects.recent(now, SPAN).filter(address=address)
    for tries, rows in (
        (TRIES_A_PERSON, failures.filter(email=email)),
        (TRIES_AN_ADDRESS, failures),
    ):
        if rows.count() >= tries:
            last = rows.aggregate(last=Max("at"))["last"]
            left = last + SPAN - now
            return max(1, -(-int(left.total_seconds()) // 60))
    return 0


class NotTheFirst(Exception):
    """There is an account already."""


@transaction.atomic
def make_first_account(*, email: str, name: str, password: str) -> User:
    """The account of an empty installation. `NotTheFirst` once there is any.

    Of two who try at the same moment one gets it: SQLite lets one writer in at a time by itself,
    PostgreSQL is asked to.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(f"LOCK TABLE {User._meta.db_table} IN SHARE ROW EXCLUSIVE MODE")
    if User.objects.exists():
        raise NotTheFirst
    return User.objects.create_user(email, password, name=name)

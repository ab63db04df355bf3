"""The second factor: codes of an authenticator app (TOTP, RFC 6238) and recovery codes.

Six digits, 30 seconds, SHA-1: what every authenticator app knows. A code counts in its own step and
in the one before and after it (RFC 6238, 5.2 recommends at most one step for delays), and once:
the step it belongs to is remembered. Wrong codes are limited like wrong passwords, and over all
addresses together as well, because whoever is asked for a code had the password right.
"""

from __future__ import annotations

import hmac
import secrets
from datetime import datetime, timedelta

import pyotp
from django.db import transaction
from django.db.models import Max

from .models import LoginFailure, RecoveryCode, SecondFactor, User, hash_token

STEP_SECONDS = 30
DIGITS = 6
STEPS_ASIDE = 1
RECOVERY_CODES = 10
SPAN = timedelta(minutes=15)
TRIES = 5
TRIES_ANYWHERE = 25
"""Within `SPAN`, for one person over all addresses. Our own numbers."""
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""Of recovery codes: none that is taken for another when read from paper."""


def step_of(now: datetime) -> int:
    return int(now.timestamp()) // STEP_SECONDS


def code_of(secret: str, step: int) -> str:
    """The code of one time step. ``secret`` is base32 (RFC 4648), as the app gets it."""
    return pyotp.TOTP(secret, digits=DIGITS, interval=STEP_SECONDS).generate_otp(step)


def address_for_app(factor: SecondFactor, issuer: str) -> str:
    """The ``otpauth:`` address that the QR code holds."""
    return pyotp.TOTP(factor.secret).provisioning_uri(name=factor.user.email, issuer_name=issuer)


def factor_of(user: User) -> SecondFactor | None:
    """The second factor that sign-in asks for; None if the person has none switched on."""
    return SecondFactor.objects.filter(user=user, confirmed_at__isnull=False).first()


@transaction.atomic
def prepare(*, user: User, now: datetime) -> SecondFactor:
    """A new secret that is not asked for yet. One that is in use stays as it is."""
    factor, made = SecondFactor.objects.select_for_update().get_or_create(
        user=user, defaults={"secret": pyotp.random_base32(), "made_at": now}
    )
    if not made and factor.confirmed_at is None:
        factor.secret, factor.made_at, factor.last_step = pyotp.random_base32(), now, 0
        factor.save(update_fields=["secret", "made_at", "last_step"])
    return factor


@transaction.atomic
def confirm(*, factor: SecondFactor, code: str, now: datetime) -> list[str] | None:
    """Switch it on, if the app shows the right code; the recovery codes, shown this once.

    None if the code is not right, or it was switched on meanwhile.
    """
    if not take_app_code(factor=factor, code=code, now=now):
        return None
    switched = SecondFactor.objects.filter(pk=factor.pk, confirmed_at=None).update(confirmed_at=now)
    return new_recovery_codes(factor=factor) if switched else None


def take_app_code(*, factor: SecondFactor, code: str, now: datetime) -> bool:
    """Whether ``code`` is right now and was not used; it is used then.

    Of two who send the same code at the same moment one is let in: the conditional UPDATE decides.
    """
    typed = "".join(code.split())
    if len(typed) != DIGITS or not (typed.isascii() and typed.isdecimal()):
        return False
    current = step_of(now)
    found = None
    for step in range(current - STEPS_ASIDE, current + STEPS_ASIDE + 1):
        # All are compared, so that the time it takes does not tell which one was near.
        if hmac.compare_digest(code_of(factor.secret, step), typed):
            found = step
    if found is None:
        return False
    rows = SecondFactor.objects.filter(pk=factor.pk, last_step__lt=found)
    return rows.update(last_step=found) == 1


def take_recovery_code(*, factor: SecondFactor, code: str, now: datetime) -> bool:
    """Whether ``code`` is one of the recovery codes and was not used; it is used then."""
    plain = "".join(c for c in code.lower() if c.isalnum())
    if not plain or len(plain) > 40:
        return False
    rows = RecoveryCode.objects.filter(factor=factor, code_hash=hash_token(plain), used_at=None)
    return rows.update(used_at=now) == 1


@transaction.atomic
def new_recovery_codes(*, factor: SecondFactor) -> list[str]:
    """Ten new codes (about 59 bits each) in place of the old ones. Only hashes are kept."""
    RecoveryCode.objects.filter(factor=factor).delete()
    codes = [
        "-".join("".join(secrets.choice(LETTERS) for _ in range(4)) for _ in range(3))
        for _ in range(RECOVERY_CODES)
    ]
    RecoveryCode.objects.bulk_create(
        RecoveryCode(factor=factor, code_hash=hash_token(code.replace("-", ""))) for code in codes
    )
    return codes


def switch_off(*, user: User) -> bool:
    """Forget secret and recovery codes. False if there were none."""
    return bool(SecondFactor.objects.filter(user=user).delete()[0])


# --- the limit on wrong codes ---------------------------------------------------------------------


def _name(user: User) -> str:
    """Under which wrong codes are counted, apart from wrong passwords."""
    return f"code {user.pk}"


def minutes_to_wait(*, user: User, address: str, now: datetime) -> int:
    """Whole minutes until the next code is looked at; 0 if it may come now."""
    failures = LoginFailure.objects.recent(now, SPAN).filter(email=_name(user))
    for tries, rows in ((TRIES, failures.filter(address=address)), (TRIES_ANYWHERE, failures)):
        if rows.count() >= tries:
            last = rows.aggregate(last=Max("at"))["last"]
            return max(1, -(-int((last + SPAN - now).total_seconds()) // 60))
    return 0


def check_code(*, user: User, code: str, address: str, now: datetime) -> str:
    """Take a code of the app or a recovery code. The refusal, a sentence; empty if it was right.

    While the limit holds, the right code is refused as well.
    """
    factor = factor_of(user)
    if factor is None:
        return ""
    if wait := minutes_to_wait(user=user, address=address, now=now):
        minutes = "a minute" if wait == 1 else f"{wait} minutes"
        return f"Too many wrong codes. Try again in {minutes}."
    if take_app_code(factor=factor, code=code, now=now) or take_recovery_code(
        factor=factor, code=code, now=now
    ):
        LoginFailure.objects.filter(email=_name(user), address=address).delete()
        return ""
    LoginFailure.objects.create(email=_name(user), address=address, at=now)
    return (
        "That code is not right. Take the one your app shows now; each is good once, and the clock"
        " of the phone must be right."
    )

"""Who has which part in a refit: inviting, joining, changing a part, ending it.

A refit always keeps a manager who can sign in: the last one can neither be made something else nor
be removed. Whoever calls these writes the journal; the code here knows no refit but its id.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from django.db import transaction

from .models import Invitation, Membership, Role, User, hash_token, new_token

if TYPE_CHECKING:
    from refit.work.models import Refit

GOOD_FOR = timedelta(days=14)
"""How long an invitation can be taken up. Our own choice."""


class LastManager(Exception):
    """It would leave the refit without a manager; the message is a sentence for the user."""

    def __init__(self, user: User) -> None:
        super().__init__(
            f"{user} is the only manager of this refit. Make somebody else a manager first."
        )


class NotOpen(Exception):
    """The invitation was used, taken back or has run out, perhaps a moment ago."""


@transaction.atomic
def invite(
    *, refit: Refit, email: str, role: Role, invited_by: str, now: datetime
) -> tuple[Invitation, str]:
    """Make an invitation, ending earlier ones to the same address.

    Returns it with its token, which is shown once and cannot be had again.
    """
    Invitation.objects.open(now).filter(refit=refit, email__iexact=email).update(revoked_at=now)
    token = new_token()
    made = Invitation.objects.create(
        refit=refit,
        email=email,
        role=role,
        token_hash=hash_token(token),
        invited_by=invited_by,
        created_at=now,
        expires_at=now + GOOD_FOR,
    )
    return made, token


def take_back(*, invitation: Invitation, now: datetime) -> bool:
    """End an invitation. False if it was not open any more."""
    rows = Invitation.objects.open(now).filter(pk=invitation.pk)
    return bool(rows.update(revoked_at=now))


@transaction.atomic
def join(*, invitation: Invitation, user: User, now: datetime) -> Membership:
    """Take up an invitation as ``user``. Raises `NotOpen`: then nothing is stored.

    Of two who try at the same moment one gets it: the conditional UPDATE decides.
    """
    if not Invitation.objects.open(now).filter(pk=invitation.pk).update(used_at=now):
        raise NotOpen
    membership, _made = Membership.objects.get_or_create(
        user=user, refit_id=invitation.refit_id, defaults={"role": invitation.role}
    )
    return membership


@transaction.atomic
def join_with_new_account(
    *, invitation: Invitation, name: str, password: str, now: datetime
) -> Membership:
    """Make the account that the invitation is for, and take it up. Raises `NotOpen`."""
    user = User.objects.create_user(invitation.email, password, name=name)
    return join(invitation=invitation, user=user, now=now)


@transaction.atomic
def change_part(*, membership: Membership, role: Role) -> bool:
    """Give a member another part. False if it is theirs already; `LastManager` if not possible."""
    current = _locked(membership)
    if current is None or current.role == role:
        return False
    _keep_a_manager(current)
    Membership.objects.filter(pk=current.pk).update(role=role)
    return True


@transaction.atomic
def end_part(*, membership: Membership) -> bool:
    """Take a member out of the refit; their account stays. `LastManager` if it must not be."""
    current = _locked(membership)
    if current is None:
        return False
    _keep_a_manager(current)
    current.delete()
    return True


def _locked(membership: Membership) -> Membership | None:
    """The membership as it is now, with those of all managers locked until the transaction ends.

    Two managers who remove each other at the same moment must not both succeed.
    """
    rows = Membership.objects.filter(refit_id=membership.refit_id).order_by("pk")
    list(rows.select_for_update())
    return rows.select_related("user").filter(pk=membership.pk).first()


def _keep_a_manager(member: Membership) -> None:
    if member.role != Role.MANAGER:
        return
    others = Membership.objects.filter(
        refit_id=member.refit_id, role=Role.MANAGER, user__is_active=True
    ).exclude(pk=member.pk)
    if not others.exists():
        raise LastManager(member.user)

"""Giving out and taking back private links."""

from __future__ import annotations

import secrets
from datetime import datetime
from typing import TYPE_CHECKING

from django.db import transaction

from .models import FEED_KINDS, LinkKind, PrivateLink, hash_token, new_token

if TYPE_CHECKING:
    from refit.work.models import CrewMember, Place, Refit, Vendor


@transaction.atomic
def issue_link(
    *,
    refit: Refit,
    kind: LinkKind,
    now: datetime,
    vendor: Vendor | None = None,
    crew_member: CrewMember | None = None,
    place: Place | None = None,
    expires_at: datetime | None = None,
    asks_code: bool = False,
) -> tuple[PrivateLink, str]:
    """Make a link and end the party's earlier ones of the same kind.

    Returns the link and its token, which is shown once and cannot be had again. With ``asks_code``
    a browser that opens it is asked for a mailed code as well; calendars cannot be asked.
    """
    if asks_code and kind in FEED_KINDS:
        raise ValueError("A calendar program cannot be asked for a code.")
    party = {"vendor": vendor, "crew_member": crew_member, "place": place}
    PrivateLink.objects.live(now).filter(refit=refit, kind=kind, **party).update(revoked_at=now)
    token = new_token()
    link = PrivateLink.objects.create(
        refit=refit,
        kind=kind,
        **party,
        public_id=secrets.token_hex(6),
        token_hash=hash_token(token),
        created_at=now,
        expires_at=expires_at,
        asks_code=asks_code,
    )
    return link, token


def revoke_link(*, link: PrivateLink, now: datetime) -> bool:
    """End a link at once. False if it had ended already."""
    return bool(PrivateLink.objects.filter(pk=link.pk, revoked_at=None).update(revoked_at=now))

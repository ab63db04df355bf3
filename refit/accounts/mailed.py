"""Links that a mail carries: doors that lead to a private page without its token.

Only a hash of a private link's token is kept, so a reminder cannot repeat the link. It carries
the link's ``public_id``, signed, instead. Such a door opens what the link opens and ends with it:
whoever enters by it is checked against the link like everybody else.
"""

from __future__ import annotations

from datetime import timedelta

from django.core.signing import BadSignature, TimestampSigner

from .models import FEED_KINDS, PrivateLink

GOOD_FOR = timedelta(days=90)
"""A mail dug out later than this no longer opens the page; the link itself does."""

_SIGNER = TimestampSigner(salt="refit.accounts.mailed")


def mailed_token(link: PrivateLink) -> str:
    """What a mail puts where the token stands in the address of a page. Not for calendars."""
    if link.is_feed:
        raise ValueError("A calendar's address is never mailed.")
    return _SIGNER.sign(link.public_id)


def link_for_mailed_token(token: str) -> PrivateLink | None:
    """The link that the mailed token stands for, live or not; None if it is none of ours or old.

    The caller checks `PrivateLink.is_live`, as for a link found by its own token.
    """
    try:
        public_id = _SIGNER.unsign(token, max_age=GOOD_FOR)
    except BadSignature:
        return None
    return (
        PrivateLink.objects.select_related("refit", "vendor")
        .exclude(kind__in=FEED_KINDS)
        .filter(public_id=public_id)
        .first()
    )

"""When an e-mail address is dead, and that nothing more is written to it."""

from __future__ import annotations

import re
from datetime import datetime

from .models import DeadAddress, Letter


def is_dead(status: str) -> bool:
    """Whether the address itself is wrong or closed for good: class 5, subject 1 (addressing),
    or 5.2.1 (mailbox disabled). RFC 3463, 3.2 and 3.3."""
    return status.startswith("5.1.") or status == "5.2.1"


def status_in(said: str) -> str:
    """The enhanced status code in an answer of a mail server (RFC 2034), or nothing."""
    found = re.search(r"\b([245]\.\d{1,3}\.\d{1,3})\b", said)
    return found[1] if found else ""


def stop_writing(*, letter: Letter, said: str, now: datetime) -> None:
    """Write nothing more to the recipient of ``letter``, in its refit."""
    DeadAddress.objects.get_or_create(
        refit_id=letter.refit_id,
        email=letter.recipient.lower(),
        defaults={"since": now, "said": said[:500]},
    )

"""What a planner of notices says: who, and what there is to tell them.

The vocabulary of ``planner.py``; no queries, no mail.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from refit.work.models import Vendor

from .models import NoticeKind, Side


@dataclass(frozen=True)
class Person:
    """Somebody with an e-mail address who has a part in the refit."""

    email: str
    name: str
    side: Side
    vendor: Vendor | None = None

    @property
    def key(self) -> str:
        return f"{self.side}:{self.email.lower()}"


@dataclass(frozen=True)
class Thing:
    """One thing to tell one person.

    ``about`` names the thing itself (what, about what, which date): the same thing has the same
    name at every look, and a different one (a new date, the next reminder of a series) another.
    ``short`` is the subject of a letter that tells nothing else. After ``until`` it is not worth a
    letter any more.
    """

    about: str
    kind: NoticeKind
    person: Person
    short: str
    sentence: str
    tell_at: datetime
    urgent: bool = False
    until: datetime | None = None
    payload: dict[str, Any] = field(default_factory=dict)
    spot: str = ""
    """Where on the recipient's page it stands (``held-12``); empty if nowhere of its own."""

    @property
    def key(self) -> str:
        return f"{self.kind}:{self.about}:{self.person.key}"

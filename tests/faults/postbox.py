"""A real SMTP server on loopback that refuses some mails for the moment and counts the others."""

from __future__ import annotations

import asyncio
import random
import threading
from collections import Counter
from email import message_from_bytes
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

TAKES_SECONDS = 0.01
"""Before and after it has taken a mail: a sender can be killed in either."""


class Postbox:
    """As a handler of aiosmtpd. ``took`` counts Message-IDs, from the moment at which the server
    answers for the mail; whether the answer reaches the sender is another matter."""

    def __init__(self, *, refuse: float, seed: int) -> None:
        self.refuse = refuse
        self.took: Counter[str] = Counter()
        self.recipients: dict[str, str] = {}
        self.refused = 0
        self._chance = random.Random(seed)
        self._lock = threading.Lock()

    @property
    def arrived(self) -> int:
        return len(self.took)

    async def handle_RCPT(
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: Any
    ) -> str:
        if self._refuses():
            return "451 4.3.2 Come back later"
        envelope.rcpt_tos.append(address)
        return "250 2.1.5 Fine"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        if self._refuses():
            return "452 4.2.2 No room just now"
        await asyncio.sleep(TAKES_SECONDS)
        content = envelope.content
        assert isinstance(content, bytes)
        name = str(message_from_bytes(content)["Message-ID"])
        with self._lock:
            self.took[name] += 1
            self.recipients[name] = envelope.rcpt_tos[0]
        await asyncio.sleep(TAKES_SECONDS)
        return "250 2.0.0 Taken"

    def _refuses(self) -> bool:
        # Asked twice a mail: half as often each time.
        with self._lock:
            says_no = self._chance.random() < self.refuse / 2
            self.refused += says_no
        return says_no


class Server(Controller):
    def __init__(self, postbox: Postbox, port: int) -> None:
        super().__init__(postbox, hostname="127.0.0.1", port=port)

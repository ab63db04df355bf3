"""A mail server that takes its time, so that a worker can be killed in the middle of sending."""

from __future__ import annotations

import re
import socketserver
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager


class Mailbox(socketserver.ThreadingTCPServer):
    """As much of SMTP as the sender speaks (RFC 5321); ``took`` holds Message-IDs in order."""

    allow_reuse_address = True
    daemon_threads = True

    def __init__(self, seconds_each: float) -> None:
        super().__init__(("127.0.0.1", 0), _Conversation)
        self.seconds_each = seconds_each
        self.took: list[str] = []

    @property
    def port(self) -> int:
        return int(self.server_address[1])


class _Conversation(socketserver.StreamRequestHandler):
    server: Mailbox

    def handle(self) -> None:
        self._say("220 mailbox.example")
        for line in self.rfile:
            word = line[:4].strip().upper()
            if word == b"DATA":
                self._say("354 go on")
                self._take()
            elif word == b"QUIT":
                self._say("221 bye")
                return
            else:
                self._say("250 fine")

    def _take(self) -> None:
        """One mail; it counts as taken once the answer is on its way."""
        lines = []
        for line in self.rfile:
            if line == b".\r\n":
                break
            lines.append(line)
        found = re.search(rb"(?im)^message-id:\s*(\S+)", b"".join(lines))
        assert found
        time.sleep(self.server.seconds_each)
        self.server.took.append(found[1].decode())
        self._say("250 taken")

    def _say(self, text: str) -> None:
        self.wfile.write(text.encode() + b"\r\n")


@contextmanager
def a_mailbox(*, seconds_each: float) -> Iterator[Mailbox]:
    with Mailbox(seconds_each) as mailbox:
        threading.Thread(target=mailbox.serve_forever, daemon=True).start()
        yield mailbox
        mailbox.shutdown()

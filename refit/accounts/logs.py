"""Keeping the tokens of private links and invitations out of the logs."""

from __future__ import annotations

import logging
import re

_TOKENS = re.compile(r"(/p/in/|/calendar/|/invited/|/told/stop/|/told/open/)[^\s/?#\"']+")


def scrub(text: str) -> str:
    return _TOKENS.sub(r"\1…", text)


class ScrubTokens(logging.Filter):
    """Replaces the token in an address by “…”; everything else passes as it is."""

    def filter(self, record: logging.LogRecord) -> bool:
        said = record.getMessage()
        scrubbed = scrub(said)
        if scrubbed != said:
            record.msg, record.args = scrubbed, ()
        return True

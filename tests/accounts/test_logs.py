"""Tokens do not reach the logs."""

from __future__ import annotations

import logging

import pytest

from refit.accounts.logs import ScrubTokens


@pytest.mark.parametrize(
    ("message", "args", "kept"),
    [
        ("Not Found: %s", ("/p/in/s3cret-Tok_en",), "Not Found: /p/in/…"),
        ("GET /calendar/s3cret-Tok_en.ics?x=1", (), "GET /calendar/…?x=1"),
        ('"GET %s HTTP/1.1" %s', ("/p/in/s3cret-Tok_en", 404), '"GET /p/in/… HTTP/1.1" 404'),
        ("plan of %s took %.1f s", ("tern", 0.25), "plan of tern took 0.2 s"),
        ("100 %", (), "100 %"),
    ],
)
def test_what_is_logged(message: str, args: tuple[object, ...], kept: str) -> None:
    record = logging.LogRecord("x", logging.WARNING, "f", 1, message, args, None)
    assert ScrubTokens().filter(record)
    assert record.getMessage() == kept

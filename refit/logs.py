"""Log lines: plain for people, or one JSON object a line for a log store (``REFIT_LOG=json``).

A line of a request carries the request's id (also in the answer, as ``X-Request-ID``) and who
asked: the number of an account, or the public ids of the private links that the browser proved to
hold. Never an e-mail address, a token or what was typed. Django itself logs every refusal (403,
404) and every error with its path; tokens in paths are taken out of the finished line.
"""

from __future__ import annotations

import json
import logging
import secrets
from collections.abc import Callable
from contextvars import ContextVar
from datetime import UTC, datetime
from typing import Any

from celery import current_task
from django.http import HttpRequest, HttpResponse

from refit.accounts.logs import scrub

_asked: ContextVar[HttpRequest | None] = ContextVar("request that is answered", default=None)
ID_HEADER = "X-Request-ID"


class RequestIds:
    """Middleware, the outermost: gives each request an id that its log lines carry."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        # Ours, not the one that the asker sent: nobody else writes into the log.
        request.META["refit.id"] = secrets.token_hex(8)
        before = _asked.set(request)
        try:
            response = self.get_response(request)
        finally:
            _asked.reset(before)
        response.headers[ID_HEADER] = request.META["refit.id"]
        return response


def surroundings(record: logging.LogRecord) -> dict[str, Any]:
    """In what the line was written: the request with who asked, or the task."""
    # Django logs refusals when the middleware is done, and hands the request along.
    request = getattr(record, "request", None) or _asked.get()
    if isinstance(request, HttpRequest):
        told: dict[str, Any] = {
            "request": request.META.get("refit.id", ""),
            "method": request.method,
            "path": request.path,
            "who": _who(request),
        }
        if status := getattr(record, "status_code", None):
            told["status"] = status
        return told
    if current_task and current_task.request.id:
        return {"task": current_task.name, "task_id": current_task.request.id}
    return {}


def _who(request: HttpRequest) -> str:
    """Asks the database nothing: it may be what the line complains about."""
    user = getattr(request, "_cached_user", None)
    if user is not None and user.is_authenticated:
        return f"user {user.pk}"
    from refit.accounts.access import known_ids  # logging is set up before the models are there

    links = known_ids(request)
    return f"link {', '.join(links)}" if links else "nobody known"


class PlainLines(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        line = super().format(record)
        told = surroundings(record)
        if told:
            line += f" [{', '.join(f'{name} {value}' for name, value in told.items())}]"
        return scrub(line)


class JsonLines(logging.Formatter):
    """RFC 8259, one object a line; the time as RFC 3339 in UTC."""

    def format(self, record: logging.LogRecord) -> str:
        told = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "said": scrub(record.getMessage()),
            **{name: scrub(str(value)) for name, value in surroundings(record).items()},
        }
        if record.exc_info:
            told["trace"] = scrub(self.formatException(record.exc_info))
        return json.dumps(told, ensure_ascii=False)

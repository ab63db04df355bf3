"""What people read when the installation itself is in trouble: the disk is full, the database away.

Django calls `say_trouble` for every error that nobody caught. The page asks nothing of database,
session or templates that do; it says that nothing was stored, because everything that changes more
than one row is one transaction.
"""

from __future__ import annotations

import errno
import sys

from django.db import DatabaseError, InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string

AGAIN_AFTER_SECONDS = 60


def say_trouble(request: HttpRequest) -> HttpResponse:
    """The page for the error that is being handled: 507, 503, or 500."""
    problem = sys.exc_info()[1]
    if is_full(problem):
        status, title, said = (
            507,
            "The disk of this machine is full",
            "Nothing of what you sent was stored. Whoever runs refit has to make room; keep what"
            " you typed and send it again then.",
        )
    elif isinstance(problem, OperationalError | InterfaceError):
        status, title, said = (
            503,
            "The database does not answer at the moment",
            "Nothing of what you sent was stored. Wait a minute, then send it again.",
        )
    else:
        status, title, said = (
            500,
            "Something went wrong here",
            "It is written down for whoever runs refit. Nothing was half-stored. Go back and try"
            " again; if it happens again, ring the refit manager.",
        )
    response = HttpResponse(
        render_to_string("trouble.html", {"title": title, "said": said}), status=status
    )
    if status == 503:
        response.headers["Retry-After"] = str(AGAIN_AFTER_SECONDS)
    return response


def is_full(problem: BaseException | None) -> bool:
    """Whether there was no room: for a file, for SQLite, or for PostgreSQL."""
    if isinstance(problem, DatabaseError):
        # SQLite says "database or disk is full"; PostgreSQL has SQLSTATE 53100 (disk_full).
        return "disk is full" in str(problem) or (
            getattr(problem.__cause__, "sqlstate", None) == "53100"
        )
    return isinstance(problem, OSError) and problem.errno in (errno.ENOSPC, errno.EDQUOT)

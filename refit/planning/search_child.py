"""A search in a child process: the server that started it goes on answering meanwhile.

Only how the child is started. What it does is `refit.planning.searching`; what it runs is the
command ``search``.
"""

from __future__ import annotations

import logging
import os
import subprocess
import sys
from threading import Thread

from django.conf import settings
from django.db import connection
from django.utils import timezone

from .searching import broke_off

log = logging.getLogger(__name__)

NICE = 10
"""How far the child steps back where others want the processor: pages come first."""


def carry_out_in_child(search_id: int) -> subprocess.Popen[bytes]:
    """Start the child and return at once. It ends by itself, also when this process is gone."""
    child = subprocess.Popen(
        [sys.executable, "-m", "django", "search", str(search_id)],
        cwd=settings.BASE_DIR,
        env=os.environ
        | {
            "DJANGO_SETTINGS_MODULE": os.environ.get("DJANGO_SETTINGS_MODULE", "refit.settings"),
            "REFIT_DATA": str(settings.DATA_DIR),
        },
        stdin=subprocess.DEVNULL,
        start_new_session=True,  # Ctrl-C ends the server; the child then keeps its best so far
    )
    Thread(target=_wait, args=(child, search_id), name="refit-search", daemon=True).start()
    return child


def _wait(child: subprocess.Popen[bytes], search_id: int) -> None:
    """Take leave of the child, so that no dead process is left over, and say if it broke off."""
    code = child.wait()
    if code:
        log.error("the process that carried out search %s ended with %s", search_id, code)
        try:
            broke_off(search_id, now=timezone.now())
        finally:
            connection.close()

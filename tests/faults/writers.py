"""Run in a process of its own: many processes write into one installation at the same time.

``python -m tests.faults.writers PROCESSES WRITES``; prints one JSON object. Each process reads a
piece, adds one part to what it read and stores that with the facts it had opened, as the form of
the page does; told that somebody was faster, it reads again.
"""

from __future__ import annotations

import json
import os
import sys
import time

import django


def write(number: int, writes: int) -> int:
    """How often somebody else was faster."""
    from django.utils import timezone

    from refit.work.models import Actor, Piece
    from refit.work.services.edits import Stale, change_row
    from refit.work.services.facts import facts_of

    actor, overtaken = Actor(f"Writer {number}", "manager"), 0
    for _ in range(writes):
        while True:
            piece = Piece.objects.select_related("refit").get()
            opened = facts_of(piece)
            try:
                change_row(
                    refit=piece.refit, row=piece, facts={"parts": piece.parts + 1}, opened=opened,
                    actor=actor, now=timezone.now(),
                )  # fmt: skip
                break
            except Stale:
                overtaken += 1
    return overtaken


def main(processes: int, writes: int) -> dict[str, object]:
    from django.core.management import call_command
    from django.db import connection

    from refit.work.models import JournalEntry, Piece, Refit
    from tests.builders import a_piece, a_refit

    call_command("migrate", verbosity=0)
    a_piece(a_refit(), parts=0)
    connection.close()
    began, children = time.monotonic(), []
    for number in range(processes):
        pid = os.fork()
        if pid == 0:
            code = 1
            try:
                write(number, writes)
                code = 0
            finally:
                os._exit(code)
        children.append(pid)
    failed = sum(os.waitpid(pid, 0)[1] != 0 for pid in children)
    seconds = time.monotonic() - began
    return {
        "engine": connection.vendor,
        "failed": failed,
        "parts": Piece.objects.get().parts,
        "entries": JournalEntry.objects.filter(verb="changed").count(),
        "version": Refit.objects.get().version,
        "seconds": round(seconds, 1),
    }


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "refit.settings")
    django.setup()
    print(json.dumps(main(int(sys.argv[1]), int(sys.argv[2]))))

"""``manage.py doctor``: says in words what is wrong with this installation, and what to do."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from refit.doctor import State, examine

SIGNS = {State.WELL: "ok   ", State.NOTE: "note ", State.WRONG: "WRONG"}


class Command(BaseCommand):
    help = (
        "Looks at database, data folder, mail, addresses, schedule and the rest, and says what to"
        " do. Ends with 1 if something is wrong, with 0 otherwise."
    )
    # Whatever is wrong with the settings is to be told, not to end this at once.
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--quiet", action="store_true", help="only what is not well")
        # Read by manage.py, before the settings; declared here for --help.
        parser.add_argument("--data", help="folder for database, uploads and mail; default var/")

    def handle(self, *_args: Any, quiet: bool, **_options: Any) -> None:
        counts = dict.fromkeys(State, 0)
        for found in examine(timezone.now()):
            counts[found.state] += 1
            if quiet and found.state is State.WELL:
                continue
            self.stdout.write(f"{SIGNS[found.state]}  {found.said}")
            if found.do:
                self.stdout.write(f"       {found.do}")
        wrong, notes = counts[State.WRONG], counts[State.NOTE]
        said = "Nothing is" if not wrong else "1 thing is" if wrong == 1 else f"{wrong} things are"
        self.stdout.write(f"{said} wrong; {notes or 'none'} to know; {counts[State.WELL]} well.")
        if wrong:
            sys.exit(1)

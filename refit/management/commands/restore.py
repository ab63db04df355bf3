"""Put a backup into an empty installation."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from refit.backup import CannotDo, restore


class Command(BaseCommand):
    help = "Puts a file of “backup” into a new, empty installation; refuses any other."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        # Read by manage.py, before the settings; declared here for --help.
        parser.add_argument("--data", help="folder for database, uploads and mail; default var/")

    def handle(self, *_args: Any, file: Path, **_options: Any) -> None:
        call_command("migrate", interactive=False, verbosity=0)
        try:
            counts = restore(file)
        except CannotDo as why:
            raise CommandError(str(why)) from None
        self.stdout.write(
            f"Restored {counts.get('work.Refit', 0)} refit(s), {sum(counts.values())} rows and the"
            " uploads. People sign in anew, and open their private link once more."
        )

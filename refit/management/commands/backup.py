"""Write the whole installation to one file."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from refit.backup import CannotDo, back_up


class Command(BaseCommand):
    help = "Writes all refits, accounts and uploads to one file (.tar.gz), also while refit serves."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        # Read by manage.py, before the settings; declared here for --help.
        parser.add_argument("--data", help="folder for database, uploads and mail; default var/")

    def handle(self, *_args: Any, file: Path, **_options: Any) -> None:
        try:
            counts = back_up(file, now=timezone.now())
        except CannotDo as why:
            raise CommandError(str(why)) from None
        except OSError as problem:
            raise CommandError(f"{file} cannot be written: {problem.strerror}.") from None
        self.stdout.write(
            f"{file}: {counts['work.Refit']} refit(s), {sum(counts.values())} rows and the uploads."
            " Keep it like a password: it opens everything."
        )

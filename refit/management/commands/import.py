"""Read a refit document into a new refit."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from refit.accounts.models import User
from refit.interchange.document import DocumentError, read_document
from refit.interchange.store import import_document, what_it_holds
from refit.work.models import THE_SOFTWARE, Actor


class Command(BaseCommand):
    help = "Makes a new refit from a JSON document. With any mistake in it, nothing is stored."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--manager", metavar="EMAIL", help="account that becomes the refit's manager"
        )

    def handle(self, *args: Any, file: Path, manager: str | None, **options: Any) -> None:
        user = None
        if manager:
            user = User.objects.filter(email__iexact=manager).first()
            if user is None:
                raise CommandError(f"There is no account with the address {manager}.")
        try:
            document = read_document(file.read_bytes())
        except OSError as error:
            raise CommandError(f"{file} cannot be read: {error.strerror}.") from None
        except DocumentError as error:
            count = len(error.problems)
            raise CommandError(
                f"{file} was not imported; nothing was stored. "
                f"{'One thing is' if count == 1 else f'{count} things are'} wrong:\n"
                + "\n".join(f"- {problem}" for problem in error.problems)
            ) from None
        actor = (
            Actor(name=user.name or user.email, side="manager", user_id=user.pk)
            if user
            else THE_SOFTWARE
        )
        refit = import_document(document, actor=actor, now=timezone.now(), manager=user)
        self.stdout.write(f"Imported {refit.name}: {what_it_holds(document)}.")
        self.stdout.write(f"Its page is /r/{refit.slug}/.")
        if user is None:
            self.stdout.write("Nobody can see it yet: no --manager was given.")

"""Write one refit as a refit document."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from refit.interchange.document import write_document
from refit.interchange.export import export_refit
from refit.interchange.schema import did_you_mean
from refit.work.models import Refit


class Command(BaseCommand):
    help = "Writes one refit as a JSON document, to FILE or to the standard output."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("slug", help="the refit, as it stands in addresses after /r/")
        parser.add_argument("file", nargs="?", type=Path, help="where to write it")

    def handle(self, *args: Any, slug: str, file: Path | None, **options: Any) -> None:
        refit = Refit.objects.filter(slug=slug).first()
        if refit is None:
            slugs = list(Refit.objects.order_by("slug").values_list("slug", flat=True))
            hint = did_you_mean(slug, slugs) or f" There are: {', '.join(slugs) or 'none yet'}."
            raise CommandError(f"There is no refit “{slug}”.{hint}")
        text = write_document(export_refit(refit))
        if file is None:
            self.stdout.write(text, ending="")
            return
        try:
            file.write_text(text, encoding="utf-8")
        except OSError as error:
            raise CommandError(f"{file} cannot be written: {error.strerror}.") from None
        self.stderr.write(f"{refit.name} is in {file}.")

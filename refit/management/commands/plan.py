"""Plan a refit document and print the plan; no database is opened."""

from __future__ import annotations

import argparse
import json
import sys
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from refit.interchange.document import DocumentError, read_document
from refit.planning.report import plan_as_data, plan_as_text
from refit.planning.solve import NoPlan, solve


class Command(BaseCommand):
    help = (
        "Computes the plan of a refit document and prints it, as a table or as JSON."
        " Touches no database. Ends with 1 and names every problem if there is no plan."
    )
    requires_system_checks = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="a refit document (JSON); - reads the input")
        parser.add_argument(
            "--now",
            help="the moment to plan from (ISO 8601; without an offset in the zone of the refit)",
        )
        shape = parser.add_mutually_exclusive_group()
        shape.add_argument("--json", action="store_true", help="print the plan as JSON")
        shape.add_argument("--table", action="store_true", help="print a table (as without it)")

    def handle(self, *args: Any, file: Path, now: str | None, **options: Any) -> None:
        try:
            source = sys.stdin.buffer.read() if str(file) == "-" else file.read_bytes()
        except OSError as error:
            raise CommandError(f"{file} cannot be read: {error.strerror}.") from None
        try:
            document = read_document(source)
        except DocumentError as error:
            raise CommandError("\n".join([f"{file} cannot be planned:", *error.problems])) from None
        moment = _moment(now, ZoneInfo(document["refit"]["time_zone"]))
        try:
            solved = solve(document, moment)
        except NoPlan as reason:
            raise CommandError("\n".join(["There is no plan:", *reason.sentences])) from None
        if options["json"]:
            self.stdout.write(json.dumps(plan_as_data(solved), indent=2, ensure_ascii=False))
        else:
            self.stdout.write(plan_as_text(solved))


def _moment(text: str | None, zone: ZoneInfo) -> datetime:
    if text is None:
        return timezone.now()
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise CommandError(
            f"--now {text} is not a moment; write it like 2026-11-25T09:00 or 2026-11-25T09:00Z."
        ) from None
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=zone)

"""``manage.py mail_returned``: a delivery report on standard input, from the mail server's pipe.

Always ends with 0 unless the database is away: a pipe that fails makes a mail server answer with
another report.
"""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from refit.notices.returned import NotAReport, take_report


class Command(BaseCommand):
    help = (
        "Read one delivery report (RFC 3464) from standard input and mark the letter that it names."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            letter, report = take_report(raw=sys.stdin.buffer.read(), now=timezone.now())
        except NotAReport as why:
            self.stdout.write(str(why))
            return
        if report.action == "failed":
            self.stdout.write(
                f"The letter {letter.pk} to {letter.recipient} came back: {report.said}"
            )
        else:
            self.stdout.write(
                f"The letter {letter.pk} is {report.action or 'reported'}; it may still arrive."
            )

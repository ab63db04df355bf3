"""``manage.py receive_mail``: one mail on standard input, from the mail server's pipe.

Answers to invitations and delivery reports come to the same address, so both are read here. Always
ends with 0 unless the database is away: a pipe that fails makes a mail server answer with a report.
"""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from refit.notices.answers import MOST_BYTES, NotAnAnswer, take_answer
from refit.notices.returned import NotAReport, take_report


class Command(BaseCommand):
    help = (
        "Read one mail from standard input: the answer to an invitation (RFC 5546, RFC 6047) or"
        " a delivery report (RFC 3464)."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        raw, now = sys.stdin.buffer.read(MOST_BYTES + 1), timezone.now()
        try:
            self.stdout.write(take_answer(raw=raw, now=now).sentence)
            return
        except NotAnAnswer as why:
            said = str(why)
        try:
            letter, report = take_report(raw=raw, now=now)
        except NotAReport:
            self.stdout.write(said)
            return
        self.stdout.write(f"A report on the letter {letter.pk}: {report.action or 'reported'}.")

"""Letters that came back: what another mail server reports later (RFC 3464), and dead addresses.

The report names our letter by the Message-ID of the mail that it encloses (RFC 6522). A letter that
came back stands with those that could not be sent. Where the address itself is unknown, nothing
more is written to it until the manager says that it is good again.
"""

from __future__ import annotations

import email
import email.policy
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from email.message import Message

from django.db import transaction

from refit.work.models import Refit

from .dead import is_dead, stop_writing
from .models import DeadAddress, Letter, LetterState, NoticeState
from .sending import try_again


@dataclass(frozen=True)
class Report:
    """What one group of a delivery report says of one recipient (RFC 3464, 2.3)."""

    recipient: str
    action: str
    status: str
    said: str


class NotAReport(Exception):
    """Why the mail tells nothing of a letter of ours; a sentence."""


@transaction.atomic
def take_report(*, raw: bytes, now: datetime) -> tuple[Letter, Report]:
    """Read a delivery report and mark the letter it is about. Raises `NotAReport`.

    Only “failed” changes anything: a mail that is delayed, relayed or expanded may still arrive.
    """
    message = email.message_from_bytes(raw, policy=email.policy.compat32)
    reports, message_id = list(_reports(message)), _enclosed_id(message)
    if not reports:
        raise NotAReport("This mail is no delivery report.")
    letter = Letter.objects.select_for_update().of_message(message_id)
    if letter is None:
        raise NotAReport("The report is not about a letter of ours.")
    mine = [report for report in reports if report.recipient == letter.recipient.lower()]
    if not mine:
        raise NotAReport("The report is not about the recipient of that letter.")
    report = next((one for one in mine if one.action == "failed"), mine[0])
    if report.action == "failed":
        letter.state, letter.returned_at = LetterState.PARKED, now
        letter.claimed_until, letter.last_error = None, f"Came back: {report.said}"[:500]
        letter.save(update_fields=["state", "returned_at", "claimed_until", "last_error"])
        letter.notices.filter(state=NoticeState.SENT).update(state=NoticeState.PARKED)
        if is_dead(report.status):
            stop_writing(letter=letter, said=report.said, now=now)
    return letter, report


@transaction.atomic
def write_again(*, refit: Refit, address: DeadAddress, now: datetime) -> int:
    """The address is good after all: its letters that were given up are tried again. How many."""
    DeadAddress.objects.filter(pk=address.pk, refit=refit).delete()
    given_up = Letter.objects.could_not_be_sent().filter(
        refit=refit, recipient__iexact=address.email
    )
    return sum(try_again(letter=letter, now=now) for letter in given_up)


def _reports(message: Message) -> Iterator[Report]:
    for part in message.walk():
        if part.get_content_type() != "message/delivery-status":
            continue
        groups = part.get_payload()
        # The first group is about the message, each further one about a recipient.
        for group in groups[1:] if isinstance(groups, list) else []:
            assert isinstance(group, Message)
            recipient = _value(group, "Final-Recipient") or _value(group, "Original-Recipient")
            status = str(group["Status"] or "").split(" ")[0].strip()
            yield Report(
                recipient=recipient.lower(),
                action=str(group["Action"] or "").strip().lower(),
                status=status,
                said=_value(group, "Diagnostic-Code") or f"status {status}",
            )


def _value(group: Message, name: str) -> str:
    """What stands behind the type, as in ``rfc822; shop@brackwater.example``."""
    return " ".join(str(group[name] or "").partition(";")[2].split())


def _enclosed_id(message: Message) -> str:
    for part in message.walk():
        kind, content = part.get_content_type(), part.get_payload()
        if kind == "message/rfc822" and isinstance(content, list) and content:
            assert isinstance(content[0], Message)
            return str(content[0]["Message-ID"] or "").strip()
        if kind == "text/rfc822-headers":
            raw = part.get_payload(decode=True)
            assert isinstance(raw, bytes)
            return str(email.message_from_bytes(raw)["Message-ID"] or "").strip()
    return ""

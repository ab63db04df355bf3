"""The mail that carries an invitation. Sent at once, not from the outbox: the outbox would have to
keep the token, of which only a hash is ever stored."""

from __future__ import annotations

from email.utils import formataddr

from django.core.mail import EmailMessage
from django.template.loader import render_to_string

from refit.accounts.models import Invitation, Role

from .letters import one_line


def send_invitation(*, invitation: Invitation, address: str) -> None:
    """Mail ``address`` to the person invited. Raises what the mail back end raises."""
    refit = invitation.refit
    context = {
        "invitation": invitation,
        "role": Role(invitation.role).label,
        "refit": refit,
        "address": address,
    }
    EmailMessage(
        subject=one_line(f"{refit.boat.name}: {invitation.invited_by} invites you")[:150],
        body=render_to_string("notices/invitation.txt", context),
        to=[formataddr(("", invitation.email))],
        headers={"Auto-Submitted": "auto-generated"},
    ).send()

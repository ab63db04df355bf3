"""Asking whoever opens a private link for a code sent to the party's address, and mailing it.

The code is sent at once, not from the outbox: the outbox would keep it readable, and whoever waits
for it shall see at once that it could not be sent. No GET sends or uses up anything.
"""

from __future__ import annotations

import logging
from email.utils import formataddr

from django import forms
from django.contrib import messages
from django.core.mail import EmailMessage
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables
from django.views.decorators.http import require_http_methods, require_POST

from refit.accounts.access import known_ids, link_page, remember_link
from refit.accounts.link_codes import CODES_AN_HOUR, GOOD_FOR, make_code, open_code, take_code
from refit.accounts.models import LinkKind, PrivateLink
from refit.portal.pages import actor_of, manager_contact
from refit.work.models import record

from .letters import one_line

log = logging.getLogger(__name__)


class LinkCodeForm(forms.Form):
    code = forms.CharField(
        label="The six figures in the message",
        max_length=20,
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
    )


def address_of(link: PrivateLink) -> str:
    """Where the code goes; empty if the party has no address."""
    return link.vendor.email if link.vendor else link.refit.owner_email


def say_address(email: str) -> str:
    """“s…@scoter.example”: whoever it belongs to knows it, others do not learn it."""
    name, _, host = email.rpartition("@")
    return f"{name[:1]}…@{host}"


@require_http_methods(["GET", "HEAD", "POST"])
@sensitive_post_parameters("code")
@link_page(LinkKind.OWNER, LinkKind.VENDOR, half=True)
def code(request: HttpRequest, link: PrivateLink) -> HttpResponse:
    """The page that asks; a right code opens the link in this browser for good."""
    if link.public_id in known_ids(request):
        return redirect("portal:page", link.public_id)
    now = timezone.now()
    form = LinkCodeForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        refusal = take_code(link=link, typed=form.cleaned_data["code"], now=now)
        if not refusal:
            link.used(now)
            response = redirect("portal:page", link.public_id)
            remember_link(request, response, link)
            return response
        log.warning("code for link %s refused", link.pk)
        form.add_error("code", refusal)
    email = address_of(link)
    context = {
        "link": link,
        "form": form,
        "sent": open_code(link=link, now=now) is not None,
        "email": say_address(email) if email else "",
        "minutes": int(GOOD_FOR.total_seconds()) // 60,
        "contact": manager_contact(link.refit),
    }
    return render(request, "notices/link_code.html", context)


@require_POST
@link_page(LinkKind.OWNER, LinkKind.VENDOR, half=True)
@sensitive_variables("made")
def code_send(request: HttpRequest, link: PrivateLink) -> HttpResponse:
    now = timezone.now()
    email = address_of(link)
    if not email:
        messages.error(request, "There is no e-mail address to send a code to. Please ring us.")
        return redirect("notices:code", link.public_id)
    with transaction.atomic():
        made = make_code(link=link, now=now)
        if made is not None:
            record(
                refit=link.refit, actor=actor_of(link), now=now, verb="had a code sent for",
                subject=link, replan=False,
            )  # fmt: skip
    if made is None:
        messages.warning(
            request,
            f"{CODES_AN_HOUR} codes were sent within an hour. Wait a while, or ring us.",
        )
        return redirect("notices:code", link.public_id)
    try:
        _send(link, made, email)
    except Exception as problem:  # whatever the mail server or its library raises
        log.warning("a code for link %s could not be mailed: %s", link.pk, type(problem).__name__)
        messages.error(request, "The message could not be sent just now. Try again, or ring us.")
    else:
        messages.success(request, f"A code is on its way to {say_address(email)}.")
    return redirect("notices:code", link.public_id)


def _send(link: PrivateLink, made: str, email: str) -> None:
    context = {
        "code": made,
        "refit": link.refit,
        "minutes": int(GOOD_FOR.total_seconds()) // 60,
        "contact": manager_contact(link.refit),
    }
    EmailMessage(
        subject=one_line(f"{link.refit.boat.name}: your code")[:150],
        body=render_to_string("notices/link_code.txt", context),
        to=[formataddr(("", email))],
        headers={"Auto-Submitted": "auto-generated"},
    ).send()

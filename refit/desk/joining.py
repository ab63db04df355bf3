"""Taking up an invitation: with a new account, or with the one that somebody has already.

Opening the link changes nothing, so that a mail scanner that follows it uses up nothing.
"""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth import login
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables
from django.views.decorators.http import require_http_methods

from refit.accounts.forms import FirstAccountForm
from refit.accounts.models import Invitation, Membership, User
from refit.accounts.parts import NotOpen, join, join_with_new_account
from refit.accounts.views import BACKEND
from refit.work.models import Actor, record


class NewMemberForm(FirstAccountForm):
    """Name and password; the address is that of the invitation."""

    def __init__(self, *args: Any, email: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["email"]
        self.address = email

    def clean(self) -> dict[str, Any]:
        self.cleaned_data["email"] = self.address
        return super().clean()


@require_http_methods(["GET", "HEAD", "POST"])
@sensitive_post_parameters("password")
@sensitive_variables("token")
def invited(request: HttpRequest, token: str) -> HttpResponse:
    """What the invitation offers, and the one button or form that takes it up."""
    now = timezone.now()
    invitation = Invitation.objects.for_token(token, now)
    if invitation is None:
        return _closed(request)
    if isinstance(request.user, User):
        return _as_user(request, invitation, request.user)
    if User.objects.filter(email__iexact=invitation.email).exists():
        return _page(request, invitation, sign_in=True)
    form = NewMemberForm(request.POST if request.method == "POST" else None, email=invitation.email)
    if request.method != "POST" or not form.is_valid():
        return _page(request, invitation, form=form)
    try:
        with transaction.atomic():
            membership = join_with_new_account(
                invitation=invitation,
                name=form.cleaned_data["name"],
                password=form.cleaned_data["password"],
                now=now,
            )
            _note(membership, invitation)
    except (NotOpen, IntegrityError):
        return _closed(request)
    except ValidationError:
        # Somebody has just made an account with this address.
        return _page(request, invitation, sign_in=True)
    login(request, membership.user, backend=BACKEND)
    messages.success(request, f"Welcome, {membership.user}. This is your account.")
    return redirect("desk:today", invitation.refit.slug)


def _as_user(request: HttpRequest, invitation: Invitation, user: User) -> HttpResponse:
    there = Membership.objects.filter(user=user, refit=invitation.refit).exists()
    if there or request.method != "POST":
        return _page(request, invitation, there=there)
    try:
        with transaction.atomic():
            membership = join(invitation=invitation, user=user, now=timezone.now())
            _note(membership, invitation)
    except NotOpen:
        return _closed(request)
    messages.success(request, f"You have a part in {invitation.refit.name} now.")
    return redirect("desk:today", invitation.refit.slug)


def _note(membership: Membership, invitation: Invitation) -> None:
    user = membership.user
    side = "manager" if membership.role == "manager" else "crew"
    record(
        refit=invitation.refit,
        actor=Actor(name=str(user)[:120], side=side, user_id=user.pk),
        now=timezone.now(),
        verb="joined as",
        subject=membership,
        subject_name=membership.get_role_display(),
        note=f"Invited by {invitation.invited_by}.",
        replan=False,
    )


def _page(request: HttpRequest, invitation: Invitation, **context: object) -> HttpResponse:
    return render(request, "desk/invited.html", {"invitation": invitation, **context})


def _closed(request: HttpRequest) -> HttpResponse:
    """404, the same for an invitation that never was, was used, was taken back or has run out."""
    return render(request, "desk/invitation_closed.html", status=404)

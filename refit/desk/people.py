"""The people of a refit: members and what they may do, invitations that are out.

An invitation's address is shown once, on the answer to the POST that made it, and mailed if asked
for: it is in no redirect, no message and no log.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass

from django import forms
from django.conf import settings
from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from refit.accounts.models import Invitation, Membership, Role
from refit.accounts.parts import LastManager, change_part, end_part, invite, take_back
from refit.notices.invitations import send_invitation
from refit.work.models import Refit, record

from .pages import DeskRequest, actor_of, manager_page

log = logging.getLogger(__name__)

MAY: dict[Role, str] = {
    Role.MANAGER: "Changes everything, gives out links, invites others.",
    Role.CREW: "Sees everything, records progress, handoffs and findings.",
    Role.READER: "Sees everything, changes nothing.",
}


class InviteForm(forms.Form):
    email = forms.EmailField(
        label="E-mail address",
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
    )
    role = forms.ChoiceField(label="May", choices=Role.choices, initial=Role.CREW)
    by_mail = forms.BooleanField(
        label="Send the link to this address now", required=False, initial=True
    )

    def __init__(self, *args: object, refit: Refit, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.refit = refit

    def clean_email(self) -> str:
        email = str(self.cleaned_data["email"])
        there = Membership.objects.filter(refit=self.refit, user__email__iexact=email)
        if member := there.select_related("user").first():
            raise forms.ValidationError(f"{member.user} has a part in this refit already.")
        return email


@dataclass(frozen=True)
class Made:
    """An invitation just made: its address, and what became of the mail."""

    invitation: Invitation
    address: str
    mailed: bool
    problem: str = ""
    no_server: bool = False
    """A mail was wished for, but this installation sends none."""


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def people(request: DeskRequest, refit: Refit) -> HttpResponse:
    """The list; POST invites somebody and shows the link this once."""
    form = InviteForm(request.POST if request.method == "POST" else None, refit=refit)
    made = None
    if request.method == "POST" and form.is_valid():
        made = _invite(request, refit, form)
        form = InviteForm(refit=refit)
    context = {
        "refit": refit,
        "members": Membership.objects.filter(refit=refit)
        .select_related("user__second_factor")
        .order_by("pk"),
        "invitations": Invitation.objects.open(request.desk.now).filter(refit=refit),
        "roles": [(role, role.label, MAY[role]) for role in Role],
        "form": form,
        "made": made,
    }
    return render(request, "desk/people.html", context)


def _invite(request: DeskRequest, refit: Refit, form: InviteForm) -> Made:
    role = Role(form.cleaned_data["role"])
    now = request.desk.now
    with transaction.atomic():
        invitation, token = invite(
            refit=refit,
            email=form.cleaned_data["email"],
            role=role,
            invited_by=str(request.user)[:120],
            now=now,
        )
        record(
            refit=refit, actor=actor_of(request), now=now, verb="invited", subject=invitation,
            replan=False,
        )  # fmt: skip
    address = settings.SITE_ADDRESS + reverse("desk:invited", args=[token])
    if not form.cleaned_data["by_mail"]:
        return Made(invitation, address, mailed=False)
    if settings.EMAIL_BACKEND.endswith(".filebased.EmailBackend"):
        return Made(invitation, address, mailed=False, no_server=True)
    try:
        send_invitation(invitation=invitation, address=address)
    except Exception as problem:  # whatever the mail server or its library raises
        log.warning("An invitation could not be mailed: %s", type(problem).__name__)
        said = " ".join(str(problem).split())[:200] or type(problem).__name__
        return Made(invitation, address, mailed=False, problem=said)
    return Made(invitation, address, mailed=True)


def _member(refit: Refit, pk: int) -> Membership:
    return get_object_or_404(Membership.objects.select_related("user"), refit=refit, pk=pk)


@require_POST
@manager_page()
def person_role(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    member = _member(refit, pk)
    wanted = request.POST.get("role", "")
    if wanted not in Role.values:
        messages.error(request, "Choose what they may do.")
        return redirect("desk:people", refit.slug)
    role = Role(wanted)
    try:
        with transaction.atomic():
            changed = change_part(membership=member, role=role)
            if changed:
                record(
                    refit=refit, actor=actor_of(request), now=request.desk.now,
                    verb="changed the part of", subject=member, subject_name=str(member.user),
                    before={"role": member.role}, after={"role": role.value},
                    note=f"{Role(member.role).label} before, now {role.label}", replan=False,
                )  # fmt: skip
    except LastManager as refused:
        messages.error(request, str(refused))
        return redirect("desk:people", refit.slug)
    if changed:
        messages.success(request, f"{member.user}: {role.label}.")
    own = member.user_id == request.user.pk and role != Role.MANAGER
    return redirect("desk:today" if own else "desk:people", refit.slug)


@require_POST
@manager_page()
def person_end(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """Take somebody out of the refit. Their account stays; this refit is gone for them at once."""
    member = _member(refit, pk)
    name, own = str(member.user), member.user_id == request.user.pk
    try:
        with transaction.atomic():
            record(
                refit=refit, actor=actor_of(request), now=request.desk.now,
                verb="ended the part of", subject=member, subject_name=name,
                before={"role": member.role}, replan=False,
            )  # fmt: skip
            end_part(membership=member)
    except LastManager as refused:
        messages.error(request, str(refused))
        return redirect("desk:people", refit.slug)
    messages.success(request, f"{name} does not see this refit any more.")
    return redirect("desk:home") if own else redirect("desk:people", refit.slug)


@require_POST
@manager_page()
def invitation_end(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    invitation = get_object_or_404(Invitation, refit=refit, pk=pk)
    with transaction.atomic():
        ended = take_back(invitation=invitation, now=request.desk.now)
        if ended:
            record(
                refit=refit, actor=actor_of(request), now=request.desk.now,
                verb="took back the invitation of", subject=invitation, replan=False,
            )  # fmt: skip
    if ended:
        messages.success(request, f"The invitation of {invitation.email} opens nothing any more.")
    else:
        messages.warning(request, "That invitation had been used or had ended already.")
    return redirect("desk:people", refit.slug)

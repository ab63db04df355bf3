"""The code asked for at sign-in, and the page on which one's own second factor is kept."""

from __future__ import annotations

import logging
from urllib.parse import urlsplit

import segno
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from .forms import CodeForm, OwnPasswordForm
from .models import SecondFactor, User
from .second_factor import (
    address_for_app,
    check_code,
    confirm,
    factor_of,
    new_recovery_codes,
    prepare,
    switch_off,
)
from .waiting import KEY, client_address, who_waits

log = logging.getLogger(__name__)

BACKEND = "django.contrib.auth.backends.ModelBackend"


@require_http_methods(["GET", "HEAD", "POST"])
@sensitive_post_parameters("code")
def code_page(request: HttpRequest) -> HttpResponse:
    """The second step of signing in; only for a browser whose password was right just now."""
    waits = who_waits(request)
    if waits is None:
        return redirect("accounts:sign-in")
    user, next_page = waits
    form = CodeForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        address = client_address(request)
        refusal = check_code(
            user=user, code=form.cleaned_data["code"], address=address, now=timezone.now()
        )
        if not refusal:
            request.session.pop(KEY, None)
            login(request, user, backend=BACKEND)
            return redirect(next_page)
        log.warning("code of the second factor refused from %s", address)
        form.add_error("code", refusal)
    return render(request, "accounts/code.html", {"form": form})


@require_safe
@login_required
@sensitive_variables("factor", "context")
def second_factor(request: HttpRequest) -> HttpResponse:
    """Off, being set up (with the picture to scan), or on."""
    assert isinstance(request.user, User)
    return _page(request, request.user)


@require_POST
@login_required
@sensitive_post_parameters("current")
def start(request: HttpRequest) -> HttpResponse:
    """Make the secret; nothing is asked at sign-in before a code has confirmed it."""
    assert isinstance(request.user, User)
    form = OwnPasswordForm(request.POST, user=request.user)
    if not form.is_valid():
        return _page(request, request.user, password=form)
    prepare(user=request.user, now=timezone.now())
    return redirect("accounts:second-factor")


@require_POST
@login_required
@sensitive_post_parameters("code")
@sensitive_variables("codes")
def switch_on(request: HttpRequest) -> HttpResponse:
    """The app shows the right code: on from now. Answers with the recovery codes, this once."""
    assert isinstance(request.user, User)
    factor = SecondFactor.objects.filter(user=request.user, confirmed_at=None).first()
    form = CodeForm(request.POST)
    if factor is None:
        return redirect("accounts:second-factor")
    if form.is_valid():
        codes = confirm(factor=factor, code=form.cleaned_data["code"], now=timezone.now())
        if codes is not None:
            log.warning("second factor of user %s switched on", request.user.pk)
            return render(request, "accounts/recovery_codes.html", {"codes": codes, "fresh": True})
        form.add_error("code", "That is not the code the app should show now. Try the next one.")
    return _page(request, request.user, code=form)


@require_POST
@login_required
@sensitive_post_parameters("current")
@sensitive_variables("codes")
def recovery(request: HttpRequest) -> HttpResponse:
    """New recovery codes; the old ones end."""
    assert isinstance(request.user, User)
    factor = factor_of(request.user)
    if factor is None:
        return redirect("accounts:second-factor")
    form = OwnPasswordForm(request.POST, user=request.user)
    if not form.is_valid():
        return _page(request, request.user, recovery=form)
    codes = new_recovery_codes(factor=factor)
    return render(request, "accounts/recovery_codes.html", {"codes": codes})


@require_POST
@login_required
@sensitive_post_parameters("current")
def turn_off(request: HttpRequest) -> HttpResponse:
    assert isinstance(request.user, User)
    form = OwnPasswordForm(request.POST, user=request.user)
    if not form.is_valid():
        return _page(request, request.user, off=form)
    if switch_off(user=request.user):
        log.warning("second factor of user %s switched off", request.user.pk)
        messages.success(request, "It is off. Your password alone signs you in again.")
    return redirect("accounts:second-factor")


def _page(request: HttpRequest, user: User, **sent: CodeForm | OwnPasswordForm) -> HttpResponse:
    """``sent``: forms that come back with what is wrong, by their place on the page."""
    factor = SecondFactor.objects.filter(user=user).select_related("user").first()
    context: dict[str, object] = {
        "factor": factor,
        "password": sent.get("password") or OwnPasswordForm(user=user, auto_id="start_%s"),
        "code": sent.get("code") or CodeForm(),
        "recovery": sent.get("recovery") or OwnPasswordForm(user=user, auto_id="recovery_%s"),
        "off": sent.get("off") or OwnPasswordForm(user=user, auto_id="off_%s"),
    }
    if factor is not None and factor.confirmed_at is None:
        host = urlsplit(settings.SITE_ADDRESS).hostname or "refit"
        drawn = segno.make(address_for_app(factor, f"refit {host}"), error="m", micro=False)
        context["picture"] = drawn.svg_data_uri(scale=5, border=4, dark="#000", light="#fff")
        context["typed"] = " ".join(
            factor.secret[at : at + 4] for at in range(0, len(factor.secret), 4)
        )
    elif factor is not None:
        context["left"] = factor.recovery_codes.filter(used_at=None).count()
    return render(request, "accounts/second_factor.html", context)

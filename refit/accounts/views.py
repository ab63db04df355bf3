"""Signing in and out, the first account, one's own password."""

from __future__ import annotations

import logging

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login, logout, update_session_auth_hash
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from .forms import FirstAccountForm, PasswordForm, SignInForm
from .models import User
from .second_factor import factor_of
from .signing_in import NotTheFirst, make_first_account, sign_in
from .waiting import ask_for_code, client_address

log = logging.getLogger(__name__)

BACKEND = "django.contrib.auth.backends.ModelBackend"


@require_http_methods(["GET", "HEAD", "POST"])
@sensitive_post_parameters("password")
def sign_in_page(request: HttpRequest) -> HttpResponse:
    if request.method != "POST":
        if not User.objects.exists():
            return redirect("accounts:first-account")
        if request.user.is_authenticated:
            return redirect(_next_page(request))
    form = SignInForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        address = client_address(request)
        outcome = sign_in(
            request=request,
            email=form.cleaned_data["email"],
            password=form.cleaned_data["password"],
            address=address,
            now=timezone.now(),
        )
        if outcome.user is not None:
            if factor_of(outcome.user) is not None:
                ask_for_code(request, outcome.user, next_page=_next_page(request))
                return redirect("accounts:code")
            login(request, outcome.user)
            return redirect(_next_page(request))
        log.warning("sign-in refused from %s", address)
        form.add_error(None, outcome.refusal)
    return render(
        request,
        "accounts/sign_in.html",
        {"form": form, "next": request.POST.get("next") or request.GET.get("next", "")},
    )


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    messages.success(request, "You are signed out.")
    response = redirect("accounts:sign-in")
    # What this browser kept for trips without a network goes too (W3C Clear Site Data). Cookies
    # stay: they carry the sentence above and, of others, the doors of their letters.
    response["Clear-Site-Data"] = '"cache", "storage"'
    return response


@require_http_methods(["GET", "HEAD", "POST"])
@sensitive_post_parameters("password")
def first_account(request: HttpRequest) -> HttpResponse:
    """Only while there is no account; afterwards the address leads to signing in."""
    if User.objects.exists():
        return redirect("accounts:sign-in")
    form = FirstAccountForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            user = make_first_account(
                email=form.cleaned_data["email"],
                name=form.cleaned_data["name"],
                password=form.cleaned_data["password"],
            )
        except NotTheFirst:
            messages.warning(request, "Somebody else has just made the first account.")
            return redirect("accounts:sign-in")
        login(request, user, backend=BACKEND)
        messages.success(request, f"Welcome, {user.name}. This is your account.")
        return redirect(settings.LOGIN_REDIRECT_URL)
    return render(request, "accounts/first_account.html", {"form": form})


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
@sensitive_post_parameters("current", "password", "again")
def change_password(request: HttpRequest) -> HttpResponse:
    assert isinstance(request.user, User)
    form = PasswordForm(request.POST or None, user=request.user)
    if request.method == "POST" and form.is_valid():
        request.user.set_password(form.cleaned_data["password"])
        request.user.save(update_fields=["password"])
        # This browser stays signed in; every other one is signed out by the new password.
        update_session_auth_hash(request, request.user)
        messages.success(request, "Your password is changed. Other browsers are signed out.")
        return redirect("accounts:password")
    return render(request, "accounts/password_change.html", {"form": form})


def _next_page(request: HttpRequest) -> str:
    """Where to go after signing in: the page that asked for it, if it is one of ours."""
    wanted = request.POST.get("next") or request.GET.get("next", "")
    if url_has_allowed_host_and_scheme(
        wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    ):
        return wanted
    return resolve_url(settings.LOGIN_REDIRECT_URL)

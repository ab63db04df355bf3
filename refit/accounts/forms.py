"""What people type about themselves. Rules of passwords: ``AUTH_PASSWORD_VALIDATORS``."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from .models import User

NEW_PASSWORD = "At least 8 characters. No common password, not only figures, not your own name."
"""What ``AUTH_PASSWORD_VALIDATORS`` ask for, in one line."""


def _password(label: str, *, new: bool) -> forms.CharField:
    return forms.CharField(
        label=label,
        strip=False,
        max_length=256,
        widget=forms.PasswordInput(
            attrs={"autocomplete": "new-password" if new else "current-password"}
        ),
        help_text=NEW_PASSWORD if new else "",
    )


class SignInForm(forms.Form):
    email = forms.CharField(
        label="E-mail address",
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "username", "autofocus": True}),
    )
    password = _password("Password", new=False)


class FirstAccountForm(forms.Form):
    name = forms.CharField(
        label="Your name",
        max_length=120,
        help_text="Vendors and the owner read it.",
        widget=forms.TextInput(attrs={"autocomplete": "name", "autofocus": True}),
    )
    email = forms.EmailField(
        label="E-mail address",
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
    )
    password = _password("Password", new=True)

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        if password := typed.get("password"):
            someone = User(email=typed.get("email", ""), name=typed.get("name", ""))
            try:
                validate_password(password, someone)
            except ValidationError as wrong:
                self.add_error("password", wrong)
        return typed


class PasswordForm(forms.Form):
    current = _password("Password until now", new=False)
    password = _password("New password", new=True)
    again = forms.CharField(
        label="New password, once more",
        strip=False,
        max_length=256,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user

    def clean_current(self) -> str:
        current = str(self.cleaned_data["current"])
        if not self.user.check_password(current):
            raise ValidationError("That is not your password.")
        return current

    def clean_password(self) -> str:
        password = str(self.cleaned_data["password"])
        validate_password(password, self.user)
        return password

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        if "password" in typed and "again" in typed and typed["password"] != typed["again"]:
            self.add_error("again", "The two new passwords differ.")
        return typed


class CodeForm(forms.Form):
    """A code of the app, or a recovery code."""

    code = forms.CharField(
        label="Code",
        max_length=40,
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "inputmode": "text", "autofocus": True}
        ),
    )


class OwnPasswordForm(forms.Form):
    """The password once more, before something that protects the account is changed."""

    current = _password("Your password", new=False)

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user

    def clean_current(self) -> str:
        current = str(self.cleaned_data["current"])
        if not self.user.check_password(current):
            raise ValidationError("That is not your password.")
        return current

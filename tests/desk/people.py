"""Four people at one address: a member who may, a reader, a stranger, and nobody signed in."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.test import Client

from refit.accounts.models import Role
from refit.work.models import Refit
from tests.builders import a_member, a_user


def signed_in(refit: Refit, role: str = Role.MANAGER) -> Client:
    client = Client()
    client.force_login(a_member(refit, role))
    return client


def check_only_members_post(refit: Refit, url: str, data: dict[str, Any] | None = None) -> None:
    """A stranger finds nothing, a reader is told no, nobody at all is sent to sign in."""
    stranger = Client()
    stranger.force_login(a_user())
    assert stranger.post(url, data or {}).status_code == 404
    assert signed_in(refit, Role.READER).post(url, data or {}).status_code == 403
    answer = Client().post(url, data or {})
    assert answer.status_code == 302
    assert "sign-in" in answer["Location"]


def check_crew_may_not(refit: Refit, url: str, data: dict[str, Any] | None = None) -> None:
    assert signed_in(refit, Role.CREW).post(url, data or {}).status_code == 403


def check_get_changes_nothing(refit: Refit, url: str) -> None:
    assert signed_in(refit).get(url).status_code == 405


def as_sent(form: Any) -> dict[str, Any]:
    """What a browser sends when a form is sent back as it was shown."""
    sent: dict[str, Any] = {}
    for bound in form:
        value = bound.value()
        if isinstance(value, datetime):
            value = value.strftime("%Y-%m-%dT%H:%M")
        elif isinstance(value, date):
            value = value.isoformat()
        if value is None or value is False:
            continue
        sent[bound.html_name] = "on" if value is True else value
    return sent


def errors_at(answer: Any, field: str | None, form: str = "form") -> str:
    """The errors at one field (None: of the whole form), as one text."""
    assert answer.status_code == 200
    return " ".join(answer.context[form].errors.get(field or "__all__", []))

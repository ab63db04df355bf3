"""Started, so much left, finished: by managers and crew."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from refit.accounts.models import Role
from refit.work.models import WorkPackage
from tests.builders import a_package, a_refit

from .people import check_get_changes_nothing, check_only_members_post, errors_at, signed_in

pytestmark = pytest.mark.django_db


def _url(package: WorkPackage, act: str) -> str:
    return reverse(f"desk:package-{act}", args=[package.refit.slug, package.pk])


def _typed(days_ago: float) -> str:
    return (timezone.now() - timedelta(days=days_ago)).strftime("%Y-%m-%dT%H:%M")


@pytest.mark.parametrize("role", [Role.MANAGER, Role.CREW])
def test_a_package_starts_now_and_is_finished_now(role: str) -> None:
    refit = a_refit()
    package = a_package(refit)
    client = signed_in(refit, role)
    assert client.post(_url(package, "start")).status_code == 302
    package.refresh_from_db()
    assert package.started_at is not None
    assert timedelta() <= timezone.now() - package.started_at < timedelta(minutes=2)
    assert client.post(_url(package, "finish")).status_code == 302
    package.refresh_from_db()
    assert package.finished_at is not None


def test_a_package_started_and_finished_earlier_is_told_at_once() -> None:
    refit = a_refit()
    package = a_package(refit)
    signed_in(refit).post(_url(package, "finish"), {"started_at": _typed(3), "at": _typed(1)})
    package.refresh_from_db()
    assert package.started_at is not None
    assert package.finished_at is not None
    assert (package.finished_at - package.started_at).days == 2


def test_a_finish_without_a_start_is_asked_for_it() -> None:
    refit = a_refit()
    package = a_package(refit)
    answer = signed_in(refit).post(_url(package, "finish"), {"at": _typed(1)})
    assert "required" in errors_at(answer, "started_at", "finish_form")


@pytest.mark.parametrize(
    ("act", "data", "form", "field", "said"),
    [
        ("start", {"at": "2199-01-01T08:00"}, "start_form", "at", "future"),
        ("start", {"at": "yesterday"}, "start_form", "at", "like 2026-12-04"),
        ("report", {"remaining": "3"}, "remaining_form", "remaining", "unit"),
        ("report", {"remaining": "1 d"}, "remaining_form", None, "not been started"),
    ],
)
def test_what_cannot_be_is_said_at_the_field(
    act: str, data: dict[str, Any], form: str, field: str | None, said: str
) -> None:
    refit = a_refit()
    package = a_package(refit)
    assert said in errors_at(signed_in(refit).post(_url(package, act), data), field, form)
    package.refresh_from_db()
    assert (package.started_at, package.remaining_minutes) == (None, None)


def test_what_is_left_is_noted() -> None:
    refit = a_refit()
    package = a_package(refit, started_at=timezone.now() - timedelta(days=1))
    answer = signed_in(refit, Role.CREW).post(_url(package, "report"), {"remaining": "1½ d"})
    assert answer.status_code == 302
    package.refresh_from_db()
    assert package.remaining_minutes == 720


def test_starting_twice_is_told() -> None:
    refit = a_refit()
    package = a_package(refit)
    client = signed_in(refit)
    client.post(_url(package, "start"))
    answer = client.post(_url(package, "start"))
    assert "started already" in errors_at(answer, None, "start_form")


def test_from_the_page_of_the_day_one_comes_back_to_it() -> None:
    refit = a_refit()
    package = a_package(refit)
    answer = signed_in(refit).post(_url(package, "start"), {"next": "today"})
    assert answer["Location"] == reverse("desk:today", args=[refit.slug])


def test_readers_and_strangers_report_nothing() -> None:
    refit = a_refit()
    package = a_package(refit)
    for act in ("start", "report", "finish"):
        check_only_members_post(refit, _url(package, act))
        check_get_changes_nothing(refit, _url(package, act))
    package.refresh_from_db()
    assert package.started_at is None

"""Who gets in at the desk, and what the frame says."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from refit.accounts.models import Membership, Role
from refit.planning.models import Plan, PlanTrouble
from refit.planning.services import replan
from refit.work.models import Refit
from tests.builders import a_dependency, a_member, a_package, a_refit, a_user

from .people import signed_in

pytestmark = pytest.mark.django_db


def _today(refit: Refit) -> str:
    return reverse("desk:today", args=[refit.slug])


def test_every_member_sees_the_refit() -> None:
    refit = a_refit()
    for role in Role.values:
        answer = signed_in(refit, role).get(_today(refit))
        assert answer.status_code == 200
        assert "Sallow Tern" in answer.content.decode()


def test_to_a_stranger_the_refit_does_not_exist(client: Client) -> None:
    client.force_login(a_user())
    assert client.get(_today(a_refit())).status_code == 404


def test_the_manager_of_one_refit_is_a_stranger_at_another(client: Client) -> None:
    client.force_login(a_member(a_refit()))
    assert client.get(_today(a_refit())).status_code == 404


def test_nobody_enters_without_signing_in(client: Client) -> None:
    url = _today(a_refit())
    answer = client.get(url)
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("accounts:sign-in"))
    assert url in answer["Location"]


def test_a_membership_that_ends_ends_at_once(client: Client) -> None:
    refit = a_refit()
    client.force_login(a_member(refit))
    assert client.get(_today(refit)).status_code == 200
    Membership.objects.all().delete()
    assert client.get(_today(refit)).status_code == 404


def test_a_reader_is_not_shown_forms_that_change_anything() -> None:
    refit = a_refit()
    package = a_package(refit)
    page = (
        signed_in(refit, Role.READER)
        .get(reverse("desk:package", args=[refit.slug, package.pk]))
        .content.decode()
    )
    forms = page.count('method="post"')
    assert forms == 1
    assert "Sign out" in page


def test_a_page_that_is_nothing_but_a_form_is_refused_to_readers() -> None:
    refit = a_refit()
    for name in ("package-add", "piece-add", "vendor-add", "place-add", "links", "settings"):
        answer = signed_in(refit, Role.READER).get(reverse(f"desk:{name}", args=[refit.slug]))
        assert answer.status_code == 403, name
        assert "not yours to change" in answer.content.decode()


def test_dates_are_shown_in_the_zone_of_the_refit() -> None:
    refit = a_refit(time_zone="Pacific/Kiritimati", start=timezone.now().date())
    page = signed_in(refit).get(_today(refit)).content.decode()
    local = refit.today(timezone.now())
    assert f"{local:%a} {local.day} {local:%b}" in page


def test_the_page_says_of_when_its_plan_is_and_waits_for_a_newer_one() -> None:
    refit = a_refit()
    a_package(refit)
    replan(refit=refit, now=timezone.now())
    client = signed_in(refit)
    assert "hx-trigger" not in client.get(_today(refit)).content.decode().split("plan-line")[1]
    Refit.objects.update(version=refit.version + 1)
    page = client.get(_today(refit)).content.decode()
    assert "a newer plan is being computed" in page
    assert "hx-trigger" in page


def test_the_plan_line_offers_the_newer_plan_when_it_is_there() -> None:
    refit = a_refit()
    a_package(refit)
    replan(refit=refit, now=timezone.now() - timedelta(hours=1))
    shown = Plan.objects.get().pk
    client = signed_in(refit)
    url = reverse("desk:plan-line", args=[refit.slug])
    assert "A newer plan is here" not in client.get(url, {"shown": shown}).content.decode()
    Refit.objects.update(version=refit.version + 1)
    replan(refit=refit, now=timezone.now())
    line = client.get(url, {"shown": shown}).content.decode()
    assert "A newer plan is here" in line
    assert "hx-trigger" not in line


def test_a_refit_that_cannot_be_planned_says_why_and_keeps_the_dates_it_had() -> None:
    refit = a_refit()
    one, other = a_package(refit, code="H1"), a_package(refit, code="H2")
    a_dependency(one, other)
    replan(refit=refit, now=timezone.now())
    a_dependency(other, one)
    Refit.objects.update(version=refit.version + 1)
    refit.refresh_from_db()
    replan(refit=refit, now=timezone.now())
    assert PlanTrouble.objects.exists()
    page = signed_in(refit).get(_today(refit)).content.decode()
    assert "No new plan can be made" in page
    assert "The dates shown are those of" in page
    assert "hx-trigger" not in page

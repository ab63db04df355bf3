"""The page of plan health."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from refit.accounts.models import Role
from refit.planning.baselines import keep_baseline
from refit.planning.models import Plan, PlanSource
from refit.planning.services import replan
from refit.work.models import Refit
from tests.builders import A_MANAGER, a_dependency, a_package, a_place, a_refit, a_user, a_vendor

from .people import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def refit() -> Refit:
    """Weld, then fit; and a lone package that nobody waits for."""
    now = timezone.now()
    refit = a_refit(wanted_launch=(now + timedelta(days=90)).date())
    vendor = a_vendor(refit)
    shed = a_place(refit, name="Shed", kind="home")
    weld = a_package(refit, code="A", title="Weld", place=shed, vendor=vendor)
    a_dependency(weld, a_package(refit, code="B", title="Fit", place=shed, is_launch=True))
    a_package(refit, code="C", title="Lone", place=shed)
    replan(refit=refit, now=now)
    return refit


def _url(refit: Refit) -> str:
    return reverse("desk:health", args=[refit.slug])


def test_packages_are_named_with_what_to_do(refit: Refit) -> None:
    answer = signed_in(refit, Role.READER).get(_url(refit))
    page = answer.content.decode()
    titles = [check.title for check, _ in answer.context["open"]]
    assert "Nothing waits for it" in titles
    assert "Nobody is named to do it" in titles
    assert "Lone" in page
    assert "1 of 2 packages" in page
    assert "Say what needs it done" in page
    assert " %" not in page.partition("<main")[2].partition("Where these checks")[0]


def test_a_baseline_answers_the_check_for_one(refit: Refit) -> None:
    titles = [c.title for c, _ in signed_in(refit).get(_url(refit)).context["open"]]
    assert "A baseline to compare with" in titles
    keep_baseline(refit=refit, name="As agreed", actor=A_MANAGER, now=timezone.now())
    titles = [c.title for c, _ in signed_in(refit).get(_url(refit)).context["open"]]
    assert "A baseline to compare with" not in titles


def test_a_plan_from_before_documents_were_kept_is_checked_too(refit: Refit) -> None:
    PlanSource.objects.all().delete()
    refit.packages.get(code="C").delete()
    a_package(refit, code="D", title="Newer", place=refit.places.get())
    answer = signed_in(refit).get(_url(refit))
    assert answer.status_code == 200
    assert "Newer" not in answer.content.decode()


def test_a_package_renamed_or_removed_since_the_plan_breaks_nothing(refit: Refit) -> None:
    refit.packages.filter(code="A").update(code="A9")
    refit.packages.get(code="C").delete()
    assert signed_in(refit).get(_url(refit)).status_code == 200


def test_without_a_plan_the_page_says_so() -> None:
    refit = a_refit()
    assert not Plan.objects.exists()
    assert "There is no plan yet" in signed_in(refit).get(_url(refit)).content.decode()


def test_a_stranger_finds_nothing_and_nobody_signs_in_first(refit: Refit) -> None:
    stranger = Client()
    stranger.force_login(a_user())
    assert stranger.get(_url(refit)).status_code == 404
    assert Client().get(_url(refit)).status_code == 302


def test_the_page_takes_fifteen_queries_at_most(refit: Refit) -> None:
    for _ in range(12):
        a_package(refit, place=refit.places.get())
    replan(refit=refit, now=timezone.now())
    keep_baseline(refit=refit, name="As agreed", actor=A_MANAGER, now=timezone.now())
    client = signed_in(refit)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(_url(refit)).status_code == 200
    assert len(queries) <= 15

"""The pages of baselines and of the delay ledger."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from refit.accounts.models import Role
from refit.planning.baselines import keep_baseline
from refit.planning.models import Baseline
from refit.planning.services import replan
from refit.work.models import Refit
from refit.work.services import change_row
from tests.builders import A_MANAGER, a_dependency, a_package, a_place, a_refit

from .people import (
    check_crew_may_not,
    check_get_changes_nothing,
    check_only_members_post,
    errors_at,
    signed_in,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def refit() -> Refit:
    refit = a_refit()
    a_place(refit, name="Shed", kind="home")
    weld = a_package(refit, code="A", title="Weld", minutes=540)
    a_dependency(weld, a_package(refit, code="B", title="Fit", minutes=540, is_launch=True))
    replan(refit=refit, now=timezone.now() - timedelta(minutes=2))
    return refit


def _url(name: str, refit: Refit, *args: Any) -> str:
    return reverse(f"desk:{name}", args=[refit.slug, *args])


def _moved(refit: Refit) -> None:
    """Weld takes three days more, and the plan follows."""
    facts = {"likely_minutes": 4 * 540, "high_minutes": 4 * 540}
    now = timezone.now()
    change_row(refit=refit, row=refit.packages.get(code="A"), facts=facts, actor=A_MANAGER, now=now)
    replan(refit=refit, now=now)


def test_the_plan_is_kept_under_a_name(refit: Refit) -> None:
    client = signed_in(refit)
    answer = client.post(_url("baseline-keep", refit), {"name": "As agreed", "choose": "on"})
    assert answer.status_code == 302
    baseline = Baseline.objects.get()
    assert (baseline.name, baseline.is_chosen) == ("As agreed", True)
    page = client.get(_url("baselines", refit)).content.decode()
    assert "As agreed" in page
    assert "as it was" in page


def test_a_name_that_is_taken_comes_back_at_its_field(refit: Refit) -> None:
    client = signed_in(refit)
    client.post(_url("baseline-keep", refit), {"name": "As agreed"})
    answer = client.post(_url("baseline-keep", refit), {"name": "as agreed"})
    assert "is kept already" in errors_at(answer, "name")
    assert Baseline.objects.count() == 1


def test_without_a_plan_the_page_says_so() -> None:
    refit = a_refit()
    client = signed_in(refit)
    answer = client.post(_url("baseline-keep", refit), {"name": "As agreed"})
    assert "no plan yet" in errors_at(answer, None)
    assert client.get(_url("ledger", refit)).status_code == 200


def test_drift_is_shown_with_the_packages_that_moved(refit: Refit) -> None:
    client = signed_in(refit)
    client.post(_url("baseline-keep", refit), {"name": "As agreed", "choose": "on"})
    _moved(refit)
    answer = client.get(_url("baselines", refit))
    assert answer.context["drift"].launch.working_days == 3
    page = answer.content.decode()
    assert "3 working days later" in page
    assert "Weld" in page


def test_what_is_done_is_held_against_the_baseline(refit: Refit) -> None:
    client = signed_in(refit)
    refit.packages.update(budget=500)
    long_ago = timezone.now() - timedelta(days=20)
    replan(refit=refit, now=long_ago)
    client.post(_url("baseline-keep", refit), {"name": "As agreed", "choose": "on"})
    refit.packages.filter(code="A").update(
        started_at=long_ago, finished_at=long_ago + timedelta(days=1)
    )
    replan(refit=refit, now=timezone.now())
    page = client.get(_url("baselines", refit)).content.decode()
    assert "1,000 EUR of 1,000 EUR" in page
    assert "500 EUR, 0.50 of what was planned" in page
    assert "weeks behind" in page


def test_another_baseline_can_be_looked_at_and_chosen(refit: Refit) -> None:
    client = signed_in(refit)
    for name in ("First", "Second"):
        client.post(_url("baseline-keep", refit), {"name": name})
    second = Baseline.objects.get(name="Second")
    assert not second.is_chosen
    answer = client.get(_url("baselines", refit), {"of": second.pk})
    assert answer.context["shown"] == second
    for _ in range(2):
        assert client.post(_url("baseline-choose", refit, second.pk)).status_code == 302
    assert Baseline.objects.get(is_chosen=True) == second


def test_the_ledger_says_what_moved_the_launch(refit: Refit) -> None:
    _moved(refit)
    answer = signed_in(refit, Role.READER).get(_url("ledger", refit))
    page = answer.content.decode()
    assert "Runa Ostlund changed A Weld" in page
    assert "Our crew" in page
    assert answer.context["ledger"].drift.working_days == 3


def test_the_ledger_since_a_baseline_leaves_out_what_came_before(refit: Refit) -> None:
    _moved(refit)
    keep_baseline(refit=refit, name="After that", actor=A_MANAGER, now=timezone.now())
    answer = signed_in(refit).get(_url("ledger", refit), {"since": Baseline.objects.get().pk})
    assert answer.context["entries"] == 0
    assert "The launch has not moved" in answer.content.decode()


def test_what_was_asked_for_wrongly_is_passed_over(refit: Refit) -> None:
    client = signed_in(refit)
    assert client.get(_url("baselines", refit), {"of": "x"}).status_code == 200
    assert client.get(_url("ledger", refit), {"since": "999"}).status_code == 200


def test_others_do_not_keep_or_choose(refit: Refit) -> None:
    keep_baseline(refit=refit, name="First", actor=A_MANAGER, now=timezone.now())
    pk = Baseline.objects.get().pk
    for url in (_url("baseline-keep", refit), _url("baseline-choose", refit, pk)):
        check_only_members_post(refit, url, {"name": "x"})
        check_crew_may_not(refit, url, {"name": "x"})
        check_get_changes_nothing(refit, url)
    assert Baseline.objects.count() == 1
    other = a_refit()
    assert signed_in(other).post(_url("baseline-choose", other, pk)).status_code == 404


@pytest.mark.parametrize("page", ["baselines", "ledger"])
def test_pages_take_fifteen_queries_at_most(refit: Refit, page: str) -> None:
    keep_baseline(refit=refit, name="First", actor=A_MANAGER, now=timezone.now())
    for number in range(10):
        a_package(refit, minutes=60 + number)
    _moved(refit)
    client = signed_in(refit)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(_url(page, refit)).status_code == 200
    assert len(queries) <= 15

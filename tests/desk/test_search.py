"""The page of the search for an earlier launch: asked for, watched, stopped, without scripts."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from refit.accounts.models import Role
from refit.planning.models import Plan, PlanSearch, SearchState
from refit.planning.services import replan
from refit.work.models import Refit
from tests.builders import a_package, a_refit

from .people import (
    check_crew_may_not,
    check_get_changes_nothing,
    check_only_members_post,
    signed_in,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def refit() -> Refit:
    refit = a_refit()
    a_package(refit, code="W1", title="Weld the frame", is_launch=True)
    assert replan(refit=refit, now=timezone.now()) is not None
    return refit


def _url(name: str, refit: Refit) -> str:
    return reverse(f"desk:{name}", args=[refit.slug])


def _page(client: Any, refit: Refit) -> str:
    return str(client.get(_url("search", refit)).content.decode())


def _newest(refit: Refit) -> PlanSearch:
    search = PlanSearch.objects.newest(refit)
    assert search is not None
    return search


def test_a_search_is_asked_for_and_shown_until_it_is_stopped(refit: Refit) -> None:
    client = signed_in(refit)
    assert "How long may it look?" in _page(client, refit)
    answer = client.post(_url("search-begin", refit), {"seconds": "30"})
    assert answer.status_code == 302
    search = _newest(refit)
    assert (search.state, search.limit_seconds) == (SearchState.WAITING, 30)
    page = _page(client, refit)
    assert "About to look" in page
    assert "How long may it look?" not in page
    assert client.post(_url("search-stop", refit)).status_code == 302
    page = _page(client, refit)
    assert "It was taken back before it began." in page
    assert "How long may it look?" in page


@pytest.mark.parametrize("seconds", ["", "7", "soon", "100000"])
def test_another_length_is_refused_at_the_field(refit: Refit, seconds: str) -> None:
    answer = signed_in(refit).post(_url("search-begin", refit), {"seconds": seconds})
    assert answer.status_code == 200
    assert "errorlist" in answer.content.decode()
    assert not PlanSearch.objects.exists()


def test_a_stale_plan_is_no_start_and_that_is_said(refit: Refit) -> None:
    Refit.objects.filter(pk=refit.pk).update(version=refit.version + 1)
    answer = signed_in(refit).post(_url("search-begin", refit), {"seconds": "10"}, follow=True)
    assert "not one of the refit as it is now" in answer.content.decode()
    assert not PlanSearch.objects.exists()


def _ended(refit: Refit, **columns: Any) -> None:
    client = signed_in(refit)
    client.post(_url("search-begin", refit), {"seconds": "10"})
    PlanSearch.objects.filter(pk=_newest(refit).pk).update(ended_at=timezone.now(), **columns)


def test_what_was_found_is_told_before_and_after(refit: Refit) -> None:
    plan = Plan.objects.current(refit)
    assert plan is not None
    assert plan.launch_at is not None
    _ended(
        refit,
        state=SearchState.FOUND,
        launch_before=plan.launch_at + timedelta(days=2),
        plan_after=plan,
        moved=[
            {
                "code": "W1",
                "title": "Weld the frame",
                "before": (plan.launch_at + timedelta(days=1)).isoformat(),
                "after": plan.launch_at.isoformat(),
            }
        ],
    )
    page = _page(signed_in(refit), refit)
    assert "2 days earlier" in page
    assert "1 day earlier" in page
    package = refit.packages.get(code="W1")
    assert reverse("desk:package", args=[refit.slug, package.pk]) in page


def test_one_that_died_says_so_even_before_anybody_has_noted_it(refit: Refit) -> None:
    client = signed_in(refit)
    client.post(_url("search-begin", refit), {"seconds": "10"})
    PlanSearch.objects.update(
        state=SearchState.RUNNING, lease_until=timezone.now() - timedelta(seconds=1)
    )
    page = _page(client, refit)
    assert "broke off" in page
    assert "How long may it look?" in page
    client.post(_url("search-begin", refit), {"seconds": "10"})
    assert _newest(refit).state == SearchState.WAITING


def test_only_managers_ask_and_stop(refit: Refit) -> None:
    check_get_changes_nothing(refit, _url("search-begin", refit))
    check_get_changes_nothing(refit, _url("search-stop", refit))
    for name in ("search-begin", "search-stop"):
        check_only_members_post(refit, _url(name, refit))
        check_crew_may_not(refit, _url(name, refit))
    assert signed_in(refit, Role.CREW).get(_url("search", refit)).status_code == 403

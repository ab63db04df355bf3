"""The list of packages and the page of one."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from refit.planning.services import replan
from refit.work.models import Refit
from tests.builders import a_dependency, a_package, a_place, a_refit, a_vendor

from .people import signed_in

pytestmark = pytest.mark.django_db


def _list(refit: Refit, **query: Any) -> Any:
    return signed_in(refit).get(reverse("desk:packages", args=[refit.slug]), query)


def _titles(answer: Any) -> list[str]:
    return [row.package.title for group in answer.context["groups"] for row in group.rows]


def test_packages_stand_under_how_far_they_are() -> None:
    refit = a_refit()
    now = timezone.now()
    a_package(refit, title="Later")
    a_package(refit, title="Going", started_at=now - timedelta(days=1))
    a_package(refit, title="Done", started_at=now - timedelta(9), finished_at=now - timedelta(8))
    replan(refit=refit, now=now)
    groups = {g.title: [r.package.title for r in g.rows] for g in _list(refit).context["groups"]}
    assert groups["Under way"] == ["Going"]
    assert groups["Finished"] == ["Done"]
    assert ["Later"] in groups.values()


def test_packages_come_in_the_order_of_their_dates() -> None:
    refit = a_refit()
    last, first = (
        a_package(refit, code="A", title="Last"),
        a_package(refit, code="B", title="First"),
    )
    a_dependency(first, last)
    replan(refit=refit, now=timezone.now())
    assert _titles(_list(refit)) == ["First", "Last"]


def test_a_package_that_was_never_planned_is_listed_too() -> None:
    refit = a_refit()
    a_package(refit, title="New")
    answer = _list(refit)
    assert answer.context["groups"][0].title == "Without a date"


def test_the_list_is_filtered() -> None:
    refit = a_refit()
    vendor, shed, loft = a_vendor(refit), a_place(refit), a_place(refit)
    a_package(refit, code="C1", title="Pattern", vendor=vendor, place=loft)
    a_package(refit, code="H1", title="Sand", place=shed)
    a_package(refit, code="H2", title="Polish", place=shed, started_at=timezone.now())
    assert _titles(_list(refit, text="pol")) == ["Polish"]
    assert _titles(_list(refit, text="c1")) == ["Pattern"]
    assert _titles(_list(refit, who=vendor.pk)) == ["Pattern"]
    assert _titles(_list(refit, who="crew", state="to come")) == ["Sand"]
    assert _titles(_list(refit, place=loft.pk)) == ["Pattern"]
    assert _titles(_list(refit, state="under way")) == ["Polish"]
    assert _titles(_list(refit, text="nothing like it")) == []


def test_a_filter_nobody_knows_is_left_out() -> None:
    refit = a_refit()
    a_package(refit, title="Sand")
    assert _titles(_list(refit, who="x", place="99999", state="?")) == ["Sand"]


def test_each_date_says_why_it_is_on_that_day() -> None:
    refit = a_refit()
    first, then = a_package(refit, code="A1", title="Drill"), a_package(refit, code="A2")
    a_dependency(first, then, reason="holes before the coat")
    replan(refit=refit, now=timezone.now())
    page = _list(refit).content.decode()
    assert "It waits for A1 Drill: it ends" in page
    one = signed_in(refit).get(reverse("desk:package", args=[refit.slug, then.pk]))
    assert "It waits for A1 Drill: it ends" in one.content.decode()
    assert "holes before the coat" in one.content.decode()


def test_an_empty_list_says_what_a_package_is() -> None:
    assert "A package is one job" in _list(a_refit()).content.decode()


def test_a_package_of_another_refit_has_no_page_here() -> None:
    refit, foreign = a_refit(), a_package(a_refit())
    url = reverse("desk:package", args=[refit.slug, foreign.pk])
    assert signed_in(refit).get(url).status_code == 404


def test_the_lists_are_only_for_reading() -> None:
    refit = a_refit()
    package = a_package(refit)
    client = signed_in(refit)
    assert client.post(reverse("desk:packages", args=[refit.slug])).status_code == 405
    url = reverse("desk:package", args=[refit.slug, package.pk])
    assert client.post(url).status_code == 405


def test_titles_are_escaped() -> None:
    refit = a_refit()
    a_package(refit, title="<script>alert(1)</script>")
    assert "<script>alert" not in _list(refit).content.decode()


def test_the_page_leads_back_through_what_is_behind_the_date() -> None:
    refit = a_refit()
    first, second, third = (a_package(refit, code=code, title=code * 3) for code in "ABC")
    a_dependency(first, second)
    a_dependency(second, third)
    replan(refit=refit, now=timezone.now())
    url = reverse("desk:package", args=[refit.slug, third.pk])
    chain = signed_in(refit).get(url).context["chain"]
    assert [row.package for row in chain] == [second, first]

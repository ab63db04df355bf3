"""What a package waits for: adding, changing, ending."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from refit.work.models import Dependency, Refit, WorkPackage
from tests.builders import a_dependency, a_package, a_refit

from .people import (
    as_sent,
    check_crew_may_not,
    check_get_changes_nothing,
    check_only_members_post,
    errors_at,
    signed_in,
)

pytestmark = pytest.mark.django_db


def _url(package: WorkPackage) -> str:
    return reverse("desk:package-link", args=[package.refit.slug, package.pk])


def _data(before: WorkPackage, **changes: Any) -> dict[str, Any]:
    data = {
        "before": before.pk,
        "relation": "finish-to-start",
        "lag_in": "elapsed",
        "reason": "holes before the coat",
    }
    return data | changes


def _two(refit: Refit) -> tuple[WorkPackage, WorkPackage]:
    return a_package(refit, code="A1", title="Drill"), a_package(refit, code="A2", title="Coat")


def test_a_dependency_is_added_with_its_lags_and_reason() -> None:
    refit = a_refit()
    drill, coat = _two(refit)
    client = signed_in(refit)
    answer = client.post(_url(coat), _data(drill, min_lag="24 h", max_lag="3 d"))
    assert answer.status_code == 302
    link = Dependency.objects.get()
    assert (link.before, link.after, link.reason) == (drill, coat, "holes before the coat")
    assert (link.min_lag_minutes, link.max_lag_minutes) == (1440, 4320)
    page = client.get(reverse("desk:package", args=[refit.slug, coat.pk])).content.decode()
    assert "at least 24 h later, at most 3 days later: holes before the coat" in page


def test_with_htmx_the_section_comes_back_with_what_happened() -> None:
    refit = a_refit()
    drill, coat = _two(refit)
    answer = signed_in(refit).post(_url(coat), _data(drill), headers={"HX-Request": "true"})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert page.lstrip().startswith('<section id="waits"')
    assert "A2 waits for A1 Drill." in page
    assert "<html" not in page


def test_a_working_lag_counts_days_of_work() -> None:
    refit = a_refit()
    drill, coat = _two(refit)
    signed_in(refit).post(_url(coat), _data(drill, lag_in="working", min_lag="-1 d"))
    assert Dependency.objects.get().min_lag_minutes == -480


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("before", "", "required"),
        ("reason", "", "required"),
        ("relation", "whenever", "not one of the available choices"),
        ("min_lag", "3", "Write it with a unit"),
        ("max_lag", "x", "not a duration"),
    ],
)
@pytest.mark.parametrize("htmx", [False, True])
def test_a_wrong_value_is_named_at_its_field(field: str, value: str, said: str, htmx: bool) -> None:
    refit = a_refit()
    drill, coat = _two(refit)
    headers = {"HX-Request": "true"} if htmx else {}
    data = _data(drill) | {field: value}
    answer = signed_in(refit).post(_url(coat), data, headers=headers)
    assert said in errors_at(answer, field, "link_form")
    assert not Dependency.objects.exists()


def test_the_longest_wait_cannot_be_shorter_than_the_shortest() -> None:
    refit = a_refit()
    drill, coat = _two(refit)
    answer = signed_in(refit).post(_url(coat), _data(drill, min_lag="2 d", max_lag="1 d"))
    assert "must not be shorter" in errors_at(answer, "max_lag", "link_form")


def test_a_ring_is_refused_and_named_by_its_packages() -> None:
    refit = a_refit()
    drill, coat = _two(refit)
    fit = a_package(refit, code="A3", title="Fit")
    a_dependency(drill, coat)
    a_dependency(coat, fit)
    answer = signed_in(refit).post(_url(drill), _data(fit))
    said = errors_at(answer, "before", "link_form")
    assert "A1 Drill → A2 Coat → A3 Fit → A1 Drill" in said
    assert Dependency.objects.count() == 2


def test_a_package_cannot_wait_for_itself() -> None:
    refit = a_refit()
    _, coat = _two(refit)
    answer = signed_in(refit).post(_url(coat), _data(coat))
    assert errors_at(answer, "before", "link_form")


def test_waiting_twice_in_the_same_way_is_refused() -> None:
    refit = a_refit()
    drill, coat = _two(refit)
    client = signed_in(refit)
    client.post(_url(coat), _data(drill))
    answer = client.post(_url(coat), _data(drill))
    assert "in this way already" in errors_at(answer, "before", "link_form")
    assert Dependency.objects.count() == 1


def test_packages_of_another_refit_cannot_be_waited_for() -> None:
    refit = a_refit()
    _, coat = _two(refit)
    foreign = a_package(a_refit())
    assert errors_at(signed_in(refit).post(_url(coat), _data(foreign)), "before", "link_form")


def test_only_managers_link() -> None:
    refit = a_refit()
    drill, coat = _two(refit)
    check_only_members_post(refit, _url(coat), _data(drill))
    check_crew_may_not(refit, _url(coat), _data(drill))
    check_get_changes_nothing(refit, _url(coat))
    assert not Dependency.objects.exists()


def test_a_dependency_is_changed_on_its_own_page() -> None:
    refit = a_refit()
    drill, coat = _two(refit)
    link = a_dependency(drill, coat, min_lag_minutes=60)
    url = reverse("desk:link-edit", args=[refit.slug, coat.pk, link.pk])
    client = signed_in(refit)
    sent = as_sent(client.get(url).context["form"])
    assert sent["min_lag"] == "1 h"
    assert client.post(url, sent | {"min_lag": "2 h"}).status_code == 302
    link.refresh_from_db()
    assert link.min_lag_minutes == 120


def test_a_dependency_ends_once() -> None:
    refit = a_refit()
    drill, coat = _two(refit)
    link = a_dependency(drill, coat)
    url = reverse("desk:package-unlink", args=[refit.slug, coat.pk, link.pk])
    check_only_members_post(refit, url)
    check_get_changes_nothing(refit, url)
    client = signed_in(refit)
    answer = client.post(url, follow=True)
    assert "A2 no longer waits for A1 Drill." in answer.content.decode()
    assert not Dependency.objects.exists()
    assert client.post(url).status_code == 404

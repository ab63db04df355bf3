"""A longest wait that is not kept: two buttons where it is told, then compared and applied."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from refit.planning.models import WhatIf
from refit.planning.services import replan
from refit.work.models import Booking, Refit, WorkPackage
from tests.builders import a_dependency, a_package, a_place, a_refit, a_vendor

from .people import check_crew_may_not, check_only_members_post, signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def refit() -> Refit:
    """A coat booked for a Friday to come, to be recoated within 24 h (see planning)."""
    refit = a_refit(time_zone="UTC")
    booth = a_place(refit, name="Booth", vendor=a_vendor(refit, name="Coater Hollin"))
    coat = a_package(refit, code="C1", title="Coat", place=booth, vendor=booth.vendor)
    recoat = a_package(
        refit, code="C2", title="Recoat", place=booth, vendor=booth.vendor, unbroken=True
    )
    today = timezone.now().date()
    friday = today + timedelta(days=(4 - today.weekday()) % 7 + 7)
    at = datetime(friday.year, friday.month, friday.day, 8, tzinfo=UTC)
    Booking.objects.create(package=coat, at=at)
    a_dependency(coat, recoat, max_lag_minutes=24 * 60)
    replan(refit=refit, now=timezone.now() - timedelta(minutes=2))
    return refit


def _mend(refit: Refit, remedy: str) -> str:
    return reverse("desk:whatif-mend", args=[refit.slug, remedy])


@pytest.mark.parametrize("page", ["today", "C1", "C2"])
def test_both_remedies_stand_where_the_wait_is_told(refit: Refit, page: str) -> None:
    url = reverse("desk:today", args=[refit.slug])
    if page != "today":
        pk = WorkPackage.objects.get(code=page).pk
        url = reverse("desk:package", args=[refit.slug, pk])
    shown = signed_in(refit).get(url).content.decode()
    assert "40 h too late" in shown
    assert _mend(refit, "later") in shown
    assert _mend(refit, "between") in shown


@pytest.mark.parametrize("remedy", ["later", "between"])
def test_it_is_compared_then_applied_and_the_wait_is_kept(refit: Refit, remedy: str) -> None:
    client = signed_in(refit)
    answer = client.post(_mend(refit, remedy), {"before": "C1", "after": "C2"}, follow=True)
    assert answer.context["outcome"] is not None
    assert WorkPackage.objects.count() == 2, "nothing is changed yet"
    client.post(
        reverse("desk:whatif-apply", args=[refit.slug]), {"version": answer.context["version"]}
    )
    # On a busy machine the page leaves planning to the worker, which does not run here.
    plan = replan(refit=Refit.objects.get(), now=timezone.now())
    assert plan is not None
    assert plan.shortfalls == []
    today = client.get(reverse("desk:today", args=[refit.slug])).content.decode()
    assert _mend(refit, "later") not in today


def test_a_wait_that_nobody_misses_is_answered_in_words(refit: Refit) -> None:
    client = signed_in(refit)
    answer = client.post(_mend(refit, "later"), {"before": "C2", "after": "C1"}, follow=True)
    assert "there is nothing to mend" in answer.content.decode()
    assert not WhatIf.objects.exists()
    assert client.post(_mend(refit, "other")).status_code == 404


def test_crew_and_strangers_may_not(refit: Refit) -> None:
    check_crew_may_not(refit, _mend(refit, "later"))
    check_only_members_post(refit, _mend(refit, "later"))

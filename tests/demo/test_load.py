"""Loading the demo: once, with links that are new each time."""

from __future__ import annotations

from datetime import timedelta

import pytest

from refit.accounts.models import PrivateLink, User
from refit.demo.load import MANAGER_EMAIL, SLUG, load_demo
from refit.planning.models import Plan
from refit.trips.models import Load
from refit.work.models import Refit
from tests.builders import NOW

pytestmark = pytest.mark.django_db


def test_the_demo_is_loaded_with_a_plan_and_a_manager_who_can_sign_in() -> None:
    access = load_demo(now=NOW)

    refit = Refit.objects.get(slug=SLUG)
    plan = Plan.objects.current(refit)
    assert plan is not None
    assert plan.packages.count() == refit.packages.filter(is_agreed=True).count()
    assert access.manager_password is not None
    assert User.objects.get(email=MANAGER_EMAIL).check_password(access.manager_password)


def test_a_second_start_loads_nothing_again_and_gives_new_links() -> None:
    first = load_demo(now=NOW)
    second = load_demo(now=NOW + timedelta(hours=1))

    assert Refit.objects.count() == 1
    assert second.manager_password is None
    assert second.owner_link != first.owner_link
    for link, live in ((first.owner_link, False), (second.owner_link, True)):
        found = PrivateLink.objects.for_token(link.rsplit("/", 1)[1])
        assert found is not None
        assert found.is_live(NOW + timedelta(hours=1)) is live


@pytest.mark.parametrize("days", [0, 1, 2, 5])
def test_no_trip_of_the_demo_comes_late_for_the_plan(days: int) -> None:
    load_demo(now=NOW + timedelta(days=days))

    assert Load.objects.exists()
    assert [str(load) for load in Load.objects.filter(late=True)] == []
    tows = Load.objects.filter(handoff__piece__is_boat=True).values_list("trip__tows", flat=True)
    assert list(tows)
    assert all(tows)

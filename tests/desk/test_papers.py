"""Papers of a vendor: noted, changed, removed; where their end is told."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from refit.planning.services import replan
from refit.work.models import Paper, Vendor
from refit.work.services import undo_entry
from tests.builders import A_MANAGER, a_refit, a_vendor
from tests.custody.scene import a_scene

from .people import as_sent, check_crew_may_not, check_only_members_post, errors_at, signed_in

pytestmark = pytest.mark.django_db
GOOD = {"kind": "liability", "issuer": "Kelpmouth Mutual", "number": "KM-1", "covers": "2000000",
        "valid_until": "2027-03-31"}  # fmt: skip


def add_page(vendor: Vendor) -> str:
    return reverse("desk:paper-add", args=[vendor.refit.slug, vendor.pk])


def test_a_paper_is_noted_and_stands_on_the_page_of_its_vendor() -> None:
    vendor = a_vendor(a_refit())
    client = signed_in(vendor.refit)
    answer = client.post(add_page(vendor), GOOD, follow=True)
    paper = Paper.objects.get()
    assert (paper.vendor, paper.covers, paper.refit) == (vendor, Decimal(2000000), vendor.refit)
    page = answer.content.decode()
    assert "Kelpmouth Mutual KM-1" in page
    assert "up to 2,000,000 EUR" in page


def test_it_does_not_make_the_plan_stale_and_can_be_taken_back() -> None:
    vendor = a_vendor(a_refit())
    client = signed_in(vendor.refit)
    version = vendor.refit.version
    client.post(add_page(vendor), GOOD)
    paper = Paper.objects.get()
    url = reverse("desk:paper-edit", args=[vendor.refit.slug, paper.pk])
    sent = as_sent(client.get(url).context["form"])
    assert client.post(url, sent | {"number": "KM-2"}).status_code == 302
    paper.refresh_from_db()
    assert paper.number == "KM-2"
    entry = vendor.refit.journal.filter(verb="changed").get()
    undo_entry(entry=entry, actor=A_MANAGER, now=timezone.now())
    paper.refresh_from_db()
    vendor.refit.refresh_from_db()
    assert (paper.number, vendor.refit.version) == ("KM-1", version)


@pytest.mark.parametrize(
    ("change", "field", "sentence"),
    [
        ({"valid_from": "2027-04-01"}, "valid_until", "must not come before the first"),
        ({"valid_until": "soon"}, "valid_until", "Give a day"),
        ({"kind": ""}, "kind", "required"),
        ({"covers": "-5"}, "covers", "greater than or equal to 0"),
    ],
)
def test_what_cannot_be_true_is_said_at_its_field(
    change: dict[str, str], field: str, sentence: str
) -> None:
    vendor = a_vendor(a_refit())
    answer = signed_in(vendor.refit).post(add_page(vendor), GOOD | change)
    assert sentence in errors_at(answer, field)
    assert not Paper.objects.exists()


def test_the_same_paper_twice_is_refused() -> None:
    vendor = a_vendor(a_refit())
    client = signed_in(vendor.refit)
    client.post(add_page(vendor), GOOD)
    answer = client.post(add_page(vendor), GOOD)
    assert "noted already" in errors_at(answer, "number")
    assert Paper.objects.count() == 1


def test_only_the_manager_of_the_refit_writes_it() -> None:
    vendor = a_vendor(a_refit())
    check_only_members_post(vendor.refit, add_page(vendor), GOOD)
    check_crew_may_not(vendor.refit, add_page(vendor), GOOD)
    theirs = reverse("desk:paper-add", args=[a_refit().slug, vendor.pk])
    assert signed_in(a_refit()).post(theirs, GOOD).status_code == 404
    assert not Paper.objects.exists()


def test_removing_asks_first() -> None:
    vendor = a_vendor(a_refit())
    paper = Paper.objects.create(refit=vendor.refit, vendor=vendor, kind="other")
    client = signed_in(vendor.refit)
    url = reverse("desk:paper-remove", args=[vendor.refit.slug, paper.pk])
    assert "gone for good" in client.get(url).content.decode()
    client.post(url)
    assert not Paper.objects.exists()


def test_a_cover_that_ends_too_early_is_told_today_at_the_piece_the_handoff_and_the_vendor() -> (
    None
):
    now = timezone.now()
    scene = a_scene(now=now)
    scene.handoff.due_at = now + timedelta(days=9)
    scene.handoff.save()
    refit = scene.refit
    Paper.objects.create(
        refit=refit, vendor=scene.vendor, kind="customers' property",
        valid_until=refit.today(now) + timedelta(days=4),
    )  # fmt: skip
    assert replan(refit=refit, now=now) is not None
    client = signed_in(refit)
    for name, args in (
        ("today", []),
        ("piece", [scene.frame.pk]),
        ("handoff", [scene.handoff.pk]),
        ("vendor", [scene.vendor.pk]),
    ):
        page = client.get(reverse(f"desk:{name}", args=[refit.slug, *args])).content.decode()
        assert "The cover for customers&#x27; property of Eiderholm Coatings ends on" in page, name
        assert "before Top frame is due back on" in page, name
    answer = client.get(reverse("desk:handoff", args=[refit.slug, scene.handoff.pk]))
    assert "No liability insurance of Eiderholm Coatings is noted." in answer.content.decode()

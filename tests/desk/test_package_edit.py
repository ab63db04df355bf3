"""Editing and removing a package, also when two do it at once."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from refit.work.models import Booking, JournalEntry, Refit, WorkPackage
from tests.builders import a_dependency, a_package, a_piece, a_place, a_refit, a_vendor, a_zone

from .people import as_sent, check_crew_may_not, check_only_members_post, errors_at, signed_in

pytestmark = pytest.mark.django_db


def _url(package: WorkPackage, act: str = "edit") -> str:
    return reverse(f"desk:package-{act}", args=[package.refit.slug, package.pk])


def _minute(days: int) -> datetime:
    """In so many days, to the full minute: forms know no seconds."""
    return (timezone.now() + timedelta(days=days)).replace(second=0, microsecond=0)


def _full_package(refit: Refit) -> WorkPackage:
    package = a_package(
        refit, minutes=605, pieces=[a_piece(refit)], hold_minutes=2161, budget="12.50",
        vendor=a_vendor(refit), deadline=_minute(50),
    )  # fmt: skip
    package.zones.add(a_zone(refit))
    Booking.objects.create(package=package, at=_minute(9), note="by phone")
    return WorkPackage.objects.get()


def test_sending_the_form_back_as_it_was_changes_nothing() -> None:
    refit = a_refit(time_zone="UTC")
    package = _full_package(refit)
    client = signed_in(refit)
    answer = client.post(_url(package), as_sent(client.get(_url(package)).context["form"]))
    assert answer.status_code == 302
    assert not JournalEntry.objects.exists()
    refit.refresh_from_db()
    assert refit.version == 1


def test_a_change_is_stored_told_and_in_the_journal() -> None:
    refit = a_refit()
    package = _full_package(refit)
    client = signed_in(refit)
    sent = as_sent(client.get(_url(package)).context["form"])
    answer = client.post(_url(package), sent | {"likely_minutes": "2 d", "high_minutes": "4 d"})
    page = client.get(answer["Location"]).content.decode()
    assert "Saved. Launch" in page
    entry = JournalEntry.objects.get()
    assert entry.before == {"likely_minutes": 605, "high_minutes": 605}
    assert entry.after == {"likely_minutes": 960, "high_minutes": 1920}


def test_a_form_that_somebody_else_overtook_comes_back_with_the_difference() -> None:
    refit = a_refit()
    package = a_package(refit, title="Sand", minutes=480)
    client = signed_in(refit)
    sent = as_sent(client.get(_url(package)).context["form"]) | {"title": "Sand twice"}
    WorkPackage.objects.update(title="Sand by hand")
    answer = client.post(_url(package), sent)
    assert "Somebody changed this" in errors_at(answer, None)
    page = answer.content.decode()
    for said in ("Sand", "Sand by hand", "Sand twice"):
        assert said in page
    package.refresh_from_db()
    assert package.title == "Sand by hand"
    assert not JournalEntry.objects.exists()
    again = client.post(_url(package), as_sent(answer.context["form"]))
    assert again.status_code == 302
    package.refresh_from_db()
    assert package.title == "Sand twice"


def test_a_change_to_pieces_by_somebody_else_is_noticed_too() -> None:
    refit = a_refit()
    piece = a_piece(refit, name="Top frame", tag="ST-02")
    package = a_package(refit)
    client = signed_in(refit)
    sent = as_sent(client.get(_url(package)).context["form"])
    package.piece_uses.create(piece=piece)
    answer = client.post(_url(package), sent)
    assert "Top frame (ST-02) (works on it)" in answer.content.decode()
    assert package.piece_uses.count() == 1


def test_a_form_without_its_memory_is_not_stored() -> None:
    refit = a_refit()
    package = a_package(refit, title="Sand")
    client = signed_in(refit)
    sent = as_sent(client.get(_url(package)).context["form"]) | {"title": "x", "opened": "forged"}
    assert "Open it again" in errors_at(client.post(_url(package), sent), None)
    package.refresh_from_db()
    assert package.title == "Sand"


def test_saving_twice_is_one_change() -> None:
    refit = a_refit()
    package = a_package(refit)
    client = signed_in(refit)
    for _ in range(2):
        sent = as_sent(client.get(_url(package)).context["form"]) | {"title": "Sand twice"}
        client.post(_url(package), sent)
    assert JournalEntry.objects.filter(verb="changed").count() == 1


def test_a_package_of_another_refit_is_not_there() -> None:
    refit, package = a_refit(), a_package(a_refit())
    client = signed_in(refit)
    for act in ("edit", "remove"):
        url = reverse(f"desk:package-{act}", args=[refit.slug, package.pk])
        assert client.get(url).status_code == 404
        assert client.post(url).status_code == 404


def test_only_managers_edit_and_remove() -> None:
    refit = a_refit()
    package = a_package(refit)
    for act in ("edit", "remove"):
        check_only_members_post(refit, _url(package, act))
        check_crew_may_not(refit, _url(package, act))
    assert WorkPackage.objects.exists()


def test_removing_asks_first_and_takes_the_dependencies_along() -> None:
    refit = a_refit()
    place = a_place(refit)
    package, other = a_package(refit, place=place), a_package(refit, place=place)
    a_dependency(package, other)
    client = signed_in(refit)
    assert "Remove" in client.get(_url(package, "remove")).content.decode()
    assert WorkPackage.objects.count() == 2
    answer = client.post(_url(package, "remove"))
    assert answer["Location"] == reverse("desk:packages", args=[refit.slug])
    assert not refit.dependencies.exists()
    assert client.post(_url(package, "remove")).status_code == 404


def _undo(entry: JournalEntry) -> str:
    return reverse("desk:undo", args=[entry.refit.slug, entry.pk])


def test_the_last_change_can_be_taken_back_on_the_page() -> None:
    refit = a_refit()
    package = a_package(refit, title="Sand")
    client = signed_in(refit)
    sent: dict[str, Any] = as_sent(client.get(_url(package)).context["form"])
    client.post(_url(package), sent | {"title": "Sand twice"})
    entry = JournalEntry.objects.get()
    page = client.get(reverse("desk:package", args=[refit.slug, package.pk])).content.decode()
    assert _undo(entry) in page
    client.post(_undo(entry), {"next": "package"})
    package.refresh_from_db()
    assert package.title == "Sand"
    answer = client.post(_undo(entry), {"next": "package"}, follow=True)
    assert "has been changed again since" in answer.content.decode()

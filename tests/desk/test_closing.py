"""Closing a refit, opening it again, and what becomes of the private links."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from refit.accounts.models import LinkKind, PrivateLink
from refit.interchange.document import check_document
from refit.interchange.export import export_refit
from refit.interchange.store import import_document
from refit.work.models import THE_SOFTWARE, JournalEntry, Refit
from tests.builders import a_link, a_refit

from .people import check_crew_may_not, check_only_members_post, signed_in

pytestmark = pytest.mark.django_db


def _close(refit: Refit, day: object) -> str:
    answer = signed_in(refit).post(
        f"/r/{refit.slug}/settings/close/", {"closed_on": str(day)}, follow=True
    )
    refit.refresh_from_db()
    return str(answer.content.decode())


def test_closing_is_told_written_down_and_taken_back() -> None:
    now = timezone.now()
    refit = a_refit(start=(now - timedelta(days=90)).date())
    version = refit.version
    assert "This refit is closed since" in _close(refit, refit.today(now))
    assert refit.closed_at is not None
    assert abs(refit.closed_at - now) < timedelta(minutes=1)
    assert refit.version == version
    assert "closed already" in _close(refit, refit.today(now))
    page = signed_in(refit).post(f"/r/{refit.slug}/settings/open-again/", follow=True)
    assert "It is open again." in page.content.decode()
    refit.refresh_from_db()
    assert refit.closed_at is None
    assert refit.version == version + 1
    verbs = [entry.verb for entry in JournalEntry.objects.order_by("id")]
    assert verbs == ["closed", "opened again"]
    closed = JournalEntry.objects.order_by("id")[0]
    assert closed.before == {"closed_at": None}
    assert closed.after["closed_at"]


def test_a_day_to_come_or_before_the_first_gets_a_sentence() -> None:
    now = timezone.now()
    refit = a_refit(start=(now - timedelta(days=9)).date())
    assert "still to come" in _close(refit, refit.today(now) + timedelta(days=1))
    assert "began only on" in _close(refit, refit.start - timedelta(days=1))
    assert "errorlist" in _close(refit, "soon")
    assert refit.closed_at is None


def test_only_managers_close() -> None:
    refit = a_refit()
    for act in ("close", "open-again"):
        url = f"/r/{refit.slug}/settings/{act}/"
        check_only_members_post(refit, url, {"closed_on": str(refit.today(timezone.now()))})
        check_crew_may_not(refit, url, {"closed_on": str(refit.today(timezone.now()))})


@pytest.mark.parametrize(("days", "opens"), [(59, True), (61, False)])
def test_links_end_sixty_days_after_the_close_out_like_any_that_ended(
    days: int, opens: bool
) -> None:
    now = timezone.now()
    refit = a_refit()
    link, token = a_link(refit, now=now - timedelta(days=100))
    _, calendar = a_link(refit, LinkKind.OWNER_FEED, now=now - timedelta(days=100))
    Refit.objects.update(closed_at=now - timedelta(days=days))
    link = PrivateLink.objects.for_token(token) or link
    assert link.is_live(now) is opens
    assert PrivateLink.objects.live(now).filter(pk=link.pk).exists() is opens
    answer = Client().get(f"/p/in/{token}")
    assert answer.status_code == (302 if opens else 404)
    if not opens:
        assert "the link has ended" in answer.content.decode()
    feed = Client().get(f"/calendar/{calendar}.ics").content.decode()
    assert ("This calendar is closed" not in feed) is opens


def test_a_link_given_after_the_close_out_counts_from_then() -> None:
    now = timezone.now()
    refit = a_refit()
    Refit.objects.update(closed_at=now - timedelta(days=300))
    _, token = a_link(refit, now=now - timedelta(days=59))
    assert Client().get(f"/p/in/{token}").status_code == 302
    Refit.objects.update(link_days=58)
    assert Client().get(f"/p/in/{token}").status_code == 404


def test_the_manager_sees_when_links_end() -> None:
    now = timezone.now()
    refit = a_refit()
    a_link(refit, now=now - timedelta(days=100))
    Refit.objects.update(closed_at=now - timedelta(days=1), link_days=0)
    page = signed_in(refit).get(f"/r/{refit.slug}/links/").content.decode()
    assert "None is out." in page
    Refit.objects.update(link_days=30)
    page = signed_in(refit).get(f"/r/{refit.slug}/links/").content.decode()
    assert "Links end 30 days after the close-out" in page
    assert "Ends " in page


def test_the_document_keeps_both() -> None:
    now = timezone.now()
    refit = a_refit(closed_at=now, link_days=14, time_zone="Europe/Lisbon")
    document = export_refit(refit)
    assert document["refit"]["link_days"] == 14
    again = import_document(check_document(document), actor=THE_SOFTWARE, now=now)
    assert (again.closed_at, again.link_days) == (now, 14)

"""Private links: given out, shown once, replaced, taken back."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from refit.accounts.models import LinkKind, PrivateLink
from refit.work.models import JournalEntry, Refit
from tests.builders import a_crew_member, a_place, a_refit, a_vendor

from .people import (
    check_crew_may_not,
    check_get_changes_nothing,
    check_only_members_post,
    signed_in,
)

pytestmark = pytest.mark.django_db


def _url(refit: Refit, name: str = "link-issue") -> str:
    return reverse(f"desk:{name}", args=[refit.slug])


def _made(answer: Any) -> str:
    made: str = answer.context["made"].just_made
    return made


@pytest.mark.parametrize("kind", LinkKind)
def test_a_link_is_made_shown_once_and_opens_what_it_says(kind: LinkKind) -> None:
    refit = a_refit()
    data = {
        "kind": kind.value,
        "vendor": a_vendor(refit).pk,
        "crew_member": a_crew_member(refit).pk,
        "place": a_place(refit).pk,
    }
    client = signed_in(refit)
    answer = client.post(_url(refit), data)
    address = _made(answer)
    assert answer.status_code == 200
    assert address in answer.content.decode()
    subscribes = f'href="webcal:{address.partition(":")[2]}"'
    assert (subscribes in answer.content.decode()) is address.endswith(".ics")
    token = address.rsplit("/", 1)[1].removesuffix(".ics")
    link = PrivateLink.objects.for_token(token)
    assert link is not None
    assert (link.kind, link.refit) == (kind, refit)
    opened = Client().get(urlsplit(address).path, follow=True)
    assert opened.status_code == 200
    assert "Sallow Tern" in opened.content.decode()
    assert address not in client.get(_url(refit, "links")).content.decode()
    assert token not in str(list(JournalEntry.objects.values()))


def test_replacing_ends_the_old_link_at_once() -> None:
    refit = a_refit()
    client = signed_in(refit)
    client.post(_url(refit), {"kind": "owner"})
    client.post(_url(refit), {"kind": "owner"})
    assert PrivateLink.objects.count() == 2
    assert PrivateLink.objects.live(timezone.now()).count() == 1


def test_a_link_of_one_vendor_leaves_that_of_another_alone() -> None:
    refit = a_refit()
    client = signed_in(refit)
    one, other = a_vendor(refit), a_vendor(refit)
    for vendor in (one, other):
        client.post(_url(refit), {"kind": "vendor", "vendor": vendor.pk})
    client.post(_url(refit, "link-revoke"), {"kind": "vendor", "vendor": one.pk})
    assert [link.vendor for link in PrivateLink.objects.live(timezone.now())] == [other]


def test_taking_back_twice_is_told() -> None:
    refit = a_refit()
    client = signed_in(refit)
    client.post(_url(refit), {"kind": "owner-feed"})
    for said in ("opens nothing any more", "had ended already"):
        answer = client.post(_url(refit, "link-revoke"), {"kind": "owner-feed"}, follow=True)
        assert said in answer.content.decode()


def test_links_are_in_the_journal_and_do_not_touch_the_plan() -> None:
    refit = a_refit()
    client = signed_in(refit)
    client.post(_url(refit), {"kind": "owner"})
    client.post(_url(refit, "link-revoke"), {"kind": "owner"})
    assert [entry.verb for entry in JournalEntry.objects.order_by("id")] == [
        "gave out",
        "took back",
    ]
    refit.refresh_from_db()
    assert refit.version == 1


@pytest.mark.parametrize(
    "data", [{}, {"kind": "spy"}, {"kind": "vendor"}, {"kind": "vendor", "vendor": "x"}]
)
def test_a_link_for_nobody_is_not_there(data: dict[str, str]) -> None:
    refit = a_refit()
    client = signed_in(refit)
    assert client.post(_url(refit), data).status_code == 404
    assert client.post(_url(refit, "link-revoke"), data).status_code == 404
    assert not PrivateLink.objects.exists()


def test_a_vendor_of_another_refit_gets_none() -> None:
    refit, foreign = a_refit(), a_vendor(a_refit())
    data = {"kind": "vendor", "vendor": foreign.pk}
    assert signed_in(refit).post(_url(refit), data).status_code == 404


def test_only_managers_give_out_links() -> None:
    refit = a_refit()
    for name in ("link-issue", "link-revoke"):
        check_only_members_post(refit, _url(refit, name), {"kind": "owner"})
        check_crew_may_not(refit, _url(refit, name), {"kind": "owner"})
        check_get_changes_nothing(refit, _url(refit, name))
    assert not PrivateLink.objects.exists()

"""A code as well: asked for after the link, mailed on a button, good once and for a short while."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.core import mail
from django.test import Client
from django.utils import timezone

from refit.accounts.link_codes import CODES_AN_HOUR, GOOD_FOR, TRIES, make_code, take_code
from refit.accounts.models import LinkCode, LinkKind, PrivateLink
from refit.work.models import JournalEntry
from tests.builders import NOW, a_link, a_refit, a_vendor
from tests.desk.people import signed_in
from tests.portal.stage import dump

pytestmark = pytest.mark.django_db


def a_coded_link() -> tuple[PrivateLink, str]:
    refit = a_refit()
    vendor = a_vendor(refit, name="Scoter Coating Works", email="shop@scoter.example")
    return a_link(refit, LinkKind.VENDOR, vendor, now=timezone.now(), asks_code=True)


def mailed_code() -> str:
    (code,) = re.findall(r"^    (\d{6})$", str(mail.outbox[-1].body), re.M)
    return str(code)


def test_the_link_alone_leads_to_the_question_and_the_code_to_the_page() -> None:
    link, token = a_coded_link()
    client = Client()
    asks = f"/told/{link.public_id}/code"
    assert client.get(f"/p/in/{token}").headers["Location"] == asks
    assert client.get(f"/p/{link.public_id}/").status_code == 404
    page = client.get(asks).content.decode()
    assert "s…@scoter.example" in page
    assert "shop@" not in page
    said = client.post(f"{asks}/send", follow=True).content.decode()
    assert "on its way to s…@scoter.example" in said
    assert mail.outbox[0].to == ["shop@scoter.example"]
    assert mailed_code() not in mail.outbox[0].subject
    assert mailed_code() not in str(list(LinkCode.objects.values()))
    answer = client.post(asks, {"code": f" {mailed_code()[:3]} {mailed_code()[3:]} "})
    assert answer.headers["Location"] == f"/p/{link.public_id}/"
    assert client.get(f"/p/{link.public_id}/").status_code == 200
    # This browser is not asked again; another one is.
    assert client.get(f"/p/in/{token}").headers["Location"] == f"/p/{link.public_id}/"
    assert Client().get(f"/p/in/{token}").headers["Location"] == asks
    assert JournalEntry.objects.get().verb == "had a code sent for"


def test_looking_sends_nothing_and_changes_nothing() -> None:
    link, token = a_coded_link()
    client = Client()
    before = dump()
    client.get(f"/p/in/{token}")
    client.get(f"/told/{link.public_id}/code")
    client.head(f"/told/{link.public_id}/code")
    assert client.get(f"/told/{link.public_id}/code/send").status_code == 405
    assert dump() == before
    assert mail.outbox == []


def test_who_did_not_show_the_link_is_asked_nothing() -> None:
    link, _ = a_coded_link()
    code = make_code(link=link, now=timezone.now())
    client = Client()
    assert client.get(f"/told/{link.public_id}/code").status_code == 404
    assert client.post(f"/told/{link.public_id}/code", {"code": code}).status_code == 404
    assert client.post(f"/told/{link.public_id}/code/send").status_code == 404
    assert mail.outbox == []


def test_a_code_is_good_once() -> None:
    link, _ = a_coded_link()
    code = make_code(link=link, now=NOW)
    assert code is not None
    assert take_code(link=link, typed=code, now=NOW) == ""
    assert "has ended" in take_code(link=link, typed=code, now=NOW)


def test_a_code_ends_after_ten_minutes_and_with_the_next_one() -> None:
    link, _ = a_coded_link()
    code = make_code(link=link, now=NOW)
    assert code is not None
    assert "has ended" in take_code(link=link, typed=code, now=NOW + GOOD_FOR)
    newer = make_code(link=link, now=NOW)
    assert newer is not None
    if newer != code:
        assert "not the code" in take_code(link=link, typed=code, now=NOW)
    assert take_code(link=link, typed=newer, now=NOW) == ""


def test_after_five_wrong_tries_the_right_one_is_of_no_use() -> None:
    link, _ = a_coded_link()
    code = make_code(link=link, now=NOW)
    assert code is not None
    wrong = "000000" if code != "000000" else "111111"
    said = [take_code(link=link, typed=wrong, now=NOW) for _ in range(TRIES)]
    assert "five times" in said[-1]
    assert "has ended" in take_code(link=link, typed=code, now=NOW)


def test_five_codes_an_hour_and_no_more() -> None:
    link, token = a_coded_link()
    client = Client()
    client.get(f"/p/in/{token}")
    for _ in range(CODES_AN_HOUR + 1):
        said = client.post(f"/told/{link.public_id}/code/send", follow=True).content.decode()
    assert "within an hour" in said
    assert len(mail.outbox) == CODES_AN_HOUR
    assert make_code(link=link, now=timezone.now() + timedelta(minutes=61)) is not None


def test_a_code_of_one_link_opens_no_other() -> None:
    link, _ = a_coded_link()
    other, _ = a_coded_link()
    code = make_code(link=link, now=NOW)
    assert code is not None
    LinkCode.objects.update(link=other)
    assert "not the code" in take_code(link=other, typed=code, now=NOW)


def test_a_mail_that_cannot_be_sent_is_told_at_once(settings: object) -> None:
    settings.EMAIL_BACKEND = "nowhere.Backend"  # type: ignore[attr-defined]
    link, token = a_coded_link()
    client = Client()
    client.get(f"/p/in/{token}")
    said = client.post(f"/told/{link.public_id}/code/send", follow=True).content.decode()
    assert "could not be sent" in said


def test_the_manager_chooses_it_when_giving_the_link() -> None:
    refit = a_refit()
    vendor = a_vendor(refit, email="shop@scoter.example")
    client = signed_in(refit)
    data = {"kind": "vendor", "vendor": vendor.pk, "asks_code": "on"}
    page = client.post(f"/r/{refit.slug}/links/give/", data).content.decode()
    assert PrivateLink.objects.get().asks_code
    assert (
        "Asks for a mailed code as well" in client.get(f"/r/{refit.slug}/links/").content.decode()
    )
    assert "This is the link." in page
    client.post(f"/r/{refit.slug}/links/give/", {"kind": "vendor", "vendor": vendor.pk})
    assert not PrivateLink.objects.live(timezone.now()).get().asks_code


def test_without_an_address_it_cannot_be_chosen_and_the_old_link_stays() -> None:
    refit = a_refit()
    vendor = a_vendor(refit)
    client = signed_in(refit)
    client.post(f"/r/{refit.slug}/links/give/", {"kind": "vendor", "vendor": vendor.pk})
    data = {"kind": "vendor", "vendor": vendor.pk, "asks_code": "on"}
    page = client.post(f"/r/{refit.slug}/links/give/", data).content.decode()
    assert "no e-mail address" in page
    assert PrivateLink.objects.live(timezone.now()).count() == 1


def test_a_calendar_is_never_asked() -> None:
    refit = a_refit()
    with pytest.raises(ValueError, match="calendar program"):
        a_link(refit, LinkKind.OWNER_FEED, asks_code=True)
    signed_in(refit).post(f"/r/{refit.slug}/links/give/", {"kind": "owner-feed", "asks_code": "on"})
    assert not PrivateLink.objects.get().asks_code

"""The journal page and taking entries back from it."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from django.urls import reverse

from refit.custody.models import Handoff
from refit.work.models import Actor, JournalEntry, record
from refit.work.services import change_row
from tests.builders import A_MANAGER, NOW, a_package, a_piece, a_place, a_refit, a_vendor

from .people import (
    check_crew_may_not,
    check_get_changes_nothing,
    check_only_members_post,
    signed_in,
)

pytestmark = pytest.mark.django_db
WHO: Any = {"actor": A_MANAGER, "now": NOW}


def test_entries_are_said_in_words() -> None:
    refit = a_refit()
    old, new = a_vendor(refit, name="Skua Sails"), a_vendor(refit, name="Auk Canvas")
    package = a_package(refit, vendor=old, minutes=480)
    facts = {"vendor": new.pk, "high_minutes": 960, "budget": "640"}
    change_row(refit=refit, row=package, facts=facts, **WHO)
    page = signed_in(refit).get(reverse("desk:journal", args=[refit.slug])).content.decode()
    for said in ("Runa Ostlund", "Skua Sails → Auk Canvas", "1 day → 2 days", "nothing → 640 EUR"):
        assert said in page


def test_what_others_write_into_the_journal_is_shown_whatever_it_holds() -> None:
    refit = a_refit()
    piece = a_piece(refit)
    handoff = Handoff.objects.create(
        refit=refit, piece=piece, origin=a_place(refit), destination=a_place(refit)
    )
    strange: dict[str, Any] = {
        "state": "ready",
        "place": "Shed",
        "pictures": 1,
        "packages": {"1": {"a": None}},
    }
    record(refit=refit, verb="received", subject=handoff, before={}, after=strange, **WHO)
    record(refit=refit, verb="mused", subject_name="the weather", after={"x": [1, {"y": 2}]}, **WHO)
    record(refit=refit, verb="changed", subject=piece, before={"gone": 1}, after={"gone": 2}, **WHO)
    page = signed_in(refit).get(reverse("desk:journal", args=[refit.slug]))
    assert page.status_code == 200
    assert "the weather" in page.content.decode()


def _entry() -> JournalEntry:
    refit = a_refit()
    vendor = a_vendor(refit, phone="01632 960001")
    entry = change_row(refit=refit, row=vendor, facts={"phone": "01632 960002"}, **WHO)
    assert entry is not None
    return entry


def _undo(entry: JournalEntry) -> str:
    return reverse("desk:undo", args=[entry.refit.slug, entry.pk])


def test_an_entry_is_taken_back_once() -> None:
    entry = _entry()
    client = signed_in(entry.refit)
    assert "Taken back" in client.post(_undo(entry), follow=True).content.decode()
    assert entry.refit.vendors.get().phone == "01632 960001"
    assert "changed again since" in client.post(_undo(entry), follow=True).content.decode()
    assert JournalEntry.objects.filter(verb="undid").count() == 1


def test_only_managers_take_entries_back_and_only_their_own() -> None:
    entry = _entry()
    check_only_members_post(entry.refit, _undo(entry))
    check_crew_may_not(entry.refit, _undo(entry))
    check_get_changes_nothing(entry.refit, _undo(entry))
    other = a_refit()
    url = reverse("desk:undo", args=[other.slug, entry.pk])
    assert signed_in(other).post(url).status_code == 404
    assert entry.refit.vendors.get().phone == "01632 960002"


def test_a_long_journal_is_turned_by_pages() -> None:
    refit = a_refit()
    for number in range(70):
        record(refit=refit, verb="called", subject_name=f"shop {number}", **WHO)
    client = signed_in(refit)
    url = reverse("desk:journal", args=[refit.slug])
    first, second = client.get(url), client.get(url, {"page": "2"})
    assert "Earlier entries" in first.content.decode()
    assert len(second.context["lines"]) == 10
    assert client.get(url, {"page": "none"}).status_code == 200


def test_the_journal_is_filtered_by_person_kind_and_word_and_taken_out_as_a_table() -> None:
    refit = a_refit()
    piece, package = a_piece(refit, name="Bow rail"), a_package(refit, title="Sew the top")
    record(refit=refit, **WHO, verb="changed", subject=piece, before={"parts": 1},
           after={"parts": 2}, note="=HYPERLINK(1)")  # fmt: skip
    odd = Actor(name="Odd Brekke", side="crew")
    record(refit=refit, actor=odd, now=NOW, verb="started", subject=package)
    client = signed_in(refit)
    page = reverse("desk:journal", args=[refit.slug])
    for asked, there, gone in (
        ({"who": "Odd Brekke"}, str(package), "Bow rail"),
        ({"kind": "piece"}, "Bow rail", "Sew the top"),
        ({"text": "bow"}, "Bow rail", "Sew the top"),
        ({"text": "start", "who": "Odd Brekke"}, "Sew the top", "Bow rail"),
    ):
        shown = client.get(page, asked).content.decode()
        assert there in shown, asked
        assert gone not in shown.partition('class="log journal"')[2], asked
        rows = client.get(f"{page}journal.csv", asked).content.decode()
        assert there in rows
        assert gone not in rows
    assert "No entry is like that." in client.get(page, {"text": "keel\0"}).content.decode()
    whole = client.get(f"{page}journal.csv")
    assert whole["Content-Type"] == "text/csv; charset=utf-8"
    lines = list(csv.reader(io.StringIO(whole.content.decode("utf-8-sig"))))
    assert [line[3] for line in lines] == ["did", "started", "changed"]
    assert lines[2][7:] == ['{"parts": 1}', '{"parts": 2}', "'=HYPERLINK(1)"]
    assert lines[2][0] == "2026-11-25T09:00:00+00:00"

"""Adding, changing, removing, undoing: what is stored, and what stands in the journal."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from refit.work.models import Booking, JournalEntry, Place, Vendor, WorkPackage
from refit.work.services import (
    Refused,
    Stale,
    add_row,
    change_row,
    facts_of,
    remove_row,
    undo_entry,
)
from tests.builders import (
    A_MANAGER,
    NOW,
    a_crew_member,
    a_package,
    a_piece,
    a_place,
    a_refit,
    a_vendor,
)

pytestmark = pytest.mark.django_db
WHO: Any = {"actor": A_MANAGER, "now": NOW}


def test_adding_stores_the_row_raises_the_version_and_is_in_the_journal() -> None:
    refit = a_refit()
    vendor = Vendor(refit=refit)
    add_row(refit=refit, row=vendor, facts={"name": "Skua Sails", "jobs_at_once": 2}, **WHO)
    assert refit.version == 2
    entry = JournalEntry.objects.get()
    assert (entry.verb, entry.subject_kind, entry.subject_id) == ("added", "vendor", vendor.pk)
    assert entry.after == {"name": "Skua Sails", "jobs_at_once": 2}


def test_an_invalid_row_is_not_stored_at_all() -> None:
    refit = a_refit()
    place = Place(refit=refit)
    with pytest.raises(ValidationError):
        add_row(
            refit=refit,
            row=place,
            facts={"name": "Loft", "hours": [[0, "08:00", "17:00"], [1, "12:00", "11:00"]]},
            **WHO,
        )
    assert not Place.objects.exists()
    assert not JournalEntry.objects.exists()
    refit.refresh_from_db()
    assert refit.version == 1


def test_a_change_keeps_only_what_is_different_in_the_journal() -> None:
    refit = a_refit()
    vendor = a_vendor(refit, phone="01632 960001")
    entry = change_row(
        refit=refit,
        row=vendor,
        facts={"name": vendor.name, "phone": "01632 960002", "jobs_at_once": 1},
        **WHO,
    )
    assert entry is not None
    assert entry.before == {"phone": "01632 960001"}
    assert entry.after == {"phone": "01632 960002"}
    vendor.refresh_from_db()
    assert vendor.phone == "01632 960002"


def test_changing_nothing_writes_nothing() -> None:
    refit = a_refit()
    package = a_package(refit, budget="12.00")
    facts = {"title": package.title, "budget": "12"}
    assert change_row(refit=refit, row=package, facts=facts, **WHO) is None
    assert refit.version == 1
    assert not JournalEntry.objects.exists()


def test_a_change_of_what_somebody_else_changed_is_stale_and_writes_nothing() -> None:
    refit = a_refit()
    vendor = a_vendor(refit, phone="01632 960001", note="")
    opened = facts_of(vendor)
    Vendor.objects.update(phone="01632 960009")
    with pytest.raises(Stale) as stale:
        change_row(refit=refit, row=vendor, facts={"note": "ring early"}, opened=opened, **WHO)
    assert stale.value.names == ["phone"]
    vendor.refresh_from_db()
    assert vendor.note == ""


def test_the_hours_of_a_place_are_one_fact() -> None:
    refit = a_refit()
    place = a_place(refit)
    facts = {"hours": [[5, "09:00", "12:00"], [6, "22:00", "00:00"]]}
    entry = change_row(refit=refit, row=place, facts=facts, **WHO)
    assert [str(hours) for hours in place.hours.all()] == [
        "Saturday 09:00–12:00",
        "Sunday 22:00–00:00",
    ]
    assert entry is not None
    undo_entry(entry=entry, **WHO)
    assert place.hours.count() == 5


def test_a_package_changes_with_its_booking_people_and_pieces_and_back() -> None:
    refit = a_refit()
    piece, hand = a_piece(refit), a_crew_member(refit)
    package = a_package(refit)
    at = datetime(2026, 12, 7, 8, tzinfo=UTC)
    entry = change_row(
        refit=refit,
        row=package,
        facts={
            "booking": {"kind": "starts", "at": at, "agreed_with": "Odile", "note": ""},
            "pieces": [[piece.pk, "takes off"]],
            "people": [hand.pk],
        },
        **WHO,
    )
    assert Booking.objects.get(package=package).at == at
    assert list(package.people.all()) == [hand]
    assert package.piece_uses.get().effect == "takes off"
    assert entry is not None
    undo_entry(entry=entry, **WHO)
    assert not Booking.objects.exists()
    assert not package.people.exists()
    assert not package.piece_uses.exists()


def test_a_piece_of_another_refit_cannot_be_slipped_in() -> None:
    refit, other = a_refit(), a_refit()
    foreign = a_piece(other)
    package = a_package(refit)
    change_row(refit=refit, row=package, facts={"pieces": [[foreign.pk, "needs"]]}, **WHO)
    assert not package.piece_uses.exists()


def test_what_is_still_needed_cannot_be_removed() -> None:
    refit = a_refit()
    place = a_place(refit, name="Alder shed")
    a_package(refit, place=place, code="H1", title="Sand")
    with pytest.raises(Refused, match="Alder shed is still needed by H1 Sand"):
        remove_row(refit=refit, row=place, **WHO)
    assert Place.objects.exists()
    refit.refresh_from_db()
    assert refit.version == 1


def test_what_is_removed_stays_in_the_journal() -> None:
    refit = a_refit()
    package = a_package(refit, code="H1", title="Sand")
    remove_row(refit=refit, row=package, **WHO)
    assert not WorkPackage.objects.exists()
    entry = JournalEntry.objects.get()
    assert entry.subject_name == "H1 Sand"
    assert entry.before["code"] == "H1"


def test_an_entry_is_taken_back_once() -> None:
    refit = a_refit()
    vendor = a_vendor(refit, phone="01632 960001")
    entry = change_row(refit=refit, row=vendor, facts={"phone": "01632 960002"}, **WHO)
    assert entry is not None
    undo_entry(entry=entry, **WHO)
    vendor.refresh_from_db()
    assert vendor.phone == "01632 960001"
    with pytest.raises(Refused, match="changed again"):
        undo_entry(entry=entry, **WHO)


def test_an_entry_about_something_that_is_gone_cannot_be_taken_back() -> None:
    refit = a_refit()
    vendor = a_vendor(refit)
    entry = change_row(refit=refit, row=vendor, facts={"phone": "01632 960002"}, **WHO)
    vendor.delete()
    assert entry is not None
    with pytest.raises(Refused, match="does not exist any more"):
        undo_entry(entry=entry, **WHO)


def test_an_addition_cannot_be_taken_back() -> None:
    refit = a_refit()
    add_row(refit=refit, row=Vendor(refit=refit), facts={"name": "Skua Sails"}, **WHO)
    with pytest.raises(Refused, match="cannot be taken back"):
        undo_entry(entry=JournalEntry.objects.get(), **WHO)


def test_taking_back_may_break_no_rule() -> None:
    refit = a_refit()
    package = a_package(refit, code="H1")
    entry = change_row(refit=refit, row=package, facts={"code": "H2"}, **WHO)
    a_package(refit, code="H1")
    assert entry is not None
    with pytest.raises(Refused, match="cannot be put back"):
        undo_entry(entry=entry, **WHO)
    package.refresh_from_db()
    assert package.code == "H2"

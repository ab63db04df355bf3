"""Sheets into a refit: all rows or none, every bad one named."""

from __future__ import annotations

from datetime import UTC, datetime, time
from decimal import Decimal

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refit.interchange.changes import preview_sheets
from refit.interchange.columns import SHEETS
from refit.interchange.document import check_document
from refit.interchange.export import export_refit
from refit.interchange.reading import SheetError
from refit.interchange.sheet import Column, Sheet
from refit.work.models import (
    Booking,
    Dependency,
    Distance,
    JournalEntry,
    Piece,
    Place,
    WorkPackage,
)
from tests.builders import NOW

from .documents import a_document
from .sheets import as_csv, as_xlsx, said_about, tables_of, take_in, the_refit

pytestmark = pytest.mark.django_db

HEAD = ["code", "title", "place", "likely"]


def test_twelve_packages_of_which_three_are_bad_name_these_and_store_nothing() -> None:
    refit = the_refit()
    before = export_refit(refit)
    rows = [[f"N{n:02}", f"Job {n}", "Home shed", "6 h"] for n in range(1, 13)]
    rows[2][3] = "6"  # row 4: no unit
    rows[6][2] = "Cotaing booth"  # row 8: no such place
    rows[9][1] = ""  # row 11: no title
    said = said_about(refit, ("packages.xlsx", as_xlsx(packages=[HEAD, *rows])))
    assert said == [
        "packages, row 4, column “likely”: “6” is not a duration. Write it with a unit: 2 d, 6 h "
        "or 90 min.",
        "packages, row 8, column “place”: Place “Cotaing booth” is not among the places. Did you "
        "mean “Coating booth”?",
        "packages, row 11, column “title”: It must not be empty.",
    ]
    assert export_refit(refit) == before
    assert WorkPackage.objects.count() == 2
    assert JournalEntry.objects.count() == 1


def test_new_rows_are_added_and_known_ones_changed_with_one_journal_entry() -> None:
    refit = the_refit()
    version = refit.version
    entry = take_in(
        refit,
        (
            "packages.csv",
            as_csv(
                [*HEAD, "vendor", "pieces", "hold", "budget", "booked start", "agreed with"],
                ["H02", "Coat the frame", "Coating booth", "2 d", "Skerrow Coatings", "ST-03",
                 "3 d", "900,50", "2026-12-07 08:00", "Maren"],
                ["H03", "Fit the frame", "Home shed", "90 min", "", "", "", "", "", ""],
            ),
        ),
    )  # fmt: skip
    assert entry is not None
    assert entry.subject_name == "sheets: 1 package new, 1 changed"
    assert entry.after["packages"]["H03"]["likely"] == "1 h 30 min"
    assert entry.before["packages"]["H02"] == {
        "title": "Package H02", "likely": "1 d", "low": "1 d", "high": "1 d", "hold": "0 min",
        "budget": "", "booked start": "", "agreed with": "",
    }  # fmt: skip
    assert JournalEntry.objects.count() == 2
    refit.refresh_from_db()
    assert refit.version == version + 1
    changed, new = WorkPackage.objects.get(code="H02"), WorkPackage.objects.get(code="H03")
    assert (changed.title, changed.likely_minutes, changed.hold_minutes) == (
        "Coat the frame",
        960,
        4320,
    )
    assert changed.budget == Decimal("900.50")
    # 08:00 in the zone of the refit, Atlantic/Faroe, which is UTC in winter.
    assert changed.booking.at == datetime(2026, 12, 7, 8, tzinfo=UTC)
    assert (new.low_minutes, new.likely_minutes, new.high_minutes) == (90, 90, 90)
    assert [use.piece.tag for use in changed.piece_uses.all()] == ["ST-03"]


def test_a_column_that_is_missing_leaves_its_facts_and_an_empty_cell_empties_them() -> None:
    refit = the_refit()
    WorkPackage.objects.filter(code="H01").update(budget=100, scope="All of it")
    take_in(refit, ("packages.csv", as_csv(["code", "budget"], ["H01", ""])))
    package = WorkPackage.objects.get(code="H01")
    assert (package.budget, package.scope) == (None, "All of it")


def test_low_likely_and_high_that_change_alone_are_checked_against_each_other() -> None:
    refit = the_refit()
    assert said_about(refit, ("packages.csv", as_csv(["code", "low"], ["H01", "3 d"]))) == [
        "packages, row 2, column “likely”: Low, likely and high must rise; they are 3 d, 1 d "
        "and 1 d."
    ]


def test_sheets_may_refer_to_what_other_sheets_bring_in_any_order() -> None:
    refit = the_refit()
    take_in(
        refit,
        (
            "all.xlsx",
            as_xlsx(
                dependencies=[
                    ["before", "after", "minimum lag", "reason"],
                    ["H02", "S01", "-2 h", "tabs are cut from the spare"],
                ],
                packages=[
                    [*HEAD, "crew", "zones"],
                    ["S01", "Sew", "Net loft", "1 d", "Ylva", "Bow"],
                ],
                places=[
                    ["name", "kind", "vendor", "Monday", "Friday", "closures"],
                    ["Net loft", "shop", "Gull Canvas", "8-12; 13-17", "8:00-24:00",
                     "2026-12-24 to 2027-01-02 winter"],
                ],
                vendors=[["name", "email"], ["Gull Canvas", "loft@gull.example"]],
                crew=[["name", "days away"], ["Ylva", "2026-12-01"]],
                zones=[["name"], ["Bow"]],
            ),
        ),
    )  # fmt: skip
    package = WorkPackage.objects.get(code="S01")
    assert package.place.vendor is not None
    assert package.place.vendor.email == "loft@gull.example"
    assert [str(one) for one in (*package.people.all(), *package.zones.all())] == ["Ylva", "Bow"]
    hours = [(one.weekday, one.opens, one.closes) for one in package.place.hours.all()]
    assert hours == [
        (0, time(8), time(12)),
        (0, time(13), time(17)),
        (4, time(8), time(0)),
    ]
    assert package.place.closures.get().reason == "winter"
    assert Dependency.objects.get(after=package).min_lag_minutes == -120


def test_roads_are_found_again_by_their_ends_and_the_way_back_is_another() -> None:
    refit = the_refit()
    head = ["origin", "destination", "kilometres", "minutes"]
    there = ["Home shed", "Coating booth", "38,5", ""]
    take_in(refit, ("distances.csv", as_csv(head, there)))
    road = Distance.objects.get()
    assert (str(road), str(road.kilometres), road.minutes) == (
        "Home shed to Coating booth", "38.50", None,
    )  # fmt: skip
    back = ["Coating booth", "Home shed", "", "50"]
    entry = take_in(refit, ("distances.csv", as_csv(head, [*there[:3], "45"], back)))
    assert entry is not None
    assert entry.subject_name == "sheets: 1 distance new, 1 changed"
    assert entry.after["distances"]["Coating booth to Home shed"]["minutes"] == "50"
    assert sorted(Distance.objects.values_list("pk", "minutes"))[0] == (road.pk, 45)
    miles = as_csv(["origin", "destination", "miles"], [*there[:2], "24"])
    take_in(refit, ("distances.csv", miles))
    # 24 * 1.609344 km = 38.624256 km, kept to ten metres.
    assert str(Distance.objects.get(pk=road.pk).kilometres) == "38.62"


def test_a_road_that_leads_nowhere_is_named_at_its_row() -> None:
    refit = the_refit()
    rows = [["Home shed", "Home shed", "1"], ["Home shed", "Moon", "1"], ["", "Home shed", "1"]]
    head = ["origin", "destination", "kilometres"]
    assert said_about(refit, ("distances.csv", as_csv(head, *rows))) == [
        "distances, row 2: Origin and destination are the same place.",
        "distances, row 3, column “destination”: Destination “Moon” is not among the places. "
        "There are: Coating booth, Home shed.",
        "distances, row 4, column “origin”: It must not be empty.",
    ]
    assert said_about(refit, ("distances.csv", as_csv(["origin", "kilometres"], ["x", "1"]))) == [
        "distances: The column “destination” is missing."
    ]
    long = as_csv([*head, "minutes"], ["Home shed", "Coating booth", "100000", "-5"])
    assert [one.partition(":")[0] for one in said_about(refit, ("distances.csv", long))] == [
        "distances, row 2, column “kilometres”",
        "distances, row 2, column “minutes”",
    ]
    assert not Distance.objects.exists()


def test_the_same_row_twice_is_refused_by_both_numbers() -> None:
    refit = the_refit()
    rows = [["N1", "One", "Home shed", "1 h"], ["N1", "Again", "Home shed", "1 h"]]
    assert said_about(refit, ("packages.csv", as_csv(HEAD, *rows))) == [
        "packages, row 3, column “code”: Row 2 is the same package already."
    ]


def test_headings_are_checked_before_rows() -> None:
    refit = the_refit()
    assert said_about(
        refit,
        ("packages.csv", as_csv(["code", "titel", "colour", "place", "place"], ["N1"])),
    ) == [
        "packages: There is no column “titel”. Did you mean “title”?",
        "packages: There is no column “colour”.",
        "packages: Two columns are “place”.",
    ]
    assert said_about(refit, ("places.csv", as_csv(["kind"], ["home"]))) == [
        "places: The column “name” is missing."
    ]


def test_a_cell_under_no_heading_is_not_lost_silently() -> None:
    refit = the_refit()
    assert said_about(refit, ("zones.csv", as_csv(["name"], ["Bow", "and stern"]))) == [
        "zones, row 2: “and stern” stands under no heading."
    ]


def test_a_second_boat_is_named_at_its_row() -> None:
    refit = the_refit()
    rows = as_csv(["tag", "name", "is the boat"], ["ST-09", "Another boat", "yes"])
    assert said_about(refit, ("pieces.csv", rows)) == [
        "pieces, row 2, column “is the boat”: “is the boat” is true, but the boat is ST-00 already."
    ]


def test_a_package_cannot_be_done_by_one_vendor_at_the_place_of_another() -> None:
    refit = the_refit()
    said = said_about(
        refit,
        ("vendors.csv", as_csv(["name"], ["Gull Canvas"])),
        ("packages.csv", as_csv(["code", "vendor"], ["H02", "Gull Canvas"])),
    )
    assert said == [
        "packages, row 2, column “place”: The place “Coating booth” belongs to another vendor, "
        "Skerrow Coatings."
    ]


def test_a_booking_is_one_of_two_kinds_and_goes_when_its_cells_are_emptied() -> None:
    refit = the_refit()
    head = ["code", "booked start", "not before"]
    at = "2026-12-07 08:00"
    assert said_about(refit, ("packages.csv", as_csv(head, ["H01", at, at]))) == [
        "packages, row 2, column “not before”: Give a booked start or a not-before, not both."
    ]
    take_in(refit, ("packages.csv", as_csv(head, ["H01", "", at])))
    assert Booking.objects.get().kind == "not before"
    take_in(refit, ("packages.csv", as_csv(head, ["H01", "", ""])))
    assert not Booking.objects.exists()


def test_a_piece_that_a_sheet_moves_is_there_since_now() -> None:
    refit = the_refit()
    take_in(
        refit,
        ("pieces.csv", as_csv(["tag", "place", "on the boat"], ["ST-03", "Coating booth", "no"])),
    )
    piece = Piece.objects.get(tag="ST-03")
    assert (str(piece.place), piece.fitted, piece.since) == ("Coating booth", False, NOW)


def test_a_piece_that_is_under_way_is_not_moved_by_a_sheet() -> None:
    refit = the_refit(
        handoffs=[
            {"piece": "ST-03", "origin": "Home shed", "destination": "Coating booth",
             "state": "under way", "sent_at": "2026-11-24T08:00:00Z"}
        ]
    )  # fmt: skip
    rows = as_csv(["tag", "place"], ["ST-03", "Coating booth"])
    assert said_about(refit, ("pieces.csv", rows)) == [
        "pieces, row 2, column “place”: The piece is under way; receive it where it arrives."
    ]


def test_what_was_wrong_in_the_refit_before_does_not_keep_sheets_out() -> None:
    refit = the_refit()
    Place.objects.filter(name="Home shed").update(holiday_country="XX")
    take_in(refit, ("zones.csv", as_csv(["name"], ["Bow"])))
    assert refit.zones.filter(name="Bow").exists()


def test_another_piece_becomes_the_boat_and_another_package_the_launch() -> None:
    data = a_document()
    data["pieces"][0]["is_boat"], data["pieces"][1]["is_boat"] = False, True
    data["packages"][1]["is_launch"] = True
    refit = the_refit(**{kind: data[kind] for kind in ("pieces", "packages")})
    take_in(
        refit,
        ("pieces.csv", as_csv(["tag", "is the boat"], ["ST-00", "yes"], ["ST-03", "no"])),
        ("packages.csv", as_csv(["code", "is the launch"], ["H01", "yes"], ["H02", "no"])),
    )
    assert Piece.objects.get(is_boat=True).tag == "ST-00"
    assert WorkPackage.objects.get(is_launch=True).code == "H01"


TYPED = {
    "places": ["Home shed", "Coating booth", "Quay"],
    "vendors": ["Skerrow Coatings", "Gull Canvas"],
    "packages": ["H01", "H02", "H03"],
    "pieces": ["ST-00", "ST-03", "ST-09", "ST-03; ST-09"],
    "crew": ["Odd Brekke", "Ylva"],
    "zones": ["Wheelhouse", "Bow"],
    "other": ["", "yes", "no", "1 d", "36 h", "-2 h", "12,5", "3", "2026-12-04 08:00",
              "2026-12-24 to 2027-01-02 winter", "8-12; 13-24", "finish-to-start", "working",
              "home", "Æ “ñ” 漢字", "=1+1"],
}  # fmt: skip


@settings(
    max_examples=50,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(st.data())
def test_what_is_stored_is_what_was_shown_and_anything_else_stores_nothing(
    data: st.DataObject,
) -> None:
    """Random sheets with words that mean something: mostly several tables, often a bad cell."""
    files = []
    for sheet in data.draw(st.lists(st.sampled_from(SHEETS), min_size=1, max_size=3, unique=True)):
        columns = data.draw(
            st.lists(st.sampled_from(sheet.columns), max_size=4, unique_by=lambda c: c.fact)
        )
        head = {c.name: c for c in (*[c for c in sheet.columns if c.required], *columns)}
        rows = [
            [draw_cell(data, sheet, column) for column in head.values()]
            for _ in range(data.draw(st.integers(1, 3)))
        ]
        files.append((f"{sheet.kind}.csv", as_csv([*head], *rows)))
    with transaction.atomic():
        refit = the_refit()
        before = export_refit(refit)
        merged = preview_sheets(refit=refit, tables=tables_of(*files), now=NOW)
        try:
            take_in(refit, *files)
        except SheetError as error:
            told = error.problems
        else:
            told = []
        assert told == merged.problems
        after = export_refit(refit)
        assert after == (before if told else check_document(merged.document))
        transaction.set_rollback(True)


def draw_cell(data: st.DataObject, sheet: Sheet, column: Column) -> str:
    """A cell of the column: usually its example or a known name, sometimes anything."""
    if column.fact in sheet.keys and sheet.kind in TYPED:
        return data.draw(st.sampled_from(TYPED[sheet.kind]))
    named = {"place": "places", "returns_to": "places", "vendor": "vendors", "people": "crew",
             "zones": "zones", "before": "packages", "after": "packages",
             "origin": "places", "destination": "places"}  # fmt: skip
    kind = "pieces" if column.of == "pieces" else named.get(column.fact, "")
    usual = TYPED.get(kind, [column.example])
    return data.draw(st.sampled_from([*usual * 6, *TYPED["other"]]))


def test_taking_in_what_is_there_already_stores_nothing() -> None:
    refit = the_refit()
    assert take_in(refit, ("zones.csv", as_csv(["name"], ["Wheelhouse"]))) is None
    assert JournalEntry.objects.count() == 1


def test_rows_of_another_refit_are_neither_seen_nor_touched() -> None:
    mine, other = the_refit(), the_refit()
    before = export_refit(other)
    take_in(mine, ("packages.csv", as_csv(["code", "title"], ["H01", "Changed"])))
    assert export_refit(other) == before
    take_in(mine, ("vendors.csv", as_csv(["name"], ["Gull Canvas"])))
    rows = as_csv(["code", "vendor", "place"], ["H01", "Gull Canvas", "Home shed"])
    assert said_about(other, ("packages.csv", rows)) == [
        "packages, row 2, column “vendor”: Vendor “Gull Canvas” is not among the vendors. "
        "There are: Skerrow Coatings."
    ]

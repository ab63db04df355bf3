"""From the database to the document: one refit, in a number of queries that never grows.

Columns carry the same names as the rows of the document, so only references, lists and notation
are translated here.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any, cast

from django.db.models import QuerySet

from refit.custody.models import Handoff
from refit.quality.models import Finding
from refit.work.models import (
    Absence,
    Booking,
    Closure,
    CrewMember,
    Dependency,
    Distance,
    OpeningHours,
    Paper,
    Piece,
    PieceUse,
    Place,
    Refit,
    Vendor,
    WorkPackage,
    Zone,
)

from .document import (
    FORMAT,
    VERSION,
    BoatRow,
    BookingRow,
    CrewRow,
    DaysRow,
    DependencyRow,
    DistanceRow,
    FindingRow,
    HandoffRow,
    HoursRow,
    PackageRow,
    PaperRow,
    PieceRow,
    PieceUseRow,
    PlaceRow,
    RefitDocument,
    RefitRow,
    VendorRow,
    ZoneRow,
    in_order,
)
from .export_quality import KINDS, quality_lists
from .schema import plain, utc

Row = dict[str, Any]
Names = dict[int, str]
Lists = dict[int, list[Any]]


def export_refit(refit: Refit, *, for_planning: bool = False) -> RefitDocument:
    """The document of ``refit`` as the database has it now, whatever the instance still says.

    Thirty-one queries at any size. ``for_planning`` leaves empty what no plan depends on: papers,
    processes, surfaces, survey, quality, handing over; eighteen queries then.
    """
    found = Refit.objects.select_related("boat").get(pk=refit.pk)

    vendor_rows = _rows(Vendor.objects.filter(refit=found))
    place_rows = _rows(Place.objects.filter(refit=found))
    crew_rows = _rows(CrewMember.objects.filter(refit=found))
    zone_rows = _rows(Zone.objects.filter(refit=found))
    piece_rows = _rows(Piece.objects.filter(refit=found))
    package_rows = _rows(WorkPackage.objects.filter(refit=found))
    vendors, places, crew, zones = (
        _names(rows, "name") for rows in (vendor_rows, place_rows, crew_rows, zone_rows)
    )
    pieces, packages = _names(piece_rows, "tag"), _names(package_rows, "code")

    hours = _grouped(OpeningHours.objects.filter(place__refit=found), "place_id", HoursRow)
    closures = _grouped(Closure.objects.filter(place__refit=found), "place_id", DaysRow)
    absences = _grouped(Absence.objects.filter(member__refit=found), "member_id", DaysRow)
    uses = _grouped(
        PieceUse.objects.filter(package__refit=found), "package_id", PieceUseRow, piece=pieces
    )
    people: Lists = defaultdict(list)
    for one in _rows(WorkPackage.people.through.objects.filter(workpackage__refit=found)):
        people[one["workpackage_id"]].append(crew[one["crewmember_id"]])
    taken: Lists = defaultdict(list)
    for one in _rows(WorkPackage.zones.through.objects.filter(workpackage__refit=found)):
        taken[one["workpackage_id"]].append(zones[one["zone_id"]])

    document = {
        "format": FORMAT,
        "version": VERSION,
        "boat": _row(vars(found.boat), BoatRow),
        "refit": _row(vars(found), RefitRow),
        "vendors": [_row(one, VendorRow) for one in vendor_rows],
        "papers": [
            _row(one, PaperRow, vendor=vendors)
            for one in ([] if for_planning else _rows(Paper.objects.filter(refit=found)))
        ],
        "places": [
            _row(one, PlaceRow, vendor=vendors, hours=hours, closures=closures)
            for one in place_rows
        ],
        "distances": [
            _row(one, DistanceRow, origin=places, destination=places)
            for one in _rows(Distance.objects.filter(refit=found))
        ],
        "crew": [_row(one, CrewRow, absences=absences) for one in crew_rows],
        "zones": [_row(one, ZoneRow) for one in zone_rows],
        "pieces": [_row(one, PieceRow, place=places, returns_to=places) for one in piece_rows],
        "packages": [
            _row(
                one,
                PackageRow,
                vendor=vendors,
                place=places,
                people=people,
                zones=taken,
                pieces=uses,
            )
            for one in package_rows
        ],
        "dependencies": [
            _row(one, DependencyRow, before=packages, after=packages)
            for one in _rows(Dependency.objects.filter(refit=found))
        ],
        "bookings": [
            _row(one, BookingRow, package=packages)
            for one in _rows(Booking.objects.filter(package__refit=found))
        ],
        "handoffs": [
            _row(
                one,
                HandoffRow,
                piece=pieces,
                origin=places,
                destination=places,
                for_package=packages,
                after_package=packages,
            )
            for one in _rows(Handoff.objects.filter(refit=found))
        ],
        "findings": [
            _row(one, FindingRow, found_in=packages, piece=pieces, zone=zones)
            for one in _rows(Finding.objects.filter(refit=found))
        ],
    }
    names = {
        "package": packages, "rework": packages, "piece": pieces, "place": places, "zone": zones,
        "person": crew, "vendor": vendors,
    }  # fmt: skip
    document |= (
        {kind: [] for kind, _, _ in KINDS}
        if for_planning
        else quality_lists(found, names, _rows, _row)
    )
    return in_order(cast(RefitDocument, document))


def _rows(rows: QuerySet[Any]) -> list[Row]:
    return cast(list[Row], list(rows.values()))


def _names(rows: list[dict[str, Any]], field: str) -> Names:
    return {row["id"]: row[field] for row in rows}


def _grouped(rows: QuerySet[Any], owner: str, shape: type, **links: Names) -> Lists:
    grouped: Lists = defaultdict(list)
    for row in _rows(rows):
        grouped[row[owner]].append(_row(row, shape, **links))
    return grouped


def _row(values: Row, shape: type, **links: Names | Lists) -> Row:
    """The properties of ``shape`` from the columns in ``values``.

    A property in ``links`` is a reference, looked up by the column ``…_id``, or a list of what
    belongs to this row, looked up by its own id.
    """
    row: Row = {}
    for name in shape.__annotations__:
        if name not in links:
            row[name] = _written(values[name])
        elif f"{name}_id" in values:
            key = values[f"{name}_id"]
            row[name] = None if key is None else links[name][key]
        else:
            row[name] = links[name].get(values["id"], [])
    return row


def _written(value: Any) -> Any:
    match value:
        case datetime():
            return utc(value)
        case date():
            return value.isoformat()
        case time():
            return value.isoformat("minutes")
        case Decimal():
            return plain(value)
    return value

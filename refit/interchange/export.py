"""From the database to the document: one refit, in a number of queries that never grows."""

from __future__ import annotations

from collections import defaultdict
from typing import cast

from refit.custody.models import Handoff
from refit.quality.models import Finding
from refit.work.models import (
    Absence,
    Booking,
    Closure,
    CrewMember,
    Dependency,
    Distance,
    Driving,
    OpeningHours,
    Paper,
    Piece,
    PieceUse,
    Place,
    Refit,
    Rig,
    Vendor,
    WorkPackage,
    Zone,
)

from .columns_of_rows import Lists, grouped_of, names_of, row_of, rows_of
from .document import (
    FORMAT,
    VERSION,
    BoatRow,
    BookingRow,
    CrewRow,
    DaysRow,
    DependencyRow,
    DistanceRow,
    DrivingRow,
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
    RigRow,
    VendorRow,
    ZoneRow,
    in_order,
)
from .export_contracts import export_contracts
from .export_quality import KINDS, quality_lists


def export_refit(refit: Refit, *, for_planning: bool = False) -> RefitDocument:
    """The document of ``refit`` as the database has it now, whatever the instance still says.

    Forty-five queries at any size. ``for_planning`` leaves empty what no plan depends on: papers,
    processes, surfaces, survey, quality, handing over, and of the contracts all but goods.
    """
    found = Refit.objects.select_related("boat").get(pk=refit.pk)

    vendor_rows = rows_of(Vendor.objects.filter(refit=found))
    place_rows = rows_of(Place.objects.filter(refit=found))
    crew_rows = rows_of(CrewMember.objects.filter(refit=found))
    rig_rows = rows_of(Rig.objects.filter(refit=found))
    driving = Driving.objects.filter(refit=found).first() or Driving(refit=found)
    zone_rows = rows_of(Zone.objects.filter(refit=found))
    piece_rows = rows_of(Piece.objects.filter(refit=found))
    package_rows = rows_of(WorkPackage.objects.filter(refit=found))
    vendors, places, crew, zones = (
        names_of(rows, "name") for rows in (vendor_rows, place_rows, crew_rows, zone_rows)
    )
    rigs = names_of(rig_rows, "name")
    pieces, packages = names_of(piece_rows, "tag"), names_of(package_rows, "code")

    hours = grouped_of(OpeningHours.objects.filter(place__refit=found), "place_id", HoursRow)
    closures = grouped_of(Closure.objects.filter(place__refit=found), "place_id", DaysRow)
    absences = grouped_of(Absence.objects.filter(member__refit=found), "member_id", DaysRow)
    uses = grouped_of(
        PieceUse.objects.filter(package__refit=found), "package_id", PieceUseRow, piece=pieces
    )
    people: Lists = defaultdict(list)
    for one in rows_of(WorkPackage.people.through.objects.filter(workpackage__refit=found)):
        people[one["workpackage_id"]].append(crew[one["crewmember_id"]])
    taken: Lists = defaultdict(list)
    for one in rows_of(WorkPackage.zones.through.objects.filter(workpackage__refit=found)):
        taken[one["workpackage_id"]].append(zones[one["zone_id"]])

    finding_rows = rows_of(Finding.objects.filter(refit=found))

    document = {
        "format": FORMAT,
        "version": VERSION,
        "boat": row_of(vars(found.boat), BoatRow),
        "refit": row_of(vars(found), RefitRow),
        "vendors": [row_of(one, VendorRow) for one in vendor_rows],
        "papers": [
            row_of(one, PaperRow, vendor=vendors)
            for one in ([] if for_planning else rows_of(Paper.objects.filter(refit=found)))
        ],
        "places": [
            row_of(one, PlaceRow, vendor=vendors, hours=hours, closures=closures)
            for one in place_rows
        ],
        "distances": [
            row_of(one, DistanceRow, origin=places, destination=places)
            for one in rows_of(Distance.objects.filter(refit=found))
        ],
        "rigs": [row_of(one, RigRow) for one in rig_rows],
        "driving": row_of(vars(driving), DrivingRow),
        "crew": [row_of(one, CrewRow, absences=absences) for one in crew_rows],
        "zones": [row_of(one, ZoneRow) for one in zone_rows],
        "pieces": [row_of(one, PieceRow, place=places, returns_to=places) for one in piece_rows],
        "packages": [
            row_of(
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
            row_of(one, DependencyRow, before=packages, after=packages)
            for one in rows_of(Dependency.objects.filter(refit=found))
        ],
        "bookings": [
            row_of(one, BookingRow, package=packages)
            for one in rows_of(Booking.objects.filter(package__refit=found))
        ],
        "handoffs": [
            row_of(
                one,
                HandoffRow,
                piece=pieces,
                origin=places,
                destination=places,
                for_package=packages,
                after_package=packages,
                drive_with=rigs,
            )
            for one in rows_of(Handoff.objects.filter(refit=found))
        ],
        "findings": [
            row_of(one, FindingRow, found_in=packages, piece=pieces, zone=zones)
            for one in finding_rows
        ],
        **export_contracts(
            found,
            vendors=vendors,
            places=places,
            crew=crew,
            packages=packages,
            findings=names_of(finding_rows, "code"),
            for_planning=for_planning,
        ),
    }
    names = {
        "package": packages, "rework": packages, "piece": pieces, "place": places, "zone": zones,
        "person": crew, "vendor": vendors,
    }  # fmt: skip
    document |= {kind: [] for kind, _, _ in KINDS} if for_planning else quality_lists(found, names)
    return in_order(cast(RefitDocument, document))

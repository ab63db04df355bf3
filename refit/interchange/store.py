"""From the document to the database: a new refit, whole or not at all."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from refit.accounts.models import Membership, Role, User
from refit.custody.models import Handoff
from refit.quality.models import Finding
from refit.work.models import (
    Absence,
    Actor,
    Boat,
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
    record,
)
from refit.work.services import free_slug
from refit.work.wording import say_count, say_list

from .document import RefitDocument, check_document
from .export_quality import KINDS as QUALITY_KINDS
from .rows_to_columns import columns_of, stored
from .store_contracts import store_contracts


@transaction.atomic
def import_document(
    document: RefitDocument, *, actor: Actor, now: datetime, manager: User | None = None
) -> Refit:
    """A new boat and refit as the document describes them, with ``manager`` as its manager.

    The document is checked first: `DocumentError`, and nothing is stored. A slug that is taken
    gets a number behind it; everything else comes out of `export_refit` as it went in.
    """
    document = check_document(document)
    boat = Boat.objects.create(**columns_of(Boat, document["boat"]))
    fields = columns_of(Refit, document["refit"])
    fields["slug"] = free_slug(document["refit"]["slug"])
    refit = Refit.objects.create(boat=boat, created_at=now, **fields)
    _store_rows(refit, document)
    if manager is not None:
        Membership.objects.create(user=manager, refit=refit, role=Role.MANAGER)
    record(
        refit=refit,
        actor=actor,
        now=now,
        verb="imported",
        subject=refit,
        note=f"From a refit document: {what_it_holds(document)}.",
    )
    return refit


def what_it_holds(document: RefitDocument) -> str:
    """“41 packages, 14 pieces and 6 places”."""
    return say_list(
        [
            say_count(len(document["packages"]), "package"),
            say_count(len(document["pieces"]), "piece"),
            say_count(len(document["places"]), "place"),
            say_count(len(document["vendors"]), "vendor"),
        ]
    )


def _store_rows(refit: Refit, document: RefitDocument) -> None:
    vendors = stored(Vendor, document["vendors"], "name", refit=refit)
    stored(Paper, document["papers"], refit=refit, vendor=vendors)
    places = stored(Place, document["places"], "name", refit=refit, vendor=vendors)
    crew = stored(CrewMember, document["crew"], "name", refit=refit)
    rigs = stored(Rig, document["rigs"], "name", refit=refit)
    stored(Driving, [document["driving"]], refit=refit)
    zones = stored(Zone, document["zones"], "name", refit=refit)
    pieces = stored(Piece, document["pieces"], "tag", refit=refit, place=places, returns_to=places)
    packages = stored(
        WorkPackage, document["packages"], "code", refit=refit, vendor=vendors, place=places
    )
    for row in document["places"]:
        place = places[row["name"]]
        stored(OpeningHours, row["hours"], place=place)
        stored(Closure, row["closures"], place=place)
    for member in document["crew"]:
        stored(Absence, member["absences"], member=crew[member["name"]])
    hands, zoned, uses = WorkPackage.people.through, WorkPackage.zones.through, []
    for package in document["packages"]:
        job = packages[package["code"]]
        uses += [
            PieceUse(package=job, piece=pieces[use["piece"]], effect=use["effect"])
            for use in package["pieces"]
        ]
    PieceUse.objects.bulk_create(uses)
    hands.objects.bulk_create(
        hands(workpackage_id=packages[package["code"]].pk, crewmember_id=crew[name].pk)
        for package in document["packages"]
        for name in package["people"]
    )
    zoned.objects.bulk_create(
        zoned(workpackage_id=packages[package["code"]].pk, zone_id=zones[name].pk)
        for package in document["packages"]
        for name in package["zones"]
    )
    stored(Distance, document["distances"], refit=refit, origin=places, destination=places)
    stored(Dependency, document["dependencies"], refit=refit, before=packages, after=packages)
    stored(Booking, document["bookings"], package=packages)
    stored(
        Handoff,
        document["handoffs"],
        refit=refit,
        piece=pieces,
        origin=places,
        destination=places,
        for_package=packages,
        after_package=packages,
        drive_with=rigs,
    )
    findings = stored(
        Finding,
        document["findings"],
        "code",
        refit=refit,
        found_in=packages,
        piece=pieces,
        zone=zones,
    )
    known: dict[str, Any] = {
        "package": packages, "rework": packages, "piece": pieces, "place": places, "zone": zones,
        "person": crew, "vendor": vendors,
    }  # fmt: skip
    for kind, shape, model in QUALITY_KINDS:
        links = {name: known[name] for name in shape.__annotations__ if name in known}
        rows = document[kind]  # type: ignore[literal-required]
        named = {"scales": "scale", "criteria": "criterion"}.get(kind)
        made = stored(model, rows, "name" if named else "", refit=refit, **links)
        if named:
            known[named] = made
    store_contracts(
        document,
        refit=refit,
        vendors=vendors,
        places=places,
        crew=crew,
        packages=packages,
        findings=findings,
    )

"""From the document to the database: a new refit, whole or not at all."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, TypeVar

from django.db import transaction
from django.db.models import Model

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
    OpeningHours,
    Paper,
    Piece,
    PieceUse,
    Place,
    Refit,
    Vendor,
    WorkPackage,
    Zone,
    record,
)
from refit.work.services import free_slug
from refit.work.wording import say_count, say_list

from .document import RefitDocument, check_document
from .export_quality import KINDS as QUALITY_KINDS

Made = TypeVar("Made", bound=Model)
Row = dict[str, Any]


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
    vendors = _stored(Vendor, document["vendors"], "name", refit=refit)
    _stored(Paper, document["papers"], refit=refit, vendor=vendors)
    places = _stored(Place, document["places"], "name", refit=refit, vendor=vendors)
    crew = _stored(CrewMember, document["crew"], "name", refit=refit)
    zones = _stored(Zone, document["zones"], "name", refit=refit)
    pieces = _stored(Piece, document["pieces"], "tag", refit=refit, place=places, returns_to=places)
    packages = _stored(
        WorkPackage, document["packages"], "code", refit=refit, vendor=vendors, place=places
    )
    for row in document["places"]:
        place = places[row["name"]]
        _stored(OpeningHours, row["hours"], place=place)
        _stored(Closure, row["closures"], place=place)
    for member in document["crew"]:
        _stored(Absence, member["absences"], member=crew[member["name"]])
    hands, zoned, uses = WorkPackage.people.through, WorkPackage.zones.through, []
    for package in document["packages"]:
        stored = packages[package["code"]]
        uses += [
            PieceUse(package=stored, piece=pieces[use["piece"]], effect=use["effect"])
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
    _stored(Distance, document["distances"], refit=refit, origin=places, destination=places)
    _stored(Dependency, document["dependencies"], refit=refit, before=packages, after=packages)
    _stored(Booking, document["bookings"], package=packages)
    _stored(
        Handoff,
        document["handoffs"],
        refit=refit,
        piece=pieces,
        origin=places,
        destination=places,
        for_package=packages,
        after_package=packages,
    )
    _stored(Finding, document["findings"], refit=refit, found_in=packages, piece=pieces, zone=zones)
    known: dict[str, Any] = {
        "package": packages, "rework": packages, "piece": pieces, "place": places, "zone": zones,
        "person": crew, "vendor": vendors,
    }  # fmt: skip
    for kind, shape, model in QUALITY_KINDS:
        links = {name: known[name] for name in shape.__annotations__ if name in known}
        rows = document[kind]  # type: ignore[literal-required]
        named = {"scales": "scale", "criteria": "criterion"}.get(kind)
        made = _stored(model, rows, "name" if named else "", refit=refit, **links)
        if named:
            known[named] = made


def _stored(
    model: type[Made], rows: Iterable[Any], key: str = "", **links: Model | dict[str, Any]
) -> dict[str, Made]:
    """Insert ``rows``; the stored ones by their ``key``.

    ``links``: a row for all of them, or the rows by name that a property of this name refers to.
    """
    made = model._default_manager.bulk_create(
        model(**columns_of(model, row, links)) for row in rows
    )
    return {getattr(one, key): one for one in made} if key else {}


def columns_of(model: type[Model], row: Any, links: Row | None = None) -> Row:
    """The values of ``row`` as Python values for the columns of ``model`` with the same names."""
    links = links or {}
    columns = {field.name: field for field in model._meta.concrete_fields}
    values: Row = {}
    for name, value in row.items():
        if isinstance(links.get(name), dict):
            values[name] = None if value is None else links[name][value]
        elif name in columns and name not in links:
            values[name] = columns[name].to_python(value)
    values |= {name: one for name, one in links.items() if isinstance(one, Model)}
    return values

"""Plain builders for tests: each makes one valid row and takes what matters as arguments."""

from __future__ import annotations

import itertools
from datetime import UTC, date, datetime, time
from typing import Any

from refit.accounts.models import LinkKind, Membership, PrivateLink, Role, User
from refit.accounts.services import issue_link
from refit.custody.models import Handoff
from refit.work.models import (
    Actor,
    Boat,
    CrewMember,
    Dependency,
    OpeningHours,
    Piece,
    PieceEffect,
    PieceUse,
    Place,
    Refit,
    Vendor,
    WorkPackage,
    Zone,
)

_number = itertools.count(1)

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
"""A Wednesday morning."""
A_MANAGER = Actor(name="Runa Ostlund", side="manager")


def a_user(email: str | None = None, **fields: Any) -> User:
    fields.setdefault("name", "Runa Ostlund")
    return User.objects.create_user(
        email or f"user{next(_number)}@refit.example", "bilge-pump-7", **fields
    )


def a_refit(**fields: Any) -> Refit:
    number = next(_number)
    fields.setdefault("name", "Pilothouse refit")
    fields.setdefault("slug", f"pilothouse-{number}")
    fields.setdefault("start", date(2026, 10, 12))
    fields.setdefault("boat", Boat.objects.create(name="Sallow Tern"))
    return Refit.objects.create(**fields)


def a_member(refit: Refit, role: str = Role.MANAGER, **fields: Any) -> User:
    user = a_user(**fields)
    Membership.objects.create(user=user, refit=refit, role=role)
    return user


def a_vendor(refit: Refit, **fields: Any) -> Vendor:
    fields.setdefault("name", f"Vendor {next(_number)}")
    return Vendor.objects.create(refit=refit, **fields)


def a_place(refit: Refit, *, hours: bool = True, **fields: Any) -> Place:
    """A place open Monday to Friday 08:00–17:00, unless ``hours`` is False."""
    fields.setdefault("name", f"Place {next(_number)}")
    place = Place.objects.create(refit=refit, **fields)
    if hours:
        OpeningHours.objects.bulk_create(
            OpeningHours(place=place, weekday=day, opens=time(8), closes=time(17))
            for day in range(5)
        )
    return place


def a_crew_member(refit: Refit, **fields: Any) -> CrewMember:
    fields.setdefault("name", f"Hand {next(_number)}")
    return CrewMember.objects.create(refit=refit, **fields)


def a_zone(refit: Refit, **fields: Any) -> Zone:
    fields.setdefault("name", f"Zone {next(_number)}")
    return Zone.objects.create(refit=refit, **fields)


def a_piece(refit: Refit, **fields: Any) -> Piece:
    number = next(_number)
    fields.setdefault("tag", f"ST-{number:02}")
    fields.setdefault("name", f"Piece {number}")
    return Piece.objects.create(refit=refit, **fields)


def a_package(
    refit: Refit,
    *,
    pieces: list[Piece] | None = None,
    effect: str = PieceEffect.NEEDS,
    minutes: int = 480,
    **fields: Any,
) -> WorkPackage:
    number = next(_number)
    fields.setdefault("code", f"P{number:02}")
    fields.setdefault("title", f"Package {number}")
    fields.setdefault("low_minutes", minutes)
    fields.setdefault("likely_minutes", minutes)
    fields.setdefault("high_minutes", minutes)
    if "place" not in fields:
        fields["place"] = refit.places.first() or a_place(refit)
    package = WorkPackage.objects.create(refit=refit, **fields)
    PieceUse.objects.bulk_create(
        PieceUse(package=package, piece=piece, effect=effect) for piece in pieces or []
    )
    return package


def a_dependency(before: WorkPackage, after: WorkPackage, **fields: Any) -> Dependency:
    fields.setdefault("reason", "one is under the other")
    return Dependency.objects.create(refit=before.refit, before=before, after=after, **fields)


def a_handoff(piece: Piece, origin: Place, destination: Place, **fields: Any) -> Handoff:
    """Planned, unless ``state`` and its moments are given."""
    return Handoff.objects.create(
        refit=piece.refit, piece=piece, origin=origin, destination=destination, **fields
    )


def a_link(
    refit: Refit, kind: LinkKind = LinkKind.OWNER, vendor: Vendor | None = None, **fields: Any
) -> tuple[PrivateLink, str]:
    """A private link made at `NOW`, and its token."""
    fields.setdefault("now", NOW)
    return issue_link(refit=refit, kind=kind, vendor=vendor, **fields)

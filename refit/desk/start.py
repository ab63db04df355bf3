"""Starting a refit: the boat, the refit, its home with hours, the boat as a piece, its manager."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.text import slugify

from refit.accounts.models import Membership, Role, User
from refit.work.models import Actor, Boat, OpeningHours, Piece, Place, PlaceKind, Refit, record
from refit.work.services import free_slug


@transaction.atomic
def start_refit(
    *,
    user: User,
    now: datetime,
    boat_name: str,
    start: date,
    wanted_launch: date | None,
    time_zone: str,
    currency: str,
    units: str,
    home_name: str,
    hours: list[list[Any]],
) -> Refit:
    """Everything a first plan needs except packages. ``hours``: weekday, opens, closes."""
    boat = Boat(name=boat_name)
    boat.full_clean()
    boat.save()
    refit = Refit(
        boat=boat,
        name=f"Refit of {boat_name}"[:120],
        slug=free_slug(slugify(boat_name)[:50] or "refit"),
        start=start,
        wanted_launch=wanted_launch,
        time_zone=time_zone,
        currency=currency,
        units=units,
    )
    refit.full_clean()
    refit.save()
    Membership.objects.create(user=user, refit=refit, role=Role.MANAGER)
    home = Place.objects.create(refit=refit, name=home_name, kind=PlaceKind.HOME)
    for weekday, opens, closes in hours:
        span = OpeningHours(place=home, weekday=weekday, opens=opens, closes=closes)
        span.full_clean()
        span.save()
    Piece.objects.create(
        refit=refit,
        tag="BOAT",
        name=boat_name,
        is_boat=True,
        shared=True,
        place=home,
        since=now,
        returns_to=home,
    )
    record(
        refit=refit,
        actor=Actor(name=user.name or user.email, side="manager", user_id=user.pk),
        now=now,
        verb="started",
        subject=refit,
    )
    return refit

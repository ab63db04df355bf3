"""Two refits with one of everything in each, and every kind of person who may stand at an address.

What may be seen by whom is in `tests.access_table`; asking it is in `tests.test_access_matrix`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal
from typing import Any

from django.test import Client
from django.utils import timezone

from refit.accounts.models import LinkKind, Membership, PrivateLink, Role
from refit.accounts.parts import invite, take_back
from refit.accounts.services import revoke_link
from refit.custody.pictures import add_picture
from refit.interchange.models import Upload
from refit.notices.doors import door_address
from refit.notices.models import DeadAddress, Letter, LetterState
from refit.notices.wishes import stop_token
from refit.planning.models import Baseline
from refit.quality.models import Criterion, Finding, Inspection, PunchItem
from refit.trips.models import Trip, TripStop
from refit.work.models import Boat, Distance, OwnProcess, Paper, Refit, Rig, record
from tests.builders import (
    A_MANAGER,
    a_crew_member,
    a_dependency,
    a_handoff,
    a_link,
    a_member,
    a_package,
    a_piece,
    a_place,
    a_refit,
    a_user,
    a_vendor,
    a_zone,
)
from tests.contracts.scene import a_money_scene
from tests.custody.scene import a_photo

PRICE = Decimal("7319.46")
"""Agreed with the other vendor: in no page of owner or vendor."""
OTHERS_JOB = "Sew the dodger"

OWN_WAY = {
    "key": "own-way",
    "name": "Our way",
    "steps": [
        {
            "key": "one",
            "title": "One",
            "time": {"setup": [0, 0, 0], "each": [1, 2, 3], "standing": "own experience"},
        }
    ],
}

PEOPLE = (
    "nobody",
    "manager",
    "crew",
    "reader",
    "other manager",
    "owner",
    "vendor",
    "other vendor",
    "other owner",
    "other refit's vendor",
    "revoked link",
    "expired link",
    "link without its code",
)


@dataclass
class Site:
    """One refit. ``rows``: what stands in its addresses, by the name that the table uses."""

    refit: Refit
    rows: dict[str, Any] = field(default_factory=dict)


@dataclass
class World:
    here: Site
    there: Site
    people: dict[str, Client]
    """By the names in `PEOPLE`; all parts are in the refit of ``here`` unless the name says so."""


def a_world() -> World:
    here, there = _site("Sallow Tern"), _site("Grey Whimbrel")
    people = {"nobody": Client()}
    for name, site, role in (
        ("manager", here, Role.MANAGER),
        ("crew", here, Role.CREW),
        ("reader", here, Role.READER),
        ("other manager", there, Role.MANAGER),
    ):
        user = a_member(site.refit, role)
        people[name] = Client()
        people[name].force_login(user)
        site.rows.setdefault(f"user {role}", user)
        if role == Role.MANAGER:
            site.rows["upload"] = Upload.objects.create(
                refit=site.refit, user=user, at=timezone.now(), names="pieces.csv",
                tables={"tables": [], "unread": []},
            )  # fmt: skip
    for site in (here, there):
        _give_links(site)
        _invite(site)
    for name, site, door in (
        ("owner", here, "owner"),
        ("vendor", here, "vendor"),
        ("other vendor", here, "other vendor"),
        ("other owner", there, "owner"),
        ("other refit's vendor", there, "vendor"),
        ("revoked link", here, "revoked"),
        ("expired link", here, "expired"),
        ("link without its code", here, "coded"),
    ):
        people[name] = _browser(site, door)
    _end_links(here)
    return World(here, there, people)


def _browser(site: Site, door: str) -> Client:
    client = Client()
    answer = client.get(f"/p/in/{site.rows[f'{door} token']}")
    assert answer.status_code == 302, door
    if door == "coded":
        client.get(f"/p/in/{site.rows['revoked coded token']}")
    return client


def _give_links(site: Site) -> None:
    """Every kind of link; "revoked" and "expired" are live until `_end_links`."""
    rows, now = site.rows, timezone.now()
    for name, kind, vendor in (
        ("owner", LinkKind.OWNER, None),
        ("expired", LinkKind.VENDOR, "vendor"),
        ("revoked", LinkKind.VENDOR, "vendor"),
        ("vendor", LinkKind.VENDOR, "vendor"),
        ("other vendor", LinkKind.VENDOR, "other vendor"),
        ("owner feed", LinkKind.OWNER_FEED, None),
        ("ended feed", LinkKind.VENDOR_FEED, "other vendor"),
        ("vendor feed", LinkKind.VENDOR_FEED, "vendor"),
        ("coded", LinkKind.VENDOR, "vendor"),
        ("revoked coded", LinkKind.VENDOR, "vendor"),
        ("manager feed", LinkKind.MANAGER_FEED, None),
    ):
        link, token = a_link(
            site.refit, kind, rows[vendor] if vendor else None, now=now, asks_code="coded" in name
        )
        rows[f"{name} link"], rows[f"{name} token"] = link, token
    for name, kind, party in (
        ("crew feed", LinkKind.CREW_FEED, {"crew_member": rows["crew member"]}),
        ("place feed", LinkKind.PLACE_FEED, {"place": rows["place"]}),
        ("boat feed", LinkKind.BOAT_FEED, {}),
    ):
        rows[f"{name} link"], rows[f"{name} token"] = a_link(site.refit, kind, now=now, **party)
    door = door_address(rows["letter"], rows["vendor link"], "")
    rows["letter token"] = door.rpartition("/")[2]
    # Making the next link of a kind ends the one before: here all three are wanted at first.
    PrivateLink.objects.filter(refit=site.refit).update(revoked_at=None)


def _invite(site: Site) -> None:
    rows, now = site.rows, timezone.now()
    for name, email in (("ended ", "one@refit.example"), ("", "two@refit.example")):
        rows[f"{name}invitation"], rows[f"{name}invitation token"] = invite(
            refit=site.refit, email=email, role=Role.CREW, invited_by="Runa Ostlund", now=now
        )
    take_back(invitation=rows["ended invitation"], now=now)
    rows["crew's part"] = Membership.objects.get_or_create(
        refit=site.refit, role=Role.CREW, defaults={"user": a_user()}
    )[0]


def _end_links(site: Site) -> None:
    now = timezone.now()
    revoke_link(link=site.rows["revoked link"], now=now)
    revoke_link(link=site.rows["revoked coded link"], now=now)
    revoke_link(link=site.rows["ended feed link"], now=now - timedelta(days=40))
    PrivateLink.objects.filter(pk=site.rows["expired link"].pk).update(
        expires_at=now - timedelta(minutes=1)
    )


def _site(boat: str) -> Site:
    now = timezone.now()
    refit = a_refit(boat=Boat.objects.create(name=boat), owner_name="Ysolde Carrow")
    vendor, other = (
        a_vendor(refit, name=f"Coater of {boat}", email="shop@coater.example"),
        a_vendor(refit, name="Tarn Canvas"),
    )
    home, shop = a_place(refit), a_place(refit, vendor=vendor)
    piece = a_piece(refit, place=shop)
    package = a_package(refit, pieces=[piece], place=shop, vendor=vendor, started_at=now)
    others = a_package(refit, title=OTHERS_JOB, place=home, vendor=other, agreed_price=PRICE)
    handoff = a_handoff(piece, shop, home, due_at=now + timedelta(days=2), after_package=package)
    coming = a_handoff(piece, home, shop)
    picture = add_picture(piece=piece, handoff=handoff, upload=a_photo(), actor=A_MANAGER, now=now)
    site = Site(refit)
    trip = Trip.objects.create(
        refit=refit, day=now.date(), depart_at=now, back_at=now, metres=9, minutes=9, cost=9
    )
    site.rows["trip"] = trip
    site.rows["trip stop"] = TripStop.objects.create(
        trip=trip, number=1, place=home, arrive_at=now, begin_at=now, leave_at=now
    )
    site.rows |= {
        "vendor": vendor,
        "other vendor": other,
        "paper": Paper.objects.create(refit=refit, vendor=vendor, kind="liability"),
        "place": home,
        "shop": shop,
        "piece": piece,
        "package": package,
        "handoff": handoff,
        "coming": coming,
        "picture": picture,
        "dependency": a_dependency(others, package),
        "waiting": package,
        "crew member": a_crew_member(refit),
        "zone": a_zone(refit),
        "rig": Rig.objects.create(refit=refit, name="Pickup"),
        "distance": Distance.objects.create(refit=refit, origin=home, destination=shop, minutes=35),
        "finding": Finding.objects.create(refit=refit, code="N1", title="Soft core", found_at=now),
        "punch item": PunchItem.objects.create(
            refit=refit, code="PL1", title="Cap missing", found_at=now
        ),
        "criterion": Criterion.objects.create(
            refit=refit,
            package=package,
            name="Gloss",
            method="gloss",
            geometry="60",
            rule="at least",
            low=80,
        ),
        "inspection": Inspection.objects.create(
            refit=refit,
            package=package,
            outcome="failed",
            sentence="Dull.",
            inspected_at=now,
            inspected_by="Runa",
        ),
        "own process": OwnProcess.objects.create(refit=refit, key="own-way", content=OWN_WAY),
        "baseline": Baseline.objects.create(
            refit=refit, name="First", kept_at=now, kept_by="Runa", computed_at=now
        ),
        "entry": record(refit=refit, actor=A_MANAGER, now=now, verb="changed", subject=piece),
        "letter": Letter.objects.create(
            refit=refit,
            key=f"letter of {refit.pk}",
            recipient="shop@coater.example",
            side="vendor",
            due_at=now,
            state=LetterState.PARKED,
        ),
    }
    site.rows |= a_money_scene(refit, vendor, others, now)
    site.rows["dead address"] = DeadAddress.objects.create(
        refit=refit, email="old@coater.example", since=now
    )
    site.rows["stop token"] = stop_token(site.rows["letter"])
    return site

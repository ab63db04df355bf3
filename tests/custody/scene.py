"""One frame at a coater's shop, to be brought home: the scene that most tests here begin with."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from io import BytesIO
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from refit.custody.models import Handoff
from refit.work.models import Actor, Piece, Place, PlaceKind, Refit, Vendor, WorkPackage
from tests.builders import NOW, a_handoff, a_package, a_piece, a_place, a_refit, a_vendor

LATER = NOW + timedelta(hours=1)


@dataclass
class Scene:
    refit: Refit
    home: Place
    shop: Place
    vendor: Vendor
    frame: Piece
    coat: WorkPackage
    handoff: Handoff
    """The frame, from the shop to home, after the coat."""

    @property
    def vendor_actor(self) -> Actor:
        return Actor(name=self.vendor.name, side="vendor")


def a_scene(now: datetime = NOW, **handoff_fields: Any) -> Scene:
    refit = a_refit(time_zone="Europe/Lisbon")
    vendor = a_vendor(refit, name="Eiderholm Coatings")
    home = a_place(refit, name="Home shed", kind=PlaceKind.HOME)
    shop = a_place(refit, name="Eiderholm shop", vendor=vendor)
    since = now - timedelta(days=5)
    frame = a_piece(
        refit, name="Top frame", tag="ST-03", place=shop, since=since, parts=15, returns_to=home
    )
    coat = a_package(
        refit,
        code="F03",
        title="Coat the frame",
        vendor=vendor,
        place=shop,
        pieces=[frame],
        started_at=since,
    )
    handoff_fields.setdefault("due_at", now + timedelta(days=2))
    handoff = a_handoff(frame, shop, home, after_package=coat, **handoff_fields)
    return Scene(refit, home, shop, vendor, frame, coat, handoff)


def a_photo(
    name: str = "frame.jpg", size: tuple[int, int] = (640, 480), **save: Any
) -> SimpleUploadedFile:
    out = BytesIO()
    save.setdefault("format", "JPEG")
    Image.new("RGB", size, "teal").save(out, **save)
    return SimpleUploadedFile(name, out.getvalue())

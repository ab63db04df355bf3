"""People at the private pages, and a dump of the tables to see whether anything changed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.apps import apps
from django.test import Client
from django.utils import timezone

from refit.accounts.models import LinkKind, PrivateLink
from refit.accounts.services import revoke_link
from refit.work.models import Refit, Vendor
from tests.builders import a_link, a_refit, a_vendor
from tests.custody.scene import Scene, a_scene


@dataclass
class Door:
    """A browser that has opened a private link."""

    client: Client
    link: PrivateLink
    token: str

    def path(self, rest: str = "") -> str:
        return f"/p/{self.link.public_id}/{rest}"

    def get(self, rest: str = "", **extra: Any) -> Any:
        return self.client.get(self.path(rest), **extra)

    def post(self, rest: str, data: dict[str, Any] | None = None, **extra: Any) -> Any:
        return self.client.post(self.path(rest), data or {}, **extra)


def a_door(
    refit: Refit, kind: LinkKind = LinkKind.VENDOR, vendor: Vendor | None = None, **link: Any
) -> Door:
    made, token = a_link(refit, kind, vendor, now=timezone.now(), **link)
    client = Client()
    assert client.get(f"/p/in/{token}").status_code == 302
    return Door(client, made, token)


@dataclass
class Stage:
    scene: Scene
    vendor: Door
    owner: Door


def a_stage(**handoff: Any) -> Stage:
    """The frame at the coater's, as of now, with the vendor and the owner at their doors."""
    scene = a_scene(now=timezone.now(), **handoff)
    return Stage(
        scene,
        a_door(scene.refit, vendor=scene.vendor),
        a_door(scene.refit, LinkKind.OWNER),
    )


def strangers(stage: Stage) -> dict[str, Door]:
    """Doors from which nobody may do what the vendor of the stage may do. Paths are the vendor's.

    Everybody but "another vendor", "the owner" and "another refit" stands at the vendor's own
    address; those three stand at their own.
    """
    refit, vendor = stage.scene.refit, stage.scene.vendor
    now = timezone.now()
    other_refit = a_refit()
    doors = {
        "nobody": Door(Client(), stage.vendor.link, ""),
        "another vendor": a_door(refit, vendor=a_vendor(refit)),
        "another vendor at this address": Door(
            a_door(refit, vendor=a_vendor(refit)).client, stage.vendor.link, ""
        ),
        "the owner": stage.owner,
        "the owner at this address": Door(stage.owner.client, stage.vendor.link, ""),
        "another refit": a_door(other_refit, vendor=a_vendor(other_refit)),
    }
    # The cookie of these two is good; only the link has ended since.
    revoked = Door(stage.vendor.client, stage.vendor.link, stage.vendor.token)
    revoke_link(link=revoked.link, now=now)
    doors["a revoked link"] = revoked
    expired = a_door(refit, vendor=vendor, expires_at=now + timedelta(hours=1))
    PrivateLink.objects.filter(pk=expired.link.pk).update(expires_at=now - timedelta(minutes=1))
    doors["an expired link"] = expired
    return doors


def dump() -> dict[str, list[dict[str, Any]]]:
    """Every row of every table."""
    return {
        model._meta.db_table: list(model._base_manager.order_by("pk").values())
        for model in apps.get_models()
        if model._meta.managed and not model._meta.proxy
    }

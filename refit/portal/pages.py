"""What the owner's and the vendors' pages share: who acts, and whom to ring."""

from __future__ import annotations

from dataclasses import dataclass

from refit.accounts.models import LinkKind, Membership, PrivateLink, Role
from refit.work.models import Actor, CrewMember, Place, PlaceKind, Refit


def actor_of(link: PrivateLink) -> Actor:
    """The holder of the link as the journal names them."""
    if link.kind == LinkKind.VENDOR and link.vendor is not None:
        return Actor(name=link.vendor.name, side="vendor", link_id=link.pk)
    name = link.refit.owner_name or "the owner"
    return Actor(name=name, side="owner", link_id=link.pk)


@dataclass(frozen=True)
class Contact:
    """Whom to ring. ``phone`` may be empty."""

    name: str
    phone: str

    @property
    def call(self) -> str:
        """The number as a ``tel:`` address wants it (RFC 3966: visual separators left out)."""
        kept = "".join(mark for mark in self.phone if mark.isdigit())
        return f"+{kept}" if self.phone.strip().startswith("+") else kept


def manager_contact(refit: Refit) -> Contact:
    """The refit manager: their own number as one of the crew, or else the home place's."""
    membership = (
        Membership.objects.filter(refit=refit, role=Role.MANAGER)
        .select_related("user")
        .order_by("pk")
        .first()
    )
    name = str(membership.user) if membership else "the refit manager"
    phone = ""
    if membership:
        phone = (
            CrewMember.objects.filter(refit=refit, user=membership.user)
            .values_list("phone", flat=True)
            .first()
        ) or ""
    if not phone:
        phone = (
            Place.objects.filter(refit=refit, kind=PlaceKind.HOME)
            .exclude(phone="")
            .values_list("phone", flat=True)
            .first()
        ) or ""
    return Contact(name=name, phone=phone)

"""Putting the demo into the database: the refit, its manager, the private links."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction

from refit.accounts.models import LinkKind, Membership, Role, User
from refit.accounts.services import issue_link
from refit.contracts.models import Quote
from refit.contracts.services import ask_owner
from refit.interchange.store import import_document
from refit.planning.baselines import keep_baseline
from refit.planning.prospects import announce, work_out_now
from refit.planning.services import replan
from refit.trips.services import replan_trips
from refit.work.models import THE_SOFTWARE, Refit

from . import cast
from .answers import tell_answers
from .scenario import demo_document

SLUG = "sallow-tern"
MANAGER_EMAIL = "runa@sallow-tern.example"


@dataclass(frozen=True)
class DemoAccess:
    """What `serve --demo` prints. ``manager_password`` is None when the account existed already."""

    manager_email: str
    manager_password: str | None
    owner_link: str
    vendor_name: str
    vendor_link: str


def load_demo(*, now: datetime) -> DemoAccess:
    """Load the demo once; every call hands out new private links, which end the earlier ones.

    The password is made up at the first load, shown once and kept only as a hash.
    """
    password = None
    with transaction.atomic():
        refit = Refit.objects.filter(slug=SLUG).first()
        fresh = refit is None
        if refit is None:
            refit = import_document(demo_document(now), actor=THE_SOFTWARE, now=now)
            manager = User.objects.filter(email__iexact=MANAGER_EMAIL).first()
            if manager is None:
                password = "-".join(secrets.token_hex(2) for _ in range(3))
                manager = User.objects.create_user(MANAGER_EMAIL, password, name=cast.RUNA)
            Membership.objects.create(user=manager, refit=refit, role=Role.MANAGER)
            refit.crew.filter(name=cast.RUNA).update(user=manager)
        vendor = refit.vendors.get(name=cast.SCOTER)
        _, owner_token = issue_link(refit=refit, kind=LinkKind.OWNER, now=now)
        _, vendor_token = issue_link(refit=refit, kind=LinkKind.VENDOR, vendor=vendor, now=now)
    if fresh:
        # As it was planned the day before, kept to compare with; then today.
        yesterday = now - timedelta(days=1)
        if replan(refit=refit, now=yesterday) is not None:
            keep_baseline(
                refit=refit, name="As told to the owner", actor=THE_SOFTWARE, now=yesterday
            )
        tell_answers(refit, now)
        replan(refit=refit, now=now)
        _ask_the_owner(refit, now)
        replan_trips(refit=refit, now=now)
    return DemoAccess(
        manager_email=MANAGER_EMAIL,
        manager_password=password,
        owner_link=f"/p/in/{owner_token}",
        vendor_name=vendor.name,
        vendor_link=f"/p/in/{vendor_token}",
    )


def _ask_the_owner(refit: Refit, now: datetime) -> None:
    """Put the change order on the owner's page, with what it does as of today, and work out what
    each quote would do."""
    for change in refit.change_orders.select_related("package", "finding"):
        change.refit = refit
        figures, _ = announce(change, now=now)
        if figures is not None:
            ask_owner(change=change, announcement=figures, actor=THE_SOFTWARE, now=now)
    quotes = Quote.objects.filter(inquiry__refit=refit).select_related("inquiry")
    work_out_now(refit, list(quotes), now=now)

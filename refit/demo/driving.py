"""What the demo drives with. All invented; weights and limits as such vehicles have them
(common practice, no source)."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from refit.trips.models import Driving, Rig
from refit.trips.services import replan_trips
from refit.work.models import Refit


def give_rigs(refit: Refit, now: datetime) -> None:
    """A pickup that can tow the boat, and the trips of the coming weeks."""
    Rig.objects.create(
        refit=refit,
        name="Grey pickup and boat trailer",
        tows_boat=True,
        bed_length_m=Decimal("3.000"),
        bed_width_m=Decimal("2.400"),
        bed_load_kg=Decimal(700),
        per_km=Decimal("0.68"),
        tow_limit_kg=Decimal(3500),
        tongue_limit_kg=Decimal(350),
        tongue_low=Decimal(5),
        tongue_high=Decimal(10),
        country="CA",
        tie_downs_direct=4,
        tie_downs_over=1,
        tie_limit_kg=Decimal(907),
        note="The rack over the bed takes the frame and the rub rail.",
    )
    Driving.objects.create(refit=refit, per_hour=Decimal(38), per_trip=Decimal(8))
    replan_trips(refit=refit, now=now)

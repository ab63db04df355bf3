"""Which papers must be aboard when a trip leaves a stop (common practice, no source)."""

from __future__ import annotations

from refit.trips import towing
from refit.trips.models import Trip, TripStop
from refit.work.models import Refit
from refit.work.wording import say_count

from .rigs import towing_of

SIZE = ("Width", "Height")


def papers_at(refit: Refit, trip: Trip, stop: TripStop, size: list[towing.Finding]) -> list[str]:
    """What must be aboard when the trip leaves ``stop``, as sentences."""
    loads = list(stop.loaded.all())
    lines = [
        f"For {load.handoff.piece.name} a list of what was handed over, signed at both ends:"
        f" {say_count(load.handoff.piece.parts, 'part')}, condition, the time."
        for load in loads
    ]
    if any(load.handoff.piece.is_boat for load in loads):
        lines.append(
            "Registration and insurance of vehicle and trailer, and the boat's own papers."
        )
        lines += [
            f"A permit for this size, if your roads ask for one: {finding.line}"
            for finding in size
            if finding.good is False
        ]
    return lines


def sizes_of(refit: Refit, trip: Trip) -> list[towing.Finding]:
    """What was found about width and height of the boat behind the rig of this trip."""
    if trip.rig is None or not trip.tows:
        return []
    return [found for found in towing_of(trip.rig, refit) if found.what in SIZE]

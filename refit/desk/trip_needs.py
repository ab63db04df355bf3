"""Which papers must be aboard when a trip leaves a stop (common practice, no source)."""

from __future__ import annotations

from datetime import date

from refit.custody.cover import Gap, Stay, gaps
from refit.trips import towing
from refit.trips.models import Trip, TripStop
from refit.work.models import Refit
from refit.work.wording import say_count

from .rigs import towing_of

SIZE = ("Width", "Height")


def papers_at(stop: TripStop, size: list[towing.Finding], bare: list[Gap]) -> list[str]:
    """What must be aboard when the trip leaves ``stop``, and whose insurance does not hold."""
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
    lines += [gap.sentence for gap in bare if gap.vendor.pk == stop.place.vendor_id]
    return lines


def gaps_of(refit: Refit, trip: Trip, today: date) -> list[Gap]:
    """Covers of the shops that this trip brings pieces to, where they do not hold on its day."""
    kept = [
        Stay(stop.place.vendor, load.handoff.piece, trip.day, None, False)
        for stop in trip.stops.all()
        if stop.place.vendor is not None
        for load in stop.unloaded.all()
    ]
    papers = refit.papers.filter(vendor__in={stay.vendor.pk for stay in kept})
    return gaps(kept, papers, today=today)


def sizes_of(refit: Refit, trip: Trip) -> list[towing.Finding]:
    """What was found about width and height of the boat behind the rig of this trip."""
    if trip.rig is None or not trip.tows:
        return []
    return [found for found in towing_of(trip.rig, refit) if found.what in SIZE]

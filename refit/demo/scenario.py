"""The demo refit as one document, told up to this morning."""

from __future__ import annotations

from datetime import datetime

from refit.interchange.document import RefitDocument

from . import cast, driving, jobs, order, pieces, story
from .clock import DemoClock


def demo_document(now: datetime) -> RefitDocument:
    """The document as of ``now`` (aware): today is its Wednesday of week 6."""
    clock = DemoClock.for_now(now)
    packages = jobs.packages()
    story.tell_progress(packages, clock)
    return {
        "format": "refit-document",
        "version": 1,
        "boat": cast.BOAT,
        "refit": cast.refit_row(clock),
        "vendors": cast.VENDORS,
        "places": cast.places(clock),
        "distances": cast.DISTANCES,
        "rigs": driving.RIGS,
        "driving": driving.DRIVING,
        "crew": cast.crew(clock),
        "zones": cast.ZONES,
        "pieces": pieces.pieces(clock),
        "packages": packages,
        "dependencies": order.dependencies(),
        "bookings": story.bookings(clock),
        "handoffs": story.handoffs(clock),
        "findings": story.findings(clock),
    }

"""The demo refit as one document, told up to this morning."""

from __future__ import annotations

from datetime import datetime

from refit.interchange.document import RefitDocument

from . import cast, driving, jobs, money, order, papers, pieces, proof, story
from .clock import DemoClock


def demo_document(now: datetime) -> RefitDocument:
    """The document as of ``now`` (aware): today is its Wednesday of week 6."""
    clock = DemoClock.for_now(now)
    packages = sorted([*jobs.packages(), *money.packages()], key=lambda row: row["code"])
    story.tell_progress(packages, clock)
    proof.name_processes(packages)
    return {
        "format": "refit-document",
        "version": 1,
        "boat": cast.BOAT,
        "refit": cast.refit_row(clock),
        "vendors": [*cast.VENDORS, *money.vendors()],
        "papers": papers.papers(clock),
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
        "processes": proof.processes(),
        "surfaces": proof.surfaces(),
        "survey_items": proof.survey_items(clock),
        "scales": proof.scales(),
        "criteria": proof.criteria(),
        "readings": proof.readings(clock),
        "climate": proof.climate(clock),
        "inspections": proof.inspections(clock),
        "punch_items": proof.punch_items(clock),
        "batches": proof.batches(clock),
        "warranties": proof.warranties(clock),
        "fitted_items": proof.fitted_items(),
        **money.contracts(clock),
    }

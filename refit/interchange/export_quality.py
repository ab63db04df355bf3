"""From the database to the document: processes, surfaces, survey, quality and handing over."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from refit.quality.models import (
    BatchUse,
    ClimateEntry,
    Criterion,
    FittedItem,
    Inspection,
    PunchItem,
    Reading,
    SurveyItem,
    VisualScale,
    Warranty,
)
from refit.work.models import OwnProcess, Refit, Surface

from .columns_of_rows import Names, row_of, rows_of
from .document_quality import (
    BatchRow,
    ClimateEntryRow,
    CriterionRow,
    FittedItemRow,
    InspectionRow,
    ProcessRow,
    PunchItemRow,
    ReadingRow,
    ScaleRow,
    SurfaceRow,
    SurveyItemRow,
    WarrantyRow,
)
from .schema import plain

KINDS: tuple[tuple[str, type, Any], ...] = (
    ("processes", ProcessRow, OwnProcess),
    ("surfaces", SurfaceRow, Surface),
    ("survey_items", SurveyItemRow, SurveyItem),
    ("scales", ScaleRow, VisualScale),
    ("criteria", CriterionRow, Criterion),
    ("readings", ReadingRow, Reading),
    ("climate", ClimateEntryRow, ClimateEntry),
    ("inspections", InspectionRow, Inspection),
    ("punch_items", PunchItemRow, PunchItem),
    ("batches", BatchRow, BatchUse),
    ("warranties", WarrantyRow, Warranty),
    ("fitted_items", FittedItemRow, FittedItem),
)
"""Each list with the shape of its rows and its model; what refers to others comes after them."""


def quality_lists(refit: Refit, names: dict[str, Names]) -> dict[str, list[dict[str, Any]]]:
    """``names``: what references are called, by property; one query a list."""
    known = dict(names)
    lists: dict[str, list[dict[str, Any]]] = {}
    for kind, shape, model in KINDS:
        found = rows_of(model.objects.filter(refit=refit))
        links = {name: known[name] for name in shape.__annotations__ if name in known}
        lists[kind] = [row_of(one, shape, **links) for one in found]
        if kind == "scales":
            known["scale"] = {one["id"]: one["name"] for one in found}
        elif kind == "criteria":
            known["criterion"] = {one["id"]: one["name"] for one in found}
        elif kind == "readings":
            for row in lists[kind]:
                row["values"] = [plain(Decimal(str(one))) for one in row["values"]]
    return lists

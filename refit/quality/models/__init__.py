"""What is found, measured, inspected and handed over. Units metric, moments in UTC."""

from .climate import ClimateEntry
from .findings import Decision, Finding, Severity
from .handover import BatchUse, FittedItem, FittedKind, Warranty
from .inspections import Inspection, Outcome, PunchItem, PunchState
from .readings import Criterion, Geometry, Method, Reading, Rule, Stage, VisualScale
from .survey import Proposal, SurveyItem

__all__ = [
    "BatchUse",
    "ClimateEntry",
    "Criterion",
    "Decision",
    "Finding",
    "FittedItem",
    "FittedKind",
    "Geometry",
    "Inspection",
    "Method",
    "Outcome",
    "Proposal",
    "PunchItem",
    "PunchState",
    "Reading",
    "Rule",
    "Severity",
    "Stage",
    "SurveyItem",
    "VisualScale",
    "Warranty",
]

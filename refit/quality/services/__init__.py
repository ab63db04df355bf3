"""Writes of `refit.quality`: what was found, measured, inspected."""

from .acceptance import apply_acceptance
from .findings import AlreadyDecided, decide_finding
from .inspecting import (
    inspect_criterion,
    inspect_package,
    note_reading,
    reopen_failed,
    rework_package,
    verdict_of,
)

__all__ = [
    "AlreadyDecided",
    "apply_acceptance",
    "decide_finding",
    "inspect_criterion",
    "inspect_package",
    "note_reading",
    "reopen_failed",
    "rework_package",
    "verdict_of",
]

"""Writes of `refit.work`: each locks its row, keeps the rules, writes the journal."""

from .addresses import free_slug
from .applying import (
    Application,
    Applied,
    apply_process,
    free_codes,
    processes_of,
    take_back_application,
)
from .closing import close_refit, reopen_refit
from .edits import Refused, Stale, add_row, can_undo, change_row, remove_row, undo_entry
from .facts import Facts, facts_of
from .progress import finish_package, reopen_package, report_progress, start_package

__all__ = [
    "Application",
    "Applied",
    "Facts",
    "Refused",
    "Stale",
    "add_row",
    "apply_process",
    "can_undo",
    "change_row",
    "close_refit",
    "facts_of",
    "finish_package",
    "free_codes",
    "free_slug",
    "processes_of",
    "remove_row",
    "reopen_package",
    "reopen_refit",
    "report_progress",
    "start_package",
    "take_back_application",
    "undo_entry",
]

"""The notes of a plan as pages show them: the sentence and, of a missed wait, what mends it."""

from __future__ import annotations

from dataclasses import dataclass

from refit.planning.models import Plan


@dataclass(frozen=True)
class Note:
    """``before`` and ``after`` are the codes of a longest wait that is not kept, else empty."""

    said: str
    before: str = ""
    after: str = ""


def notes_of(plan: Plan | None) -> list[Note]:
    """All notes; those of the shortfalls come first, in the order of the shortfalls."""
    if plan is None:
        return []
    missed = [
        (one["before"], one["package"]) if one["kind"] == "window" else ("", "")
        for one in plan.shortfalls
    ]
    rest = len(plan.notes) - len(missed)
    return [
        Note(said, *ends)
        for said, ends in zip(plan.notes, missed + [("", "")] * rest, strict=False)
    ]


def notes_about(plan: Plan | None, code: str) -> list[Note]:
    """The missed waits at either end of which the package stands."""
    return [note for note in notes_of(plan) if code in (note.before, note.after)]

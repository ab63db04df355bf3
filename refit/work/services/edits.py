"""Adding, changing, removing and undoing, the same way for every kind of row.

A change names the facts it sets. With ``opened`` (the facts as the form showed them) it goes
through only if they still hold; otherwise `Stale` and nothing is written.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Model, ProtectedError

from refit.work.models import (
    Actor,
    Boat,
    CrewMember,
    Dependency,
    Distance,
    Driving,
    JournalEntry,
    OwnProcess,
    Paper,
    Piece,
    Place,
    Refit,
    Rig,
    Surface,
    Vendor,
    WorkPackage,
    Zone,
    record,
)
from refit.work.wording import say_count, say_list

from .facts import Facts, as_json, differing, facts_of, put_plain, put_rest
from .locks import lock_pieces

KINDS: dict[str, type[Model]] = {
    str(model._meta.model_name): model
    for model in (
        Refit, Boat, WorkPackage, Dependency, Piece, Place, Distance, Vendor, CrewMember, Zone,
        Rig, Driving,
        OwnProcess, Surface, Paper,
    )
}  # fmt: skip
"""Rows whose changes can be taken back, as the journal calls them. An app above adds its own."""
UNDOABLE = {"changed", "started", "reported", "finished", "reopened", "set the day of"}


def _moves_the_plan(row: Model) -> bool:
    """Rows say so themselves: what no plan depends on does not make the plan stale."""
    return not getattr(row, "beside_the_plan", False)


class Stale(Exception):
    """Somebody changed the row after the form was opened. ``names``: the facts concerned."""

    def __init__(self, names: list[str], opened: Facts, now: Facts) -> None:
        self.names = names
        self.opened = opened
        self.now = now
        super().__init__(f"changed meanwhile: {', '.join(names)}")


class Refused(Exception):
    """The act cannot be done; the message is a sentence for the user."""


@transaction.atomic
def add_row(
    *, refit: Refit, row: Model, facts: Facts, actor: Actor, now: datetime, note: str = ""
) -> None:
    """Store a new row of the refit with these facts. Raises ValidationError, by field."""
    if hasattr(row, "refit_id"):
        row.refit_id = refit.pk
    put_plain(row, facts)
    row.full_clean()
    row.save()
    put_rest(row, facts)
    record(
        refit=refit,
        actor=actor,
        now=now,
        verb="added",
        subject=row,
        after={name: value for name, value in facts_of(row).items() if value not in (None, "", [])},
        note=note,
        replan=_moves_the_plan(row),
    )


@transaction.atomic
def change_row(
    *,
    refit: Refit,
    row: Model,
    facts: Facts,
    actor: Actor,
    now: datetime,
    opened: Facts | None = None,
    verb: str = "changed",
    note: str = "",
    replan: bool = True,
) -> JournalEntry | None:
    """Set these facts; None if they were so already. Raises `Stale`, ValidationError."""
    model = type(row)
    locked = model._default_manager.select_for_update().get(pk=row.pk)
    current = facts_of(locked)
    if opened is not None and (moved := differing(model, opened, current)):
        raise Stale(moved, opened, current)
    names = differing(model, facts, current)
    if not names:
        return None
    new = {name: facts[name] for name in names}
    put_plain(locked, new)
    locked.full_clean()
    locked.save()
    put_rest(locked, new)
    return record(
        refit=refit,
        actor=actor,
        now=now,
        verb=verb,
        subject=locked,
        before={name: current[name] for name in names},
        after={name: value for name, value in facts_of(locked).items() if name in names},
        note=note,
        replan=replan and _moves_the_plan(locked),
    )


@transaction.atomic
def remove_row(*, refit: Refit, row: Model, actor: Actor, now: datetime) -> None:
    """Delete a row and what only describes it. Raises `Refused` while something needs it."""
    facts, name = facts_of(row), str(row)
    try:
        with transaction.atomic():
            type(row)._default_manager.get(pk=row.pk).delete()
    except ProtectedError as kept:
        users = sorted({str(user) for user in kept.protected_objects})
        shown = users[:3] + ([say_count(len(users) - 3, "more thing")] if len(users) > 3 else [])
        raise Refused(f"{name} is still needed by {say_list(shown)}.") from None
    record(
        refit=refit, actor=actor, now=now, verb="removed", subject=row, subject_name=name,
        before=facts, replan=_moves_the_plan(row),
    )  # fmt: skip


def can_undo(entry: JournalEntry) -> bool:
    """The entry is of a kind that `undo_entry` can try to take back."""
    return entry.verb in UNDOABLE and entry.subject_kind in KINDS and bool(entry.before)


@transaction.atomic
def undo_entry(*, entry: JournalEntry, actor: Actor, now: datetime) -> JournalEntry:
    """Put back what one entry changed, if it is still so. Raises `Refused` with the reason."""
    if not can_undo(entry):
        raise Refused("This entry cannot be taken back.")
    model = KINDS[entry.subject_kind]
    lock_pieces(entry.refit_id)
    row = model._default_manager.select_for_update().filter(pk=entry.subject_id).first()
    if row is None:
        raise Refused(f"{entry.subject_name} does not exist any more.")
    before, after = dict(entry.before), dict(entry.after)
    put_back, put_there = before.pop("put", []), after.pop("put", [])
    if differing(model, after, facts_of(row)) or put_there != _standing(put_there):
        raise Refused(f"{entry.subject_name} has been changed again since. Change it by hand.")
    put_plain(row, before)
    try:
        row.full_clean()
    except ValidationError as error:
        raise Refused("It cannot be put back: " + " ".join(error.messages)) from None
    row.save()
    put_rest(row, before)
    _stand(put_back)
    return record(
        refit=entry.refit,
        actor=actor,
        now=now,
        verb="undid",
        subject=row,
        before=entry.after,
        after=entry.before,
        replan=_moves_the_plan(row),
    )


def _standing(put: list[list[Any]]) -> list[list[Any]]:
    """Where the pieces named in ``put`` are now, in the same shape."""
    rows = {p.pk: p for p in Piece.objects.filter(pk__in=[row[0] for row in put])}
    return [
        as_json([pk, rows[pk].fitted, rows[pk].place_id, rows[pk].since])
        for pk, *_ in put
        if pk in rows
    ]


def _stand(put: list[list[Any]]) -> None:
    for pk, fitted, place_id, since in put:
        Piece.objects.filter(pk=pk).update(fitted=fitted, place_id=place_id, since=since)

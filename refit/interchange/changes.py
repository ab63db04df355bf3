"""Storing what sheets change: all of it in one transaction, with one entry in the journal."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from itertools import zip_longest
from typing import Any, cast

from django.db import transaction
from django.db.models import Model

from refit.work.models import (
    Absence,
    Actor,
    Booking,
    Closure,
    CrewMember,
    Dependency,
    Distance,
    JournalEntry,
    OpeningHours,
    Paper,
    Piece,
    PieceUse,
    Place,
    Refit,
    Vendor,
    WorkPackage,
    Zone,
    record,
)
from refit.work.wording import say_count

from .cells import Row
from .columns import BY_KIND
from .document import RefitDocument
from .export import export_refit
from .merging import Changes, Merged, merge
from .reading import SheetError, Tables
from .rows_to_columns import columns_of

_MODELS: dict[str, type[Model]] = {
    "places": Place,
    "vendors": Vendor,
    "papers": Paper,
    "crew": CrewMember,
    "zones": Zone,
    "pieces": Piece,
    "packages": WorkPackage,
    "dependencies": Dependency,
    "distances": Distance,
}
_TO: dict[str, dict[str, str]] = {
    "vendors": {},
    "papers": {"vendor": "vendors"},
    "places": {"vendor": "vendors"},
    "crew": {},
    "zones": {},
    "pieces": {"place": "places", "returns_to": "places"},
    "packages": {"vendor": "vendors", "place": "places"},
    "dependencies": {"before": "packages", "after": "packages"},
    "distances": {"origin": "places", "destination": "places"},
}
"""Lists in the order in which they can be stored, and what their references lead to."""


def preview_sheets(*, refit: Refit, tables: Tables, now: datetime) -> Merged:
    """What storing these tables would do now. Stores nothing."""
    return merge(export_refit(refit), tables, now=now)


@transaction.atomic
def import_sheets(
    *, refit: Refit, tables: Tables, actor: Actor, now: datetime
) -> JournalEntry | None:
    """Store all rows of the tables, or none of them: `SheetError` says every reason.

    None if there was nothing to change.
    """
    Refit.objects.select_for_update().get(pk=refit.pk)
    before = export_refit(refit)
    merged = merge(before, tables, now=now)
    if merged.problems:
        raise SheetError(merged.problems)
    if not merged.anything:
        return None
    _store(refit, before, merged.document)
    return record(
        refit=refit,
        actor=actor,
        now=now,
        verb="imported",
        subject_name=f"sheets: {say_changes(merged.changes)}"[:240],
        before=_told(merged.changes, "before"),
        after=_told(merged.changes, "after"),
    )


def _told(changes: Iterable[Changes], side: str) -> Row:
    """By list and row, what was or is in each column that differs; new rows were nothing."""
    told: Row = {}
    for one in changes:
        rows = {
            name: {each.column: getattr(each, side) for each in differences}
            for name, differences in [*(one.new if side == "after" else []), *one.changed]
        }
        if rows:
            told[one.sheet.kind] = rows
    return told


def say_changes(changes: Iterable[Changes]) -> str:
    """“12 packages new, 3 changed; 2 places new”."""
    said = []
    for one in changes:
        parts = []
        if one.new:
            parts.append(f"{_count(one, len(one.new))} new")
        if one.changed:
            parts.append(
                f"{len(one.changed)} changed"
                if one.new
                else f"{_count(one, len(one.changed))} changed"
            )
        if parts:
            said.append(", ".join(parts))
    return "; ".join(said) or "nothing changed"


def _count(changes: Changes, number: int) -> str:
    one = changes.sheet.one
    return say_count(number, one, "dependencies" if one == "dependency" else None)


def _store(refit: Refit, before: RefitDocument, after: RefitDocument) -> None:
    stored: dict[str, dict[str, Model]] = {}
    for kind, links in _TO.items():
        key = {"pieces": "tag", "packages": "code"}.get(kind, "name")
        model = _MODELS[kind]
        old, new = cast(list[Row], before[kind]), cast(list[Row], after[kind])  # type: ignore[literal-required]
        targets = {name: stored[target] for name, target in links.items()}
        if kind in ("papers", "dependencies", "distances"):
            _store_joins(refit, kind, targets, old, new)
            continue
        there = {getattr(one, key): one for one in model._default_manager.filter(refit=refit)}
        for row, was in _in_turn(old, new):
            values = columns_of(model, row, {"refit": refit, **targets})
            one = there.setdefault(row[key], model())
            _save(one, values)
            _store_parts(one, row, was or {}, stored)
        stored[kind] = there
    bookings = {row["package"]: row for row in before["bookings"]}
    for booking in after["bookings"]:
        if bookings.pop(booking["package"], None) != booking:
            package = cast(WorkPackage, stored["packages"][booking["package"]])
            found = Booking.objects.filter(package=package).first() or Booking()
            _save(found, columns_of(Booking, booking, {"package": package}))
    Booking.objects.filter(package__refit=refit, package__code__in=bookings).delete()


def _in_turn(old: list[Row], new: list[Row]) -> list[tuple[Row, Row | None]]:
    """The rows that differ, with what they were; those that become the boat or the launch last,
    when the one that was it is so no more."""
    differ = [(row, was) for row, was in zip_longest(new, old[: len(new)]) if row != was]
    return sorted(
        differ, key=lambda pair: pair[0].get("is_boat") or pair[0].get("is_launch") or False
    )


def _save(row: Model, values: dict[str, Any]) -> None:
    for name, value in values.items():
        setattr(row, name, value)
    row.save()


def _store_joins(
    refit: Refit, kind: str, targets: dict[str, dict[str, Model]], old: list[Row], new: list[Row]
) -> None:
    """Rows that have no name of their own: they are found by what they join."""
    model = _MODELS[kind]
    columns = [model._meta.get_field(name).attname for name in BY_KIND[kind].keys]  # type: ignore[union-attr]

    def key(one: Model) -> tuple[Any, ...]:
        return tuple(getattr(one, column) for column in columns)

    there = {key(one): one for one in model._default_manager.filter(refit=refit)}
    for row, _ in _in_turn(old, new):
        values = columns_of(model, row, {"refit": refit, **targets})
        made = model(**values)
        _save(there.get(key(made), made), values)


def _store_parts(one: Model, row: Row, was: Row, stored: dict[str, dict[str, Model]]) -> None:
    """Write the lists in ``row`` that differ from ``was``."""

    def differs(name: str) -> bool:
        return bool(row.get(name) != was.get(name, []))

    if isinstance(one, Place) and differs("hours"):
        one.hours.all().delete()
        OpeningHours.objects.bulk_create(
            OpeningHours(**columns_of(OpeningHours, span, {"place": one})) for span in row["hours"]
        )
    if isinstance(one, Place) and differs("closures"):
        one.closures.all().delete()
        Closure.objects.bulk_create(
            Closure(**columns_of(Closure, days, {"place": one})) for days in row["closures"]
        )
    if isinstance(one, CrewMember) and differs("absences"):
        one.absences.all().delete()
        Absence.objects.bulk_create(
            Absence(**columns_of(Absence, days, {"member": one})) for days in row["absences"]
        )
    if isinstance(one, WorkPackage):
        if differs("people"):
            one.people.set([cast(CrewMember, stored["crew"][name]) for name in row["people"]])
        if differs("zones"):
            one.zones.set([cast(Zone, stored["zones"][name]) for name in row["zones"]])
        if differs("pieces"):
            one.piece_uses.all().delete()
            PieceUse.objects.bulk_create(
                PieceUse(
                    package=one, piece_id=stored["pieces"][use["piece"]].pk, effect=use["effect"]
                )
                for use in row["pieces"]
            )

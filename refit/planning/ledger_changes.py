"""What lies between two documents, row by row, and which deed of the journal made it.

Pure: no database, no planning. A `Deed` is one entry of the journal put into the names of the
document (`ledger_deeds`); a `Step` is what is replayed in one go.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, cast

from refit.interchange.document import RefitDocument

Row = dict[str, Any]
Spot = tuple[str, str]
"""A row: the list it is in and what it is called there."""

LISTS = (
    "vendors", "places", "distances", "crew", "zones", "pieces", "packages", "dependencies",
    "bookings", "handoffs", "findings", "goods",
)  # fmt: skip
_KEYS: dict[str, tuple[str, ...]] = {
    "pieces": ("tag",),
    "packages": ("code",),
    "findings": ("code",),
    "goods": ("code",),
    "distances": ("origin", "destination"),
    "dependencies": ("before", "after", "relation"),
    "bookings": ("package",),
    "handoffs": ("piece", "origin", "destination", "after_package", "for_package"),
}
REFIT: Spot = ("refit", "")
DRIVING: Spot = ("driving", "")
"""Of which the plan takes the towing speed."""


@dataclass(frozen=True)
class Change:
    """A row that was added (``before`` None), removed (``after`` None), or got other values in
    ``fields``."""

    spot: Spot
    before: Row | None
    after: Row | None
    fields: tuple[str, ...] = ()

    @property
    def row(self) -> Row:
        return cast(Row, self.after if self.after is not None else self.before)


@dataclass(frozen=True)
class Deed:
    """Somebody did something at a moment. ``fields``: what of the rows; None: anything."""

    entry: int
    at: datetime
    actor: str
    verb: str
    subject: str
    """What it was done to, as a kind: the name of a model, or empty."""
    name: str
    spots: frozenset[Spot]
    fields: frozenset[str] | None = None
    everything: bool = False
    """Takes what nobody else claims: an import."""


@dataclass
class Step:
    """One deed, or several that are one act, with the changes that they made. ``deeds`` empty: the
    journal does not tell who made these changes."""

    at: datetime
    deeds: list[Deed] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)


def differences(before: RefitDocument, after: RefitDocument) -> list[Change]:
    """The changes that turn one document into the other. The boat's own data and handoffs that
    are only planned are left out: no plan depends on them."""
    changes = []
    for spot in (REFIT, DRIVING):
        old, new = cast(Row, before)[spot[0]], cast(Row, after)[spot[0]]
        if names := _differing(old, new):
            changes.append(Change(spot, old, new, names))
    for name in LISTS:
        was, now = _by_key(before, name), _by_key(after, name)
        for key in [*was, *(key for key in now if key not in was)]:
            one, other = was.get(key), now.get(key)
            if one is None or other is None:
                changes.append(Change((name, key), one, other))
            elif names := _differing(one, other):
                changes.append(Change((name, key), one, other, names))
    return changes


def _differing(one: Row, other: Row) -> tuple[str, ...]:
    return tuple(name for name in other if one.get(name) != other[name])


def _by_key(document: RefitDocument, name: str) -> dict[str, Row]:
    rows: dict[str, Row] = {}
    for row in _rows(document, name):
        if name == "handoffs" and row["state"] == "planned":
            continue
        key = key_of(name, row)
        while key in rows:  # the same piece went the same way twice
            key += " again"
        rows[key] = row
    return rows


def _rows(document: RefitDocument, name: str) -> list[Row]:
    return cast(list[Row], document.get(name, []))  # documents kept with older plans have no goods


def key_of(name: str, row: Row) -> str:
    """What a row is called in its list."""
    return " > ".join(str(row[part]) for part in _KEYS.get(name, ("name",)))


def apply_changes(document: RefitDocument, changes: Iterable[Change]) -> RefitDocument:
    """A new document with these changes; the one given stays as it is."""
    result = cast(dict[str, Any], dict(document))
    fresh: dict[str, dict[str, Row]] = {}
    for change in changes:
        name, key = change.spot
        if change.spot in (REFIT, DRIVING):
            result[name] = _with(result[name], change)
            continue
        rows = fresh.setdefault(name, _by_key(document, name))
        if change.after is None:
            rows.pop(key, None)
        elif change.before is None or key not in rows:
            rows[key] = change.after
        else:
            rows[key] = _with(rows[key], change)
    for name, rows in fresh.items():
        planned = [
            row for row in _rows(document, name) if name == "handoffs" and row["state"] == "planned"
        ]
        result[name] = [*rows.values(), *planned]
    return cast(RefitDocument, result)


def _with(row: Row, change: Change) -> Row:
    assert change.after is not None
    return row | {name: change.after[name] for name in change.fields}


def steps_between(
    before: RefitDocument, after: RefitDocument, deeds: list[Deed], *, at: datetime
) -> list[Step]:
    """The changes between the two documents, each with the deed that made it, in the order of
    ``deeds`` (that of the journal). What no deed explains comes last, at the moment ``at``.
    """
    steps = _acts(deeds)
    of_deed = {id(deed): step for step in steps for deed in step.deeds}
    rest: list[Change] = []
    for change in differences(before, after):
        for part, deed in _claimed(change, deeds):
            if deed is None:
                rest.append(part)
            else:
                of_deed[id(deed)].changes.append(part)
    unexplained = Step(at)
    for change in rest:
        (_by_relation(change, steps) or unexplained).changes.append(change)
    return [step for step in [*steps, unexplained] if step.changes]


def _acts(deeds: list[Deed]) -> list[Step]:
    """A promise for a piece is told in several entries, for the piece and for each package."""
    steps: list[Step] = []
    for deed in deeds:
        last = steps[-1].deeds[-1] if steps else None
        one_act = (
            last is not None
            and (last.at, last.actor) == (deed.at, deed.actor)
            and "handoff" in (last.subject, deed.subject)
        )
        if one_act:
            steps[-1].deeds.append(deed)
        else:
            steps.append(Step(deed.at, [deed]))
    return steps


def _claimed(change: Change, deeds: list[Deed]) -> Iterator[tuple[Change, Deed | None]]:
    """The change in parts, each with the last deed that touched its fields."""
    cannot = {"added"} if change.after is None else {"removed"}
    if change.before is not None and change.after is not None:
        cannot = {"added", "removed"}
    there = [deed for deed in deeds if change.spot in deed.spots and deed.verb not in cannot]
    if not there:
        yield change, None
        return
    if not change.fields:
        fitting = [deed for deed in there if _says(deed, change.spot, "")] or there
        yield change, fitting[0] if change.before is None else fitting[-1]
        return
    parts: dict[int, list[str]] = {}
    for name in change.fields:
        numbers = [n for n, deed in enumerate(there) if _says(deed, change.spot, name)]
        parts.setdefault(numbers[-1] if numbers else len(there) - 1, []).append(name)
    for number, names in parts.items():
        yield Change(change.spot, change.before, change.after, tuple(names)), there[number]


def _says(deed: Deed, spot: Spot, name: str) -> bool:
    if deed.fields is None:
        return True
    return ("booking" if spot[0] == "bookings" else name) in deed.fields


def _by_relation(change: Change, steps: list[Step]) -> Step | None:
    """What goes with a row that was added or removed, or with a piece that was handed over."""
    named = set(_references(change))
    for step in steps:
        if any(not made.fields and made.spot in named for made in step.changes):
            return step
    for step in reversed(steps):
        for deed in step.deeds:
            if deed.subject == "handoff" and named & deed.spots:
                return step
    for step in reversed(steps):
        if any(deed.everything for deed in step.deeds):
            return step
    return None


def _references(change: Change) -> Iterator[Spot]:
    name = change.spot[0]
    for row in (change.before, change.after):
        if row is None:
            continue
        match name:
            case "dependencies":
                yield from (("packages", row["before"]), ("packages", row["after"]))
            case "bookings":
                yield ("packages", row["package"])
            case "packages":
                yield from (("pieces", use["piece"]) for use in row["pieces"])
                yield from (("places", row["place"]), ("vendors", row["vendor"] or ""))
            case "pieces":
                yield from (("pieces", row["tag"]), ("places", row["place"] or ""))
            case "handoffs":
                yield ("pieces", row["piece"])
                yield from (
                    ("packages", row[end] or "") for end in ("after_package", "for_package")
                )
            case "distances":
                yield from (("places", row["origin"]), ("places", row["destination"]))
            case "places":
                yield ("vendors", row["vendor"] or "")

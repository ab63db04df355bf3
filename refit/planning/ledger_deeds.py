"""Entries of the journal as deeds on rows of the document: ids become the names used there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Model

from refit.contracts.models import Goods
from refit.custody.models import Handoff
from refit.interchange.document import RefitDocument
from refit.work.models import (
    CrewMember,
    Dependency,
    Distance,
    JournalEntry,
    Piece,
    Place,
    Refit,
    Vendor,
    WorkPackage,
    Zone,
)

from .ledger_changes import DRIVING, REFIT, Deed, Spot

A_LITTLE = timedelta(minutes=1)
_NAMED: dict[str, tuple[type[Model], str, str]] = {
    "workpackage": (WorkPackage, "packages", "code"),
    "piece": (Piece, "pieces", "tag"),
    "place": (Place, "places", "name"),
    "vendor": (Vendor, "vendors", "name"),
    "crewmember": (CrewMember, "crew", "name"),
    "zone": (Zone, "zones", "name"),
    "goods": (Goods, "goods", "code"),
}
"""By kind of subject: its model, its list in the document, the column with its name."""


def deeds_between(
    refit: Refit, since: datetime, until: datetime, *documents: RefitDocument
) -> list[Deed]:
    """What was done between two moments, and a little before and after, first things first: what
    was stored while a plan was being computed bears a later time than the plan. A deed too many
    does no harm, it has made no difference.

    ``documents``: those at both ends; an import may have touched any row of them. One query, and
    one for each kind of subject that occurs.
    """
    rows = JournalEntry.objects.filter(
        refit=refit, at__gte=since - A_LITTLE, at__lte=until + A_LITTLE
    )
    return deeds_of(refit, list(rows.order_by("at", "id")), documents)


def deeds_of(
    refit: Refit, entries: list[JournalEntry], documents: Iterable[RefitDocument] = ()
) -> list[Deed]:
    """These entries as deeds; those that no document can show are left out."""
    names = _Names(refit, entries)
    uses: dict[str, set[Spot]] = {}
    for document in documents:
        for package in document["packages"]:
            for use in package["pieces"]:
                uses.setdefault(use["piece"], set()).add(("packages", package["code"]))
    deeds = []
    for entry in entries:
        spots = set(names.spots(entry, uses))
        everything = entry.verb == "imported"
        if spots or everything:
            deeds.append(
                Deed(
                    entry=entry.pk,
                    at=entry.at,
                    actor=entry.actor_name,
                    verb=entry.verb,
                    subject=entry.subject_kind,
                    name=entry.subject_name,
                    spots=frozenset(spots),
                    fields=_fields(entry),
                    everything=everything,
                )
            )
    return deeds


def _fields(entry: JournalEntry) -> frozenset[str] | None:
    """The names of the columns it changed; None when it is about whole rows or more than one."""
    if entry.verb in ("added", "removed", "imported") or entry.subject_kind == "handoff":
        return None
    return frozenset([*entry.before, *entry.after]) or None


class _Names:
    """Looks up what rows are called, once for each kind of row."""

    def __init__(self, refit: Refit, entries: list[JournalEntry]) -> None:
        self.refit = refit
        self._called: dict[str, dict[int, str]] = {}
        self._gone = {
            (entry.subject_kind, entry.subject_id): entry.before
            for entry in entries
            if entry.verb == "removed"
        }

    def spots(self, entry: JournalEntry, uses: dict[str, set[Spot]]) -> Iterator[Spot]:
        kind = entry.subject_kind
        if kind in _NAMED:
            list_name = _NAMED[kind][1]
            for name in self._names_of(kind, entry.subject_id, entry):
                yield list_name, name
                if kind == "workpackage":
                    yield "bookings", name
            for put in entry.after.get("put", []):
                for name in self._names_of("piece", put[0], None):
                    yield "pieces", name
        elif kind == "dependency":
            yield from self._dependency(entry)
        elif kind == "distance":
            yield from self._distance(entry)
        elif kind == "handoff":
            for tag in self._piece_of(entry):
                yield "pieces", tag
                yield from uses.get(tag, ())
        elif kind == "refit":
            yield REFIT
        elif kind == "driving":
            yield DRIVING
        elif entry.verb == "imported":
            for list_name, rows in (entry.before | entry.after).items():
                if isinstance(rows, dict):
                    yield from ((list_name, name) for name in rows)

    def _names_of(self, kind: str, pk: int | None, entry: JournalEntry | None) -> Iterator[str]:
        model, _, column = _NAMED[kind]
        if kind not in self._called:
            found = model._default_manager.filter(refit=self.refit)
            self._called[kind] = dict(found.values_list("pk", column))
        facts = [self._gone.get((kind, pk), {})]
        if entry is not None:
            facts += [entry.before, entry.after]
        names = [self._called[kind].get(pk or 0), *(one.get(column) for one in facts)]
        yield from (name for name in dict.fromkeys(names) if name)

    def _dependency(self, entry: JournalEntry) -> Iterator[Spot]:
        found = Dependency.objects.filter(pk=entry.subject_id or 0).values(
            "before", "after", "relation"
        )
        row: dict[str, Any] = dict(found.first() or {})
        for facts in (row, row | entry.before, row | entry.after):
            for before in self._names_of("workpackage", facts.get("before"), None):
                for after in self._names_of("workpackage", facts.get("after"), None):
                    yield "dependencies", f"{before} > {after} > {facts.get('relation')}"

    def _distance(self, entry: JournalEntry) -> Iterator[Spot]:
        found = Distance.objects.filter(pk=entry.subject_id or 0).values("origin", "destination")
        facts: dict[str, Any] = dict(found.first() or {}) | entry.before | entry.after
        for origin in self._names_of("place", facts.get("origin"), None):
            for destination in self._names_of("place", facts.get("destination"), None):
                yield "distances", f"{origin} > {destination}"

    def _piece_of(self, entry: JournalEntry) -> list[str]:
        rows = Handoff.objects.filter(pk=entry.subject_id or 0)
        return list(rows.values_list("piece__tag", flat=True))

"""The changes that can be tried in a sandbox, and how each is written.

A change is an object of JSON: ``kind``, ``id`` (unique in its sandbox), ``said`` (a sentence
without a full stop, as of when it was entered) and the fields of its kind, rows by their id:

- late: ``vendor``, ``package`` or None, ``days``. The end of the work is promised so many open
  days of the shop later than planned: for the package, or else for all that the vendor has in
  hand, or else for its next one.
- add: ``code``, ``title``, ``place``, ``vendor`` or None, ``minutes``, ``helpers``, ``after``,
  ``before`` and ``pieces`` (lists), ``reason``, ``budget`` or None.
- work: ``package``, ``minutes`` of working time; what is left of it, once it was begun.
- drop: ``package``.
- shut: ``place``, ``first``, ``last``, ``reason``.
- hire: ``name``.
- book: ``package``, ``booking`` (`refit.work.models.BookingKind`), ``at``, ``agreed_with``.
- deadline: ``package``, ``at`` or None, ``reason``.
- between: ``facts`` of a package that comes between ``before`` and ``after``, ``min_lag`` and
  ``lag_in`` of its wait, ``max_lag`` of what follows it, ``reason_before`` and ``reason_after``;
  the longest wait between the two no longer counts (`remedies` makes it).

There is one way to write a change: that of the services, on real rows. The sandbox is a
transaction which is rolled back (`whatif`), so what is tried and what is applied cannot differ.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Model

from refit.work.models import (
    Actor,
    CrewMember,
    Dependency,
    PieceEffect,
    Place,
    Refit,
    WorkPackage,
)
from refit.work.services import Facts, Refused, add_row, change_row, facts_of, remove_row

from .models import Plan, PlannedPackage

Change = dict[str, Any]
NOTE = "Tried as a what-if first."
FAR = 1500
"""Days looked through for an open one."""


class Impossible(Exception):
    """The change cannot be made as things are now; the message is a sentence."""


@dataclass
class Writing:
    """Where changes are written and in whose name. ``versions``: by how many the version of the
    refit rises through them."""

    refit: Refit
    actor: Actor
    now: datetime
    plan: Plan | None
    versions: int = 0

    def write(self, change: Change) -> None:
        """Raises Impossible; call inside a transaction."""
        try:
            _WRITERS[change["kind"]](self, change)
        except ValidationError as error:
            raise Impossible(" ".join(error.messages)) from error
        except Refused as error:
            raise Impossible(str(error)) from error

    def add(self, row: Model, facts: Facts) -> None:
        add_row(
            refit=self.refit, row=row, facts=facts, actor=self.actor, now=self.now, note=NOTE
        )  # fmt: skip
        self.versions += 1

    def set(self, row: Model, facts: Facts, verb: str = "changed") -> None:
        entry = change_row(
            refit=self.refit, row=row, facts=facts, actor=self.actor, now=self.now, verb=verb,
            note=NOTE,
        )  # fmt: skip
        self.versions += entry is not None

    def package(self, pk: int) -> WorkPackage:
        row = WorkPackage.objects.select_related("place").filter(refit=self.refit, pk=pk).first()
        if row is None:
            raise Impossible("The package does not exist any more.")
        return row

    def unfinished(self, pk: int) -> WorkPackage:
        row = self.package(pk)
        if row.is_finished:
            raise Impossible(f"{row} is finished already.")
        return row

    def place(self, pk: int) -> Place:
        row = Place.objects.filter(refit=self.refit, pk=pk).first()
        if row is None:
            raise Impossible("The place does not exist any more.")
        return row


def _late(writing: Writing, change: Change) -> None:
    planned = _in_hand(writing, change["vendor"], change["package"])
    if not planned:
        raise Impossible("Nothing that is unfinished is planned for it.")
    for row in planned:
        place = row.package.place
        at = open_days_later(place, writing.refit.local(row.work_finish), change["days"])
        writing.set(row.package, {"promised": at})


def _in_hand(writing: Writing, vendor: int, package: int | None) -> list[PlannedPackage]:
    """The planned packages that a late vendor is late with."""
    rows = list(
        PlannedPackage.objects.filter(
            plan=writing.plan, package__vendor=vendor, package__finished_at=None
        )
        .select_related("package__place")
        .order_by("start", "id")
    )
    if package is not None:
        return [row for row in rows if row.package_id == package]
    return [row for row in rows if row.package.is_started] or rows[:1]


def open_days_later(place: Place, moment: datetime, days: int) -> datetime:
    """The same time of day on the ``days``-th open day of the place after ``moment``.

    Public holidays are not looked at; work that ends on one is planned around it anyway.
    """
    weekdays = {row.weekday for row in place.hours.all()} or set(range(7))
    shut = [(row.first_day, row.last_day) for row in place.closures.all()]
    day, left = moment.date(), days
    for _ in range(FAR):
        if not left:
            break
        day += timedelta(days=1)
        is_open = day.weekday() in weekdays and not any(a <= day <= b for a, b in shut)
        left -= is_open
    return datetime.combine(day, moment.time(), moment.tzinfo)


def _add(writing: Writing, change: Change) -> None:
    refit = writing.refit
    package = WorkPackage(refit=refit)
    place = writing.place(change["place"])
    facts = {
        "code": change["code"],
        "title": change["title"],
        "place": place.pk,
        "vendor": change["vendor"],
        "low_minutes": change["minutes"],
        "likely_minutes": change["minutes"],
        "high_minutes": change["minutes"],
        "helpers": change["helpers"],
        "budget": change["budget"],
        "pieces": [[piece, str(PieceEffect.NEEDS)] for piece in change["pieces"]],
    }
    writing.add(package, facts)
    links = [(writing.package(pk), package) for pk in change["after"]]
    links += [(package, writing.package(pk)) for pk in change["before"]]
    for before, after in links:
        ends = {"before": before.pk, "after": after.pk, "reason": change["reason"]}
        writing.add(Dependency(refit=refit), ends)


def _work(writing: Writing, change: Change) -> None:
    row, minutes = writing.unfinished(change["package"]), change["minutes"]
    if row.is_started:
        writing.set(row, {"remaining_minutes": minutes}, verb="reported")
        return
    facts = {
        "low_minutes": min(row.low_minutes, minutes),
        "likely_minutes": minutes,
        "high_minutes": max(row.high_minutes, minutes),
    }
    writing.set(row, facts)


def _drop(writing: Writing, change: Change) -> None:
    row = writing.package(change["package"])
    remove_row(refit=writing.refit, row=row, actor=writing.actor, now=writing.now)
    writing.versions += 1


def _shut(writing: Writing, change: Change) -> None:
    row = writing.place(change["place"])
    first, last = date.fromisoformat(change["first"]), date.fromisoformat(change["last"])
    days = [first.isoformat(), last.isoformat(), change["reason"]]
    writing.set(row, {"closures": [*facts_of(row)["closures"], days]})


def _hire(writing: Writing, change: Change) -> None:
    writing.add(CrewMember(refit=writing.refit), {"name": change["name"]})


def _book(writing: Writing, change: Change) -> None:
    row = writing.unfinished(change["package"])
    if row.is_started:
        raise Impossible(f"{row} has begun: a date agreed for its start changes nothing.")
    booking = {
        "kind": change["booking"],
        "at": change["at"],
        "agreed_with": change["agreed_with"],
        "note": "",
    }
    writing.set(row, {"booking": booking})


def _deadline(writing: Writing, change: Change) -> None:
    row = writing.unfinished(change["package"])
    writing.set(row, {"deadline": change["at"], "deadline_reason": change["reason"]})


def _between(writing: Writing, change: Change) -> None:
    before, after = writing.package(change["before"]), writing.package(change["after"])
    if after.is_started:
        raise Impossible(f"{after} has begun: nothing can come before it any more.")
    refit, new = writing.refit, WorkPackage(refit=writing.refit)
    writing.add(new, change["facts"])
    first = {
        "before": before.pk,
        "after": new.pk,
        "min_lag_minutes": change["min_lag"],
        "lag_in": change["lag_in"],
        "reason": change["reason_before"],
    }
    writing.add(Dependency(refit=refit), first)
    second = {
        "before": new.pk,
        "after": after.pk,
        "max_lag_minutes": change["max_lag"],
        "reason": change["reason_after"],
    }
    writing.add(Dependency(refit=refit), second)
    for link in Dependency.objects.filter(before=before, after=after):
        writing.set(link, {"max_lag_minutes": None})


_WRITERS: dict[str, Callable[[Writing, Change], None]] = {
    "late": _late,
    "add": _add,
    "work": _work,
    "drop": _drop,
    "shut": _shut,
    "hire": _hire,
    "book": _book,
    "deadline": _deadline,
    "between": _between,
}

"""What kind of thing moved the launch, whose it was, and how that is said. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from typing import TypedDict
from zoneinfo import ZoneInfo

from refit.interchange.document import PackageRow, RefitDocument
from refit.work.wording import say_day, say_elapsed, say_list, say_moment, say_working_time

from .ledger_changes import Change, Step
from .models import LedgerKind

OUR_CREW = "our crew"
_PROGRESS_VERBS = {"started", "reported", "finished", "reopened", "said ready", "took back ready"}
_PROGRESS_FIELDS = {"started_at", "remaining_minutes", "finished_at"}
_SHOWN = 3
"""Details of one step that are said at most."""
_BY_LIST = {
    "dependencies": LedgerKind.ORDER,
    "bookings": LedgerKind.BOOKING,
    "places": LedgerKind.HOURS,
    "crew": LedgerKind.CREW,
    "pieces": LedgerKind.PIECE,
    "handoffs": LedgerKind.PIECE,
}


class Words(TypedDict):
    said: str
    party: str
    package: str | None


def cause_of_time(document: RefitDocument, driving: list[str]) -> Words:
    """Time passed: the first package of the chain that is not finished was waited for."""
    rows = {row["code"]: row for row in document["packages"]}
    for code in driving:
        row = rows.get(code)
        if row is None or row["finished_at"] is not None:
            continue
        state = "reported as begun" if row["started_at"] is None else "reported as finished"
        return {
            "said": f"time passed, and {code} {row['title']} was not {state}",
            "party": _party(row),
            "package": code,
        }
    return {"said": "time passed", "party": "", "package": None}


def cause_of_step(
    step: Step, before: RefitDocument, after: RefitDocument
) -> tuple[LedgerKind, Words]:
    """The kind of one step, and the rest of its cause."""
    kind = _kind(step, after)
    row = _package(step, before, after)
    party = "" if row is None else _party(row)
    place = next((one for one in step.changes if one.spot[0] == "places"), None)
    if kind is LedgerKind.HOURS and place is not None:
        party = place.row["vendor"] or OUR_CREW
    elif kind is LedgerKind.CREW:
        party = OUR_CREW
    elif kind in (LedgerKind.SHEETS, LedgerKind.SETTINGS):
        party = ""
    words: Words = {
        "said": _said(step, after),
        "party": party,
        "package": None if row is None else row["code"],
    }
    return kind, words


def _kind(step: Step, after: RefitDocument) -> LedgerKind:
    verbs = {deed.verb for deed in step.deeds}
    lists = {change.spot[0] for change in step.changes}
    fields = {
        name for change in step.changes if change.spot[0] == "packages" for name in change.fields
    }
    if "imported" in verbs:
        return LedgerKind.SHEETS
    if "promised" in verbs or fields == {"promised"}:
        return LedgerKind.PROMISE
    if verbs & _PROGRESS_VERBS or (fields and fields <= _PROGRESS_FIELDS):
        return LedgerKind.PROGRESS
    if "packages" in lists:
        added = {
            c.row["code"] for c in step.changes if c.spot[0] == "packages" and c.before is None
        }
        found = {row["code"] for row in after["findings"]}
        return LedgerKind.FINDING if added & found else LedgerKind.SCOPE
    for name, kind in _BY_LIST.items():
        if name in lists:
            return kind
    return LedgerKind.SETTINGS if step.deeds else LedgerKind.SEVERAL


def _package(step: Step, before: RefitDocument, after: RefitDocument) -> PackageRow | None:
    """The package that the step is about: changed itself, or waiting, or with the date."""
    rows = {row["code"]: row for document in (before, after) for row in document["packages"]}
    for name, column in (("packages", "code"), ("bookings", "package"), ("dependencies", "after")):
        for change in step.changes:
            if change.spot[0] == name:
                return rows.get(change.row[column])
    return None


def _party(row: PackageRow) -> str:
    return row["vendor"] or OUR_CREW


def _said(step: Step, after: RefitDocument) -> str:
    if not step.deeds:
        return "something changed that the journal does not tell"
    deed = step.deeds[-1]
    said = f"{deed.actor} {deed.verb} {deed.name}".rstrip()
    if deed.verb in ("added", "removed", "imported"):
        return said
    details = list(dict.fromkeys(_Details(step, after)))[:_SHOWN]
    return f"{said}: {'; '.join(details)}" if details else said


class _Details:
    """What a step changed, said one after the other, as of its day."""

    def __init__(self, step: Step, document: RefitDocument) -> None:
        self.changes = step.changes
        self.is_promise = step.deeds[-1].verb == "promised"
        self.zone = ZoneInfo(document["refit"]["time_zone"])
        self.day = Decimal(document["refit"]["hours_a_day"])
        self.today = step.at.astimezone(self.zone).date()

    def __iter__(self) -> Iterator[str]:
        for change in self.changes:
            if change.spot[0] == "bookings":
                yield self._booking(change)
            elif change.spot[0] == "places" and "closures" in change.fields:
                yield from self._closures(change)
            elif change.spot[0] == "packages":
                for name in change.fields:
                    yield from self._package(name, change)

    def _booking(self, change: Change) -> str:
        if change.after is None:
            return "no agreed date any more"
        return f"agreed for {self._moment(change.after['at'])}"

    def _closures(self, change: Change) -> Iterator[str]:
        assert change.before is not None
        assert change.after is not None
        for row in change.after["closures"]:
            if row not in change.before["closures"]:
                first, last = (
                    say_day(date.fromisoformat(row[end]), self.today)
                    for end in ("first_day", "last_day")
                )
                yield f"shut {first}" if first == last else f"shut {first} to {last}"

    def _package(self, name: str, change: Change) -> Iterator[str]:
        assert change.before is not None
        assert change.after is not None
        was, now = change.before[name], change.after[name]
        match name:
            case "promised":
                said = "" if self.is_promise else "promised for "
                yield f"{said}{self._moment(now)}" if now else "no promise any more"
            case "deadline":
                yield f"to be finished by {self._moment(now)}" if now else "no deadline any more"
            case "likely_minutes":
                yield f"{self._work(now)} of work instead of {self._work(was)}"
            case "remaining_minutes" if now is not None:
                yield f"{self._work(now)} left"
            case "hold_minutes":
                yield f"hold of {say_elapsed(now)} instead of {say_elapsed(was)}"
            case "unbroken":
                yield "done in one go" if now else "may be interrupted"
            case "vendor":
                yield f"done by {now or OUR_CREW}"
            case "place":
                yield f"at {now}"
            case "people":
                yield f"by {say_list(now)}" if now else "nobody named"

    def _work(self, minutes: int) -> str:
        return say_working_time(minutes, self.day)

    def _moment(self, text: str) -> str:
        return say_moment(datetime.fromisoformat(text), self.zone, self.today)

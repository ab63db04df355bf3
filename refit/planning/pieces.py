"""Where the pieces of a refit are when planning begins, and which of them ride on the boat.

What the record says is taken first. Three things correct it:

1. *Evidence.* Work that was begun at a place after the record was last touched means that its
   pieces are there.
2. *A piece under way* is where it is going, from the moment it is expected to arrive.
3. *A fitted piece* is where the boat is. Work on it, and taking it off or fitting it, needs the
   boat at that place too, and it never travels alone: such moves are left out of what people see.

Whether a piece is on the boat when a package begins follows from what that package waits for:
the last of those that take it off or fit it. A package that works on the piece at another place
than the one where it comes off (or is fitted), and is not ordered against that, waits for it (or
goes before it): a piece cannot be in a shop while it is on the boat.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from itertools import pairwise

from refit.interchange.document import HandoffRow, PackageRow, PieceRow, RefitDocument
from refit.scheduling.problem import Minutes

from .calendars import Clock
from .travel import Roads

TAKES_OFF, FITS = "takes off", "fits"


@dataclass(frozen=True, slots=True)
class Spot:
    """A piece is at ``place`` and can be used or leave from ``free_from``.

    ``since``: when the record, or the evidence, says that it came there. ``on_the_way``: it is
    expected there, the record does not have it yet. ``assumed``: nobody has said.
    """

    place: str
    since: datetime | None = None
    free_from: Minutes | None = None
    on_the_way: bool = False
    assumed: bool = False


@dataclass(slots=True)
class Pieces:
    """What the planner makes of the pieces of one document. Built by `read_pieces`."""

    boat: str | None
    spots: dict[str, Spot]
    fitted: set[str]
    """Tags of the pieces that are on the boat now."""
    used_by: dict[str, tuple[str, ...]]
    """Package code to the tags that must be at its place, with the boat where it carries one."""
    comes_first: dict[tuple[str, str], str] = field(default_factory=dict)
    """Pairs of packages, before and after, that follow from a piece being on the boat; its tag."""
    left_early: list[tuple[str, str]] = field(default_factory=list)
    """Unfinished packages and the pieces that have left their place, by code and tag."""
    _fitted_after: dict[tuple[str, str], bool] = field(default_factory=dict)
    _stays_fitted: set[str] = field(default_factory=set)

    def rides(self, tag: str, after: str | None) -> bool:
        """Whether a piece that leaves after a package (None: where it is now) is on the boat."""
        if tag == self.boat:
            return False
        if after is None:
            return tag in self.fitted
        return self._fitted_after.get((after, tag), False)

    def stays_fitted(self, tag: str) -> bool:
        """Whether the piece is on the boat when everything is done."""
        return tag in self._stays_fitted


def read_pieces(document: RefitDocument, clock: Clock, roads: Roads, now: datetime) -> Pieces:
    """All of it; a ring among the packages is not this module's to report and does no harm."""
    boat = next((row["tag"] for row in document["pieces"] if row["is_boat"]), None)
    reader = _Reader(document, clock, roads, now)
    spots = {row["tag"]: reader.spot(row) for row in document["pieces"]}
    fitted = {row["tag"] for row in document["pieces"] if boat and reader.is_fitted(row)}
    fitted.discard(boat or "")
    if boat:
        for tag in fitted:
            spots[tag] = spots[boat]
    pieces = Pieces(boat, spots, fitted, {})
    effects = _Effects(document, pieces)
    for package in document["packages"]:
        pieces.used_by[package["code"]] = reader.needed(package, pieces, effects)
    return pieces


class _Reader:
    """Looks up the record and the evidence of one document."""

    def __init__(self, document: RefitDocument, clock: Clock, roads: Roads, now: datetime) -> None:
        self.document, self.clock, self.roads, self.now = document, clock, roads, now
        self.places = {row["name"] for row in document["places"]}
        self.boat = next((row["tag"] for row in document["pieces"] if row["is_boat"]), None)
        self.under_way: dict[str, HandoffRow] = {
            row["piece"]: row for row in document["handoffs"] if row["state"] == "under way"
        }
        self.begun: dict[str, list[tuple[datetime, PackageRow]]] = {}
        self.uses: dict[str, list[tuple[PackageRow, str]]] = {}
        for package in document["packages"]:
            started = moment_of(package["started_at"])
            for use in package["pieces"]:
                self.uses.setdefault(use["piece"], []).append((package, use["effect"]))
                if started is not None:
                    self.begun.setdefault(use["piece"], []).append((started, package))

    def spot(self, row: PieceRow) -> Spot:
        tag = row["tag"]
        since = moment_of(row["since"])
        last = max(self.begun.get(tag, ()), key=lambda begun: begun[0], default=None)
        handoff = self.under_way.get(tag)
        if handoff is not None:
            sent = moment_of(handoff["sent_at"])
            if last is None or sent is None or last[0] < sent:
                return self._expected(handoff, sent)
        if last is not None and (since is None or last[0] >= since):
            return Spot(last[1]["place"], last[0])
        if row["place"] is not None:
            return Spot(row["place"], since)
        return Spot(self._likely_place(row), assumed=True)

    def _expected(self, handoff: HandoffRow, sent: datetime | None) -> Spot:
        """When it was planned to arrive, or as long after it was sent as the way takes."""
        arrive = moment_of(handoff["arrive_at"])
        minutes = self.clock.minutes_up(self.now)
        if sent is not None and (arrive is None or arrive <= sent):
            towed = handoff["piece"] == self.boat
            way = self.roads.way(handoff["origin"], handoff["destination"], towed=towed)
            minutes = max(minutes, self.clock.minutes_up(sent) + way.minutes)
        elif arrive is not None:
            minutes = max(minutes, self.clock.minutes_up(arrive))
        return Spot(handoff["destination"], sent, minutes, on_the_way=True)

    def _likely_place(self, row: PieceRow) -> str:
        if row["returns_to"] is not None:
            return row["returns_to"]
        for package, _ in self.uses.get(row["tag"], ()):
            return package["place"]
        return (
            next((p["name"] for p in self.document["places"] if p["kind"] == "home"), "")
            or (self.document["places"][0]["name"])
        )

    def is_fitted(self, row: PieceRow) -> bool:
        """The record, unless something finished after it took the piece off or fitted it."""
        fitted, latest = row["fitted"], moment_of(row["since"])
        for package, effect in self.uses.get(row["tag"], ()):
            finished = moment_of(package["finished_at"])
            if effect == "needs" or finished is None:
                continue
            if latest is None or finished >= latest:
                fitted, latest = effect == FITS, finished
        return fitted

    def needed(self, package: PackageRow, pieces: Pieces, effects: _Effects) -> tuple[str, ...]:
        """Tags that must be at the package's place; those that left a begun package are not."""
        code, started = package["code"], moment_of(package["started_at"])
        tags = [use["piece"] for use in package["pieces"]]
        open_still = package["finished_at"] is None
        on_boat = (effects.on_boat(code, u["piece"], u["effect"]) for u in package["pieces"])
        if open_still and pieces.boat and pieces.boat not in tags and any(on_boat):
            tags.append(pieces.boat)
        if started is None:
            return tuple(tags)
        there = []
        for tag in tags:
            spot = pieces.spots[tag]
            gone = spot.place != package["place"] or spot.on_the_way
            if gone and spot.since is not None and spot.since > started:
                if package["finished_at"] is None:
                    pieces.left_early.append((code, tag))
            else:
                there.append(tag)
        return tuple(there)


class _Effects:
    """Which pieces are on the boat when, read off the order of the packages."""

    def __init__(self, document: RefitDocument, pieces: Pieces) -> None:
        self.pieces = pieces
        self.packages = {row["code"]: row for row in document["packages"]}
        self.after: dict[str, list[str]] = {code: [] for code in self.packages}
        for dependency in document["dependencies"]:
            self.after[dependency["before"]].append(dependency["after"])
        self._reached: dict[str, set[str]] = {}
        self.changing: dict[str, list[tuple[str, str]]] = {}
        """Piece to the packages still open that take it off or fit it, in working order."""
        users: dict[str, list[str]] = {}
        for row in document["packages"]:
            for use in row["pieces"]:
                if use["effect"] != "needs" and row["finished_at"] is None:
                    changing = self.changing.setdefault(use["piece"], [])
                    changing.append((row["code"], use["effect"]))
                elif use["effect"] == "needs" and row["started_at"] is None:
                    users.setdefault(use["piece"], []).append(row["code"])
        if pieces.boat is None:
            self.changing.clear()
        for tag in self.changing:
            self._put_in_order(tag, users.get(tag, ()))
        pieces._stays_fitted.update(tag for tag in pieces.spots if self._at_the_end(tag))
        for row in document["packages"]:
            for use in row["pieces"]:
                tag, effect = use["piece"], use["effect"]
                stays = effect != TAKES_OFF and self.on_boat(row["code"], tag, effect)
                pieces._fitted_after[row["code"], tag] = stays

    def reached(self, code: str) -> set[str]:
        """All packages that wait for this one, directly or not."""
        if code not in self._reached:
            seen: set[str] = set()
            ahead = list(self.after[code])
            while ahead:
                other = ahead.pop()
                if other not in seen:
                    seen.add(other)
                    ahead.extend(self.after[other])
            self._reached[code] = seen
        return self._reached[code]

    def on_boat(self, code: str, tag: str, effect: str) -> bool:
        """Whether the piece is on the boat when the package begins or, fitted by it, ends."""
        if tag == self.pieces.boat or self.pieces.boat is None:
            return False
        if effect != "needs":
            return True
        fitted = tag in self.pieces.fitted
        for change, kind in self.changing.get(tag, ()):
            if code in self.reached(change):
                fitted = kind == FITS
        return fitted

    def _at_the_end(self, tag: str) -> bool:
        fitted = tag in self.pieces.fitted
        for _, kind in self.changing.get(tag, ()):
            fitted = kind == FITS
        return fitted

    def _put_in_order(self, tag: str, users: Iterable[str]) -> None:
        """Add what follows from the piece being on the boat, where nobody has stated an order."""
        first = TAKES_OFF if tag in self.pieces.fitted else FITS
        changing = self.changing[tag]
        changing.sort(key=lambda change: (-len(self.reached(change[0])), change[1] != first))
        for (before, kind), (after, then) in pairwise(changing):
            if kind != then:
                self._wait(before, after, tag)
        for change, kind in changing:
            for code in users:
                if self.packages[code]["place"] != self.packages[change]["place"]:
                    pair = (change, code) if kind == TAKES_OFF else (code, change)
                    self._wait(*pair, tag)

    def _wait(self, before: str, after: str, tag: str) -> None:
        if after in self.reached(before) or before in self.reached(after):
            return
        self.pieces.comes_first[before, after] = tag
        self.after[before].append(after)
        self._reached.clear()


def moment_of(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)

"""Where each piece is at every moment: its stays and the ways between them, from rows alone.

A piece is followed only while it is off the boat: from the package that takes it off to the one
that fits it again. What happened comes before what is planned, and what is known of a piece at
one moment (a package worked on it there, it was received there) is a *sighting*. Two sightings
at different places without a move between them give a way that is marked as not recorded.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, time, timedelta

from .rows import Effect, LegRow, PackageRow, PieceRow, Rows

UNRECORDED = timedelta(hours=4)
"""How long before the next sighting an unrecorded way is drawn at most; a guess, shown as one."""


@dataclass(frozen=True, slots=True)
class Stay:
    """One piece at one place. ``begins`` and ``ends`` are indices of ways, or None; then
    ``taken_off_by`` and ``fitted_by`` name the package where its line leaves or joins the boat."""

    piece: int
    place: int
    start: datetime
    end: datetime
    begins: int | None = None
    ends: int | None = None
    taken_off_by: str | None = None
    fitted_by: str | None = None


@dataclass(frozen=True, slots=True)
class Courses:
    """``seats``: the stay on which each package is drawn, None for the quiet track of its place.
    ``joints``: stays of further pieces that the package needs, by its code."""

    stays: tuple[Stay, ...]
    ways: tuple[LegRow, ...]
    seats: dict[str, int | None]
    joints: dict[str, tuple[int, ...]]


@dataclass(slots=True)
class _Trail:
    """The stays of one piece while they are put together."""

    piece: int
    ways: list[LegRow]
    stays: list[Stay] = field(default_factory=list)
    place: int | None = None
    start: datetime | None = None
    last_seen: datetime | None = None
    begins: int | None = None

    def see(self, place: int, since: datetime, until: datetime) -> None:
        if self.place is None:
            self.place = place
            self.last_seen = self.last_seen or since
        elif self.last_seen is not None and since < self.last_seen:
            if self.place == place:
                self.last_seen = max(self.last_seen, until)
            return  # two records contradict each other: the earlier one stands
        elif self.place != place:
            assert self.last_seen is not None
            depart = max(self.last_seen, since - UNRECORDED)
            self.go(LegRow(self.piece, self.place, place, depart, since, recorded=False))
        self.last_seen = max(self.last_seen or until, until)

    def go(self, way: LegRow) -> None:
        self.see(way.origin, way.depart, way.depart)
        if self.place != way.origin:
            return  # contradicts what was seen later than it claims to leave
        number = len(self.ways)
        self.ways.append(way)
        self.close(way.depart, ends=number)
        self.place, self.start, self.begins = way.destination, way.arrive, number
        self.last_seen = way.arrive

    def close(self, end: datetime, *, ends: int | None = None, by: str | None = None) -> None:
        if self.place is None:
            return
        start = self.start if self.start is not None else end
        self.stays.append(
            Stay(self.piece, self.place, start, max(end, start), self.begins, ends, fitted_by=by)
        )


@dataclass(frozen=True, slots=True)
class _Off:
    """A span in which a piece is off the boat, and the packages at its two ends."""

    start: datetime
    end: datetime
    taken_off: PackageRow | None = None
    fitted: PackageRow | None = None


def follow(rows: Rows) -> Courses:
    """Stays and ways of all pieces, and on which stay each package stands."""
    first, last = rows.bounds()
    low = datetime.combine(first, time(0), rows.zone)
    high = datetime.combine(last + timedelta(days=1), time(0), rows.zone)
    uses: dict[int, list[tuple[PackageRow, Effect]]] = defaultdict(list)
    for package in sorted(rows.packages, key=lambda row: (row.start, row.finish, row.code)):
        for use in package.uses:
            uses[use.piece].append((package, use.effect))
    legs: dict[int, list[LegRow]] = defaultdict(list)
    for leg in rows.legs:
        legs[leg.piece].append(leg)
    spans = {
        piece.id: [_Off(low, high)]
        if piece.is_boat
        else list(_spans_off(piece, uses[piece.id], legs[piece.id], low, high))
        for piece in rows.pieces
    }
    mains = {package.code: _main(rows, package, spans) for package in rows.packages}
    boat = rows.boat
    if boat is not None:  # a package on a fitted piece is work on the boat
        known = {package.code for package, _ in uses[boat.id]}
        uses[boat.id] += [
            (package, Effect.NEEDS)
            for package in rows.packages
            if mains[package.code] == boat.id and package.code not in known
        ]
    ways: list[LegRow] = []
    stays: list[Stay] = []
    for piece in rows.pieces:
        for span in spans[piece.id]:
            stays += _stays(piece, span, uses[piece.id], legs[piece.id], ways, rows.now)
    return Courses(tuple(stays), tuple(ways), *_seats(rows, stays, mains))


def _spans_off(
    piece: PieceRow,
    uses: list[tuple[PackageRow, Effect]],
    legs: list[LegRow],
    low: datetime,
    high: datetime,
) -> Iterator[_Off]:
    """A piece that was sent somewhere is off the boat, whatever else was recorded."""
    effects = [(package, effect) for package, effect in uses if effect is not Effect.NEEDS]
    off = effects[0][1] is Effect.FITS if effects else not piece.fitted or bool(legs)
    start, taken_off = low, None
    for package, effect in effects:
        if effect is Effect.TAKES_OFF and not off:
            off, taken_off = True, package
            sent = [leg.depart for leg in legs if leg.sent and start <= leg.depart < package.finish]
            if sent:
                taken_off = None
            start = min([package.finish, *sent])
        elif effect is Effect.FITS and off:
            off = False
            end = max(package.start, start)
            yield _Off(start, end, taken_off, package)
            start = max(package.finish, end)
    if off:
        yield _Off(start, max(high, start), taken_off)


def _main(rows: Rows, package: PackageRow, spans: dict[int, list[_Off]]) -> int | None:
    """The piece on whose line the package is drawn: the boat, if it is there or carries it."""
    pieces = {piece.id: piece for piece in rows.pieces}
    if rows.boat is not None:
        for use in package.uses:
            if use.piece == rows.boat.id or use.effect is not Effect.NEEDS:
                return rows.boat.id
            if not any(off.start <= package.start <= off.end for off in spans.get(use.piece, [])):
                return rows.boat.id
    return next((use.piece for use in package.uses if use.piece in pieces), None)


def _stays(
    piece: PieceRow,
    span: _Off,
    uses: list[tuple[PackageRow, Effect]],
    legs: list[LegRow],
    ways: list[LegRow],
    now: datetime,
) -> list[Stay]:
    inside = [
        package
        for package, _ in uses
        if span.start <= package.start
        and package.finish <= span.end
        and package not in (span.taken_off, span.fitted)
    ]
    moves = [leg for leg in legs if span.start <= leg.depart < span.end]
    on_the_way = any(leg.sent and not leg.arrived for leg in moves)
    seen_now = not on_the_way and piece.place is not None and span.start <= now < span.end
    if not inside and not moves and span.taken_off is None and span.fitted is None:
        return []  # nothing is ever done with it: no line
    trail = _Trail(piece.id, ways)
    trail.start = trail.last_seen = span.start
    if span.taken_off is not None:
        trail.see(span.taken_off.place, span.start, span.start)
    elif piece.since is not None and not any(
        moment < piece.since
        for moment in [*(row.start for row in inside), *(leg.depart for leg in moves)]
    ):
        trail.start = trail.last_seen = min(max(piece.since, span.start), span.end)
    happenings: list[tuple[datetime, int, str, LegRow | PackageRow | None]] = [
        (row.start, 1, row.code, row) for row in inside
    ]
    happenings += [(leg.depart, 0, str(leg.destination), leg) for leg in moves]
    if seen_now:
        happenings.append((now, 2, "", None))
    for moment, _, _, happening in sorted(happenings, key=lambda each: each[:3]):
        if isinstance(happening, LegRow):
            trail.go(happening)
        elif happening is not None:
            trail.see(happening.place, happening.start, happening.finish)
        elif piece.place is not None:
            trail.see(piece.place, moment, moment)
    if span.fitted is not None:
        trail.see(span.fitted.place, span.end, span.end)
    trail.close(
        max(span.end, trail.start or span.end), by=span.fitted.code if span.fitted else None
    )
    if trail.stays and span.taken_off is not None:
        trail.stays[0] = replace(trail.stays[0], taken_off_by=span.taken_off.code)
    return trail.stays


def _seats(
    rows: Rows, stays: list[Stay], mains: dict[str, int | None]
) -> tuple[dict[str, int | None], dict[str, tuple[int, ...]]]:
    by_piece: dict[int, list[int]] = defaultdict(list)
    for number, stay in enumerate(stays):
        by_piece[stay.piece].append(number)

    def find(piece: int | None, package: PackageRow) -> int | None:
        for number in by_piece.get(piece, ()) if piece is not None else ():
            stay = stays[number]
            if stay.place == package.place and (
                stay.start <= package.start and package.finish <= stay.end
            ):
                return number
        return None

    seats = {package.code: find(mains[package.code], package) for package in rows.packages}
    joints: dict[str, tuple[int, ...]] = {}
    for package in rows.packages:
        others = [
            find(use.piece, package)
            for use in package.uses
            if use.piece != mains[package.code] and use.effect is Effect.NEEDS
        ]
        joints[package.code] = tuple(number for number in others if number is not None)
    return seats, joints


@dataclass(frozen=True, slots=True)
class Choice:
    """What the reader wants to see of it; nothing chosen is everything."""

    piece: int | None = None
    place: int | None = None
    driving: bool = False

    @property
    def is_everything(self) -> bool:
        return self.piece is None and self.place is None and not self.driving


@dataclass(frozen=True, slots=True)
class Chosen:
    """What is drawn: packages by code, stays and ways by number, places by id."""

    packages: frozenset[str]
    stays: frozenset[int]
    ways: frozenset[int]
    places: frozenset[int]


def choose(rows: Rows, courses: Courses, choice: Choice) -> Chosen:
    """The chosen part. The boat's own line stays, to read by, unless one place was chosen."""
    packages = [
        row
        for row in rows.packages
        if (choice.piece is None or choice.piece in row.pieces)
        and (choice.place is None or row.place == choice.place)
        and (row.drives or not choice.driving)
    ]
    if choice.piece is not None:
        pieces = {choice.piece}
    elif choice.driving:
        pieces = {piece for row in packages for piece in row.pieces}
    else:
        pieces = {piece.id for piece in rows.pieces}
    if rows.boat is not None and choice.place is None:
        pieces.add(rows.boat.id)
    followed = [
        number
        for number, stay in enumerate(courses.stays)
        if stay.piece in pieces and choice.place in (None, stay.place)
    ]
    seats = {courses.seats[row.code] for row in packages}
    stays = frozenset(followed) | {seat for seat in seats if seat is not None}
    ways = frozenset(
        way
        for number in followed
        for way in (courses.stays[number].begins, courses.stays[number].ends)
        if way is not None
    )
    places = {row.place for row in packages} | {courses.stays[number].place for number in stays}
    if choice.place is not None:
        places = {choice.place}
    return Chosen(frozenset(row.code for row in packages), stays, ways, frozenset(places))

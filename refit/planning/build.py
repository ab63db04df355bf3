"""From the refit document to the problem that the planning core solves. Pure: no database.

Here: which calendar, resources, pieces and dates each package has. What the core calls what:

- packages by their code, pieces by their tag, places by their name;
- ``vendor:NAME``, as many units as jobs at once; ``bay:PLACE`` and ``zone:NAME`` until the hold
  ends; ``person:NAME`` for everyone named; ``crew`` for all hands together, if anybody needs
  hands without naming them. Somebody away counts as missing from ``crew``; a package that names
  them pauses, and keeps its place in the count meanwhile (on the safe side).

The wanted launch date is not in the problem. It decides nothing: the launch is planned as early
as can be, and pages compare the two. A deadline is what somebody entered as one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from refit.interchange.document import BookingRow, PackageRow, RefitDocument
from refit.scheduling.problem import (
    Calendar,
    Demand,
    Dependency,
    Minutes,
    Outage,
    Package,
    Piece,
    Place,
    PlannedMove,
    Problem,
    Progress,
    Relation,
    Resource,
    ResourceKind,
    Travel,
)
from refit.work.wording import say_count, say_elapsed, say_moment

from .agreed import agreed_part
from .calendars import Clock, day_spans
from .goods import Expected, goods_expected
from .opening import Opening, at_gate, at_place
from .pieces import Pieces, Spot, moment_of, read_pieces
from .travel import Roads

CREW = "crew"
YEARS = (1, 3, 15)
"""How far opening hours are unfolded past today: the first of these that the plan fits into."""


class CannotBuild(ValueError):
    """The document says too little, or something that cannot be, to plan from.

    ``sentences`` say what to change, one a problem; ``codes`` are the packages concerned.
    """

    def __init__(self, sentences: list[str], codes: Iterable[str] = ()) -> None:
        self.sentences = sentences
        self.codes = list(dict.fromkeys(codes))
        super().__init__(" ".join(sentences))


@dataclass(frozen=True, slots=True)
class Built:
    """The problem, its clock, and what is needed to speak about its answers."""

    problem: Problem
    clock: Clock
    now: datetime
    document: RefitDocument
    packages: dict[str, PackageRow]
    piece_names: dict[str, str]
    place_vendors: dict[str, str | None]
    reasons: dict[tuple[str, str, str], str]
    """Why a dependency is there, by package before, package after and relation."""
    pieces: Pieces
    roads: Roads
    always_open: frozenset[str]
    """Places without opening hours, taken as open day and night because no work is done there."""
    goods: dict[str, Expected]
    """By package: the last goods that it waits for."""

    def name(self, code: str) -> str:
        """A package as it is spoken of: code and title."""
        return f"{code} {self.packages[code]['title']}"

    def say(self, minutes: Minutes) -> str:
        return self.say_moment(self.clock.moment(minutes))

    def say_moment(self, moment: datetime) -> str:
        return say_moment(moment, self.clock.zone, self.now.astimezone(self.clock.zone).date())

    def is_here(self, tag: str, place: str) -> bool:
        """Whether the piece is at the place now (not only on its way there)."""
        spot = self.pieces.spots[tag]
        return spot.place == place and not spot.on_the_way

    def travels_alone(self, move: PlannedMove) -> bool:
        """Whether people must see to the move; False if the piece is on the boat meanwhile."""
        return not self.pieces.rides(move.piece, move.after_package)


def build_problem(document: RefitDocument, now: datetime, *, years: int = YEARS[0]) -> Built:
    """The problem as of ``now`` (aware). Raises CannotBuild with a sentence for each obstacle."""
    return _Builder(agreed_part(document), now, years).build()


class _Builder:
    def __init__(self, document: RefitDocument, now: datetime, years: int) -> None:
        self.document, self.now = document, now
        refit = document["refit"]
        self.start = date.fromisoformat(refit["start"])
        self.clock = Clock.of(self.start, ZoneInfo(refit["time_zone"]))
        self.today = now.astimezone(self.clock.zone).date()
        self.roads = Roads.of(document)
        self.packages = {row["code"]: row for row in document["packages"]}
        self.places = {row["name"]: row for row in document["places"]}
        self.bookings: dict[str, list[BookingRow]] = {}
        for row in document["bookings"]:
            self.bookings.setdefault(row["package"], []).append(row)
        self.opening = Opening(document, self.clock, self.today, years)
        self.goods = goods_expected(document, self.clock)
        self.sentences: list[str] = []
        self.codes: list[str] = []

    def build(self) -> Built:
        document = self.document
        self._check_progress()
        self._check_hands()
        for sentence, codes in self.opening.obstacles:
            self._fail(sentence, *codes)
        self._check_stretches()
        if self.sentences:
            raise CannotBuild(self.sentences, self.codes)
        pieces = read_pieces(document, self.clock, self.roads, self.now)
        packages = tuple(self._package(row, pieces) for row in document["packages"])
        reasons, dependencies = self._dependencies(pieces)
        gates = self.opening.gates(self.roads.driving.each_end)
        problem = Problem(
            packages=packages,
            dependencies=dependencies,
            calendars=tuple(
                Calendar(name, spans) for name, spans in (self.opening.calendars | gates).items()
            ),
            # Before the refit's first day nothing is planned; that day begins at minute 0.
            now=max(0, self.clock.minutes(self.now)),
            resources=tuple(self._resources(packages)),
            places=tuple(
                Place(name, at_gate(name) if at_gate(name) in gates else at_place(name))
                for name in self.places
            ),
            travels=tuple(
                Travel(
                    origin,
                    destination,
                    self.roads.way(origin, destination).minutes,
                    self.roads.way(origin, destination, towed=True).minutes,
                )
                for origin in self.places
                for destination in self.places
                if origin != destination
            ),
            pieces=tuple(self._pieces(pieces)),
            target=next((row["code"] for row in document["packages"] if row["is_launch"]), None),
        )
        return Built(
            problem=problem,
            clock=self.clock,
            now=self.now,
            document=document,
            packages=self.packages,
            piece_names={row["tag"]: row["name"] for row in document["pieces"]},
            place_vendors={row["name"]: row["vendor"] for row in document["places"]},
            reasons=reasons,
            pieces=pieces,
            roads=self.roads,
            always_open=frozenset(self.opening.always_open),
            goods=self.goods,
        )

    # What cannot be planned from

    def _fail(self, sentence: str, *codes: str) -> None:
        self.sentences.append(sentence)
        self.codes.extend(codes)

    def _check_progress(self) -> None:
        for row in self.document["packages"]:
            for what, text in (("start", row["started_at"]), ("finish", row["finished_at"])):
                moment = moment_of(text)
                if moment is not None and moment > self.now:
                    said = say_moment(moment, self.clock.zone, self.today)
                    self._fail(
                        f"{row['code']} {row['title']} has an actual {what} in the future ({said});"
                        " correct it or take it out.",
                        row["code"],
                    )

    def _check_hands(self) -> None:
        crew = len(self.document["crew"])
        for row in self.document["packages"]:
            hands = len(row["people"]) + row["helpers"]
            if row["started_at"] is None and row["helpers"] and hands > crew:
                people = say_count(crew, "person", "people") if crew else "nobody in it yet"
                self._fail(
                    f"{row['code']} {row['title']} needs {say_count(hands, 'hand')} at once, but"
                    f" the crew has {people}; add people or ask for fewer.",
                    row["code"],
                )

    def _check_stretches(self) -> None:
        for row in self.document["packages"]:
            if not row["unbroken"] or row["started_at"] is not None:
                continue
            longest = self.opening.longest(self.opening.of_package(row))
            if longest < row["likely_minutes"]:
                self._fail(
                    f"{row['code']} {row['title']} takes {say_elapsed(row['likely_minutes'])} in"
                    f" one go, but {row['place']} is never open longer than"
                    f" {say_elapsed(longest)} at a stretch; let the work be interrupted, shorten"
                    " it, or add opening hours.",
                    row["code"],
                )

    # Packages and what joins them

    def _package(self, row: PackageRow, pieces: Pieces) -> Package:
        clock = self.clock
        started, finished = moment_of(row["started_at"]), moment_of(row["finished_at"])
        progress = None
        booked = not_before = None
        if started is not None:
            progress = Progress(
                started=clock.minutes(started),
                remaining=None if finished else row["remaining_minutes"],
                finished=None if finished is None else clock.minutes(finished),
            )
        else:
            for agreed in self.bookings.get(row["code"], ()):
                at = clock.minutes_up(datetime.fromisoformat(agreed["at"]))
                booked, not_before = (at, None) if agreed["kind"] == "starts" else (None, at)
            if row["code"] in self.goods:
                not_before = max(not_before or 0, self.goods[row["code"]].at)
        deadline = moment_of(row["deadline"])
        promised = moment_of(row["promised"])
        return Package(
            id=row["code"],
            work=row["likely_minutes"],
            calendar=self.opening.of_package(row),
            hold=row["hold_minutes"],
            place=row["place"],
            pieces=pieces.used_by[row["code"]],
            demands=tuple(self._demands(row)),
            booked=booked,
            not_before=not_before,
            deadline=None if deadline is None else clock.minutes(deadline),
            promised=None if promised is None or finished else clock.minutes_up(promised),
            progress=progress,
            low=row["low_minutes"],
            high=row["high_minutes"],
            unbroken=row["unbroken"],
        )

    def _demands(self, row: PackageRow) -> Iterator[Demand]:
        if row["vendor"] is not None:
            yield Demand(f"vendor:{row['vendor']}")
        if row["takes_bay"] and self.places[row["place"]]["bays"]:
            yield Demand(f"bay:{row['place']}", through_hold=True)
        for zone in row["zones"]:
            yield Demand(f"zone:{zone}", through_hold=True)
        for person in row["people"]:
            yield Demand(f"person:{person}")
        hands = len(row["people"]) + row["helpers"]
        if hands and self._hands_are_shared:
            yield Demand(CREW, hands)

    @property
    def _hands_are_shared(self) -> bool:
        """Whether anybody still needs hands without naming them: else the names are enough."""
        return any(
            row["helpers"] and row["finished_at"] is None for row in self.document["packages"]
        )

    def _dependencies(
        self, pieces: Pieces
    ) -> tuple[dict[tuple[str, str, str], str], tuple[Dependency, ...]]:
        reasons: dict[tuple[str, str, str], str] = {}
        dependencies: list[Dependency] = []
        for row in self.document["dependencies"]:
            reasons[row["before"], row["after"], row["relation"]] = row["reason"]
            working = row["lag_in"] == "working"
            dependencies.append(
                Dependency(
                    before=row["before"],
                    after=row["after"],
                    relation=Relation(row["relation"]),
                    min_lag=row["min_lag_minutes"],
                    max_lag=row["max_lag_minutes"],
                    lag_calendar=at_place(self.packages[row["after"]]["place"])
                    if working
                    else None,
                )
            )
        names = {row["tag"]: row["name"] for row in self.document["pieces"]}
        for (before, after), tag in pieces.comes_first.items():
            comes_off = {"piece": tag, "effect": "takes off"} in self.packages[before]["pieces"]
            how = "comes off the boat first" if comes_off else "goes on to the boat after that"
            reasons[before, after, Relation.FINISH_TO_START] = f"{names[tag]} {how}"
            dependencies.append(Dependency(before, after))
        return reasons, tuple(dependencies)

    # What packages share

    def _resources(self, packages: Iterable[Package]) -> Iterator[Resource]:
        wanted = {demand.resource for package in packages for demand in package.demands}
        capacities: list[tuple[str, int, ResourceKind]] = [
            *((f"vendor:{v['name']}", v["jobs_at_once"], ResourceKind.VENDOR)
              for v in self.document["vendors"]),
            *((f"bay:{p['name']}", p["bays"], ResourceKind.BAY) for p in self.document["places"]),
            *((f"zone:{z['name']}", 1, ResourceKind.ZONE) for z in self.document["zones"]),
            *((f"person:{c['name']}", 1, ResourceKind.CREW) for c in self.document["crew"]),
        ]  # fmt: skip
        for name, capacity, kind in capacities:
            if name in wanted:
                yield Resource(name, capacity, kind)
        if CREW in wanted:
            outages = tuple(
                Outage(start, end, 1)
                for days in self.opening.absences.values()
                for start, end in day_spans(days, self.clock)
            )
            yield Resource(CREW, len(self.document["crew"]), ResourceKind.CREW, outages)

    def _pieces(self, pieces: Pieces) -> Iterator[Piece]:
        for row in self.document["pieces"]:
            tag = row["tag"]
            spot = pieces.spots[tag]
            yield Piece(
                id=tag,
                place=spot.place,
                free_from=self._free_from(spot),
                shared=row["shared"] or row["is_boat"],
                towed=row["is_boat"],
                returns_to=None if pieces.stays_fitted(tag) else row["returns_to"],
            )

    def _free_from(self, spot: Spot) -> Minutes:
        if spot.free_from is not None:
            return spot.free_from
        return 0 if spot.since is None else self.clock.minutes(spot.since)

"""One lane: which tracks it has, what stands on them, and how high it becomes.

Tracks from the top: the boat's, those of pieces that are worked on, those of pieces that only
wait, and the quiet ones of packages that need no piece.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from .labels import CAPTION_HEIGHT, Plate, plate_width
from .rows import PackageRow
from .tracks import Span, Track, stack, stack_groups

NARROWEST = 4.0
"""No block is drawn narrower than this, in pixels: half an hour of work is work."""
RING = 3.5
AIR = 4.0


@dataclass(frozen=True, slots=True)
class Placing:
    """One package in pixels along the time axis."""

    package: PackageRow
    start: float
    work_finish: float
    finish: float
    ink: float
    hue: int

    @property
    def span(self) -> Span:
        return self.start, self.finish


@dataclass(slots=True, eq=False)
class StayPlan:
    """One stay in pixels, with what is done to the piece in it."""

    number: int
    piece: int
    tag: str
    name: str
    hue: int
    is_boat: bool
    start: float
    end: float
    is_first: bool
    has_ring: tuple[bool, bool] = (False, False)
    placings: list[Placing] = field(default_factory=list)
    joints: list[Placing] = field(default_factory=list)
    tracks: list[Track] = field(default_factory=list)

    @property
    def busy(self) -> list[Placing]:
        return self.placings + self.joints

    @property
    def first_busy(self) -> float | None:
        return min((placing.start for placing in self.busy), default=None)

    @property
    def last_busy(self) -> float | None:
        return max((placing.finish for placing in self.busy), default=None)


@dataclass(slots=True)
class LanePlan:
    """The tracks of one lane from top to bottom and the blocks on each of them."""

    tracks: list[Track] = field(default_factory=list)
    on_track: list[list[tuple[Placing, StayPlan | None]]] = field(default_factory=list)
    plates: list[list[Plate]] = field(default_factory=list)

    def add(self, kind: str, count: int) -> list[Track]:
        line, block, captions = {
            "boat": (24.0, 18.0, 6),
            "beneath": (22.0, 17.0, 2),
            "work": (21.0, 15.0, 3),
            "thin": (15.0, 0.0, 0),
            "quiet": (16.0, 10.0, 1),
        }[kind]
        made = [Track(kind, line, block, captions) for _ in range(count)]
        self.tracks += made
        self.on_track += [[] for _ in made]
        self.plates += [[] for _ in made]
        return made

    def settle(self, top: float) -> float:
        """Give every track its y; returns the bottom of the lane's content."""
        y = top
        for track in self.tracks:
            y += len(track.captions) * CAPTION_HEIGHT
            track.y = y + track.line_height / 2
            y += track.line_height
        return y


def plan_lane(stays: list[StayPlan], quiet: list[Placing]) -> LanePlan:
    """Pack the stays and the packages without a piece of one place into tracks."""
    lane = LanePlan()
    boats = [stay for stay in stays if stay.is_boat]
    others = [stay for stay in stays if not stay.is_boat]
    rows = _rows_of(boats)  # A boat back within minutes: its blocks may be wider than that.
    for stay in others:
        rows |= _rows_of([stay])
    if boats:
        made = lane.add("boat", 1)
        made += lane.add("beneath", max(len(rows[stay.number]) for stay in boats) - 1)
        for stay in boats:
            _stand(lane, stay, made, 0, rows[stay.number])
    for kind, group in (
        ("work", [stay for stay in others if stay.busy]),
        ("thin", [stay for stay in others if not stay.busy]),
    ):
        group.sort(key=lambda stay: (stay.start, stay.end, stay.number))
        firsts = stack_groups((_reach(stay), len(rows[stay.number])) for stay in group)
        count = max(
            (first + len(rows[stay.number]) for first, stay in zip(firsts, group, strict=True)),
            default=0,
        )
        made = lane.add(kind, count)
        for first, stay in zip(firsts, group, strict=True):
            _stand(lane, stay, made, first, rows[stay.number])
    quiet = sorted(quiet, key=lambda placing: (placing.start, placing.package.code))
    numbers = stack([(placing.start, placing.finish + 2) for placing in quiet])
    made = lane.add("quiet", max(numbers, default=-1) + 1)
    for placing, number in zip(quiet, numbers, strict=True):
        made[number].taken.append(placing.span)
        lane.on_track[lane.tracks.index(made[number])].append((placing, None))
    return lane


def _rows_of(stays: list[StayPlan]) -> dict[int, list[list[Placing]]]:
    """The packages of each stay by track. Those that overlap go one under the other, also if they
    are of different stays that share tracks; what drives comes first."""
    ordered = sorted(
        ((placing, stay.number) for stay in stays for placing in stay.placings),
        key=lambda one: (one[0].start, not one[0].package.drives, -one[0].finish),
    )
    numbers = stack([placing.span for placing, _ in ordered])
    rows: dict[int, list[list[Placing]]] = {stay.number: [[]] for stay in stays}
    for (placing, stay), number in zip(ordered, numbers, strict=True):
        while len(rows[stay]) <= number:
            rows[stay].append([])
        rows[stay][number].append(placing)
    return rows


def _reach(stay: StayPlan) -> Span:
    """What a stay takes of its track: its line, its rings, and room for its tag if the line is
    worked on so soon that the tag cannot stand on it."""
    start = stay.start - RING - AIR
    first = stay.first_busy if stay.busy else stay.end
    if first is not None and first - stay.start < plate_width(stay.tag) + 10:
        start = max(min(start, 0.0), start - plate_width(stay.tag))
    return start, stay.end + RING + AIR


def _stand(
    lane: LanePlan, stay: StayPlan, made: list[Track], first: int, rows: list[list[Placing]]
) -> None:
    for offset, placings in enumerate(rows):
        track = made[first + offset]
        number = lane.tracks.index(track)
        stay.tracks.append(track)
        track.reaches.append((stay.start, stay.end, stay.number))
        for placing in placings:
            track.taken.append(placing.span)
            lane.on_track[number].append((placing, stay))
        if offset:
            continue
        track.taken += [placing.span for placing in stay.joints]
        for ring, x in zip(stay.has_ring, (stay.start, stay.end), strict=True):
            if ring:
                track.taken.append((x - RING - 1, x + RING + 1))
        lane.plates[number].append(
            Plate(
                stay.number,
                stay.piece,
                stay.hue,
                stay.tag,
                stay.name,
                (stay.start, stay.end),
                stay.is_first,
            )
        )

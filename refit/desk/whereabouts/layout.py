"""Rows in, placed shapes out: the whole picture, computed without a database or a browser.

1. follow every piece through its places (`courses`) and take what the reader chose;
2. put moments on the time axis; pull the ends of a move apart, as far as the piece is idle, until
   its stroke leans visibly;
3. order the places so that moves are short;
4. pack each lane into tracks (`lanes`), place the words (`labels`), then stack tracks and lanes.

The idea of the graph (places across, time along, a stroke for every move) is that of the railway
time-distance graph: E.-J. Marey, "La methode graphique", Paris 1878 (second edition 1885).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from .courses import Chosen, Courses
from .labels import Plate, edge_plate, place_plates, place_texts
from .lanes import NARROWEST, LanePlan, Placing, StayPlan, plan_lane
from .order import QUIET, hues_of, order_places
from .rows import PackageRow, PlaceRow, Rows
from .ruler import FLAG_ROW, RULER, raise_flags, write_ruler
from .scale import Scale
from .shapes import Block, Box, Branch, Label, Lane, Line, Picture, Slant, Sleeve
from .text import wrap

NAMES = 150.0
LEAN = 7.0
LANE_GAP = 5.0
LANE_AIR = 6.0
LEAST_LANE = 50.0


def lay_out(rows: Rows, courses: Courses, chosen: Chosen, scale: Scale) -> Picture:
    """Place everything that was chosen. `Picture.width` is the scale's; the height follows."""
    return _Sheet(rows, scale).picture(courses, chosen)


@dataclass(slots=True)
class _Sheet:
    rows: Rows
    scale: Scale

    def picture(self, courses: Courses, chosen: Chosen) -> Picture:
        hues = hues_of(self.rows)
        placings = {
            package.code: self._placing(package, courses, hues)
            for package in self.rows.packages
            if package.code in chosen.packages
        }
        stays = self._stays(courses, chosen, placings, hues)
        ends = self._ends_of_ways(courses, chosen, stays)
        self._fasten(courses, stays, ends, placings)
        flags, flag_labels, flag_rows = raise_flags(self.rows, self.scale)
        head = RULER + flag_rows * FLAG_ROW + 4
        lanes: list[Lane] = []
        blocks: list[Block] = []
        labels: list[Label] = []
        y = head
        for place in order_places(self.rows, courses, chosen):
            mine = [stay for stay in stays.values() if courses.stays[stay.number].place == place.id]
            quiet = [
                placing
                for code, placing in placings.items()
                if courses.seats[code] is None and placing.package.place == place.id
            ]
            plan = plan_lane(mine, quiet)
            lane, made, words = self._settle(place, plan, y)
            lanes.append(lane)
            blocks += made
            labels += words
            y += lane.height + LANE_GAP
        height = y + (RULER / 2 if lanes else 0)
        ruler = write_ruler(self.scale, height if lanes else None)
        by_code = {block.package.code: block for block in blocks}
        return Picture(
            scale=self.scale,
            width=self.scale.width,
            height=round(height, 1),
            head=head,
            lanes=tuple(lanes),
            lines=tuple(self._line(stay) for stay in stays.values()),
            slants=tuple(self._slants(courses, chosen, stays, ends, hues, lanes)),
            branches=tuple(self._branches(courses, stays, by_code)),
            blocks=tuple(blocks),
            sleeves=tuple(self._sleeves(courses, stays, by_code)),
            labels=(*ruler, *flag_labels, *labels),
            flags=flags,
            months=self.scale.months(),
            weeks=self.scale.weeks(),
            pieces=tuple(
                piece
                for piece in self.rows.pieces
                if any(stay.piece == piece.id for stay in stays.values())
            ),
            hues=hues,
        )

    def _placing(self, package: PackageRow, courses: Courses, hues: dict[int, int]) -> Placing:
        seat = courses.seats[package.code]
        start = min(self.scale.x(package.start), self.scale.width - NARROWEST)
        work_finish = max(self.scale.x(package.work_finish), start + NARROWEST)
        finish = max(self.scale.x(package.finish), work_finish)
        now = self.scale.x(self.rows.now)
        ink = start
        if package.started:
            ink = min(max(now, start), finish)
            if package.finished and package.finish <= self.rows.now:
                ink = finish
            elif package.finished:
                ink = max(ink, work_finish)
        hue = QUIET if seat is None else hues[courses.stays[seat].piece]
        return Placing(package, start, work_finish, finish, ink, hue)

    def _stays(
        self,
        courses: Courses,
        chosen: Chosen,
        placings: dict[str, Placing],
        hues: dict[int, int],
    ) -> dict[int, StayPlan]:
        pieces = {piece.id: piece for piece in self.rows.pieces}
        stays: dict[int, StayPlan] = {}
        met: set[int] = set()
        for number in sorted(chosen.stays):
            stay = courses.stays[number]
            piece = pieces[stay.piece]
            stays[number] = StayPlan(
                number,
                piece.id,
                piece.tag,
                piece.name,
                hues[piece.id],
                piece.is_boat,
                self.scale.x(stay.start),
                self.scale.x(stay.end),
                is_first=piece.id not in met,
                has_ring=(
                    stay.begins is not None or stay.taken_off_by is not None,
                    stay.ends is not None or stay.fitted_by is not None,
                ),
            )
            met.add(piece.id)
        for code, placing in placings.items():
            seat = courses.seats[code]
            if seat is not None and seat in stays:
                stays[seat].placings.append(placing)
            for joint in courses.joints.get(code, ()):
                if joint in stays:
                    stays[joint].joints.append(placing)
        return stays

    def _ends_of_ways(
        self, courses: Courses, chosen: Chosen, stays: dict[int, StayPlan]
    ) -> dict[int, tuple[float, float]]:
        """Where each move leaves and arrives, in pixels; leaning as far as idle time allows."""
        origin = {stay.ends: n for n, stay in enumerate(courses.stays) if stay.ends is not None}
        goal = {stay.begins: n for n, stay in enumerate(courses.stays) if stay.begins is not None}
        ends: dict[int, tuple[float, float]] = {}
        for number in sorted(chosen.ways):
            way = courses.ways[number]
            x0, x1 = self.scale.x(way.depart), self.scale.x(way.arrive)
            missing = LEAN - (x1 - x0)
            after = stays.get(goal.get(number, -1))
            if missing > 0 and after is not None:
                limit = after.first_busy if after.busy else (after.start + after.end) / 2
                assert limit is not None
                step = min(missing, max(0.0, limit - x1))
                x1, missing = x1 + step, missing - step
            before = stays.get(origin.get(number, -1))
            if missing > 0 and before is not None:
                limit = before.last_busy if before.busy else (before.start + before.end) / 2
                assert limit is not None
                x0 -= min(missing, max(0.0, x0 - limit))
            ends[number] = (x0, x1)
        return ends

    def _fasten(
        self,
        courses: Courses,
        stays: dict[int, StayPlan],
        ends: dict[int, tuple[float, float]],
        placings: dict[str, Placing],
    ) -> None:
        """Tie the ends of every line to its moves and to the packages where it leaves or joins
        the boat's; lines that branch at the same block do so side by side."""
        beside: Counter[tuple[str, bool]] = Counter()
        for number, plan in stays.items():
            stay = courses.stays[number]
            if stay.begins in ends:
                plan.start = ends[stay.begins][1]
            elif stay.taken_off_by in placings:
                shift = 3.0 * beside[stay.taken_off_by, True]
                beside[stay.taken_off_by, True] += 1
                start = placings[stay.taken_off_by].finish
                limit = plan.first_busy if plan.busy else plan.end
                plan.start = max(start, min(start + shift, limit if limit is not None else start))
            if stay.ends in ends:
                plan.end = ends[stay.ends][0]
            elif stay.fitted_by in placings:
                shift = 3.0 * beside[stay.fitted_by, False]
                beside[stay.fitted_by, False] += 1
                end = placings[stay.fitted_by].start
                limit = plan.last_busy if plan.busy else plan.start
                plan.end = min(end, max(end - shift, limit if limit is not None else end))
            plan.end = max(plan.end, plan.start, plan.last_busy or 0.0)

    def _settle(
        self, place: PlaceRow, plan: LanePlan, top: float
    ) -> tuple[Lane, list[Block], list[Label]]:
        """Place the words of a lane at y = 0 of each track, then stack the tracks."""
        words: list[list[Label]] = []
        made: list[list[Block]] = []
        boat = next((p for plates in plan.plates for p in plates if _is_boats_first(p)), None)
        for track, standing, plates in zip(plan.tracks, plan.on_track, plan.plates, strict=True):
            found = place_plates(track, [p for p in plates if p is not boat], self.scale.width)
            blocks = [(self._block(placing, stay, track.block_height), stay)
                      for placing, stay in standing]  # fmt: skip
            found += place_texts(
                track,
                [(block, stay.number if stay else None) for block, stay in blocks],
                self.scale.width,
            )
            words.append(found)
            made.append([block for block, _ in blocks])
        names = wrap(place.name, NAMES - 22, 13.5, 2)
        whose = wrap(place.whose, NAMES - 22, 11, 1)
        plate, start = None, top + LANE_AIR
        bottom = plan.settle(start)
        if boat is not None:  # its plate stays in sight beside its line, below the name
            below_name = top + 19 + 16 * (len(names) + len(whose)) + 2
            start += max(0.0, below_name - plan.tracks[0].y)
            bottom = plan.settle(start)
            plate = edge_plate(boat, NAMES, plan.tracks[0].y)
        height = max(bottom + LANE_AIR - top, LEAST_LANE)
        shades = self.scale.shades(place)
        lane = Lane(place, top, height, shades, names, whose[0] if whose else "", plate)
        blocks_placed = [
            replace(block, box=replace(block.box, y=track.y - track.block_height / 2))
            for track, blocks in zip(plan.tracks, made, strict=True)
            for block in blocks
        ]
        labels = [
            _lowered(label, track.y)
            for track, labels in zip(plan.tracks, words, strict=True)
            for label in labels
        ]
        return lane, blocks_placed, labels

    def _block(self, placing: Placing, stay: StayPlan | None, height: float) -> Block:
        return Block(
            placing.package,
            Box(placing.start, -height / 2, placing.finish - placing.start, height),
            placing.work_finish,
            placing.ink,
            placing.hue,
            stay.piece if stay else None,
        )

    def _line(self, stay: StayPlan) -> Line:
        y = stay.tracks[0].y
        now = self.scale.x(self.rows.now)
        band = None
        if stay.is_boat:
            last = stay.tracks[-1]
            bottom = last.y + last.line_height / 2
            top = y - stay.tracks[0].line_height / 2
            band = Box(stay.start, top, stay.end - stay.start, bottom - top)
        return Line(
            stay.number,
            stay.piece,
            stay.hue,
            stay.is_boat,
            stay.start,
            stay.end,
            y,
            min(max(now, stay.start), stay.end),
            band,
        )

    def _slants(
        self,
        courses: Courses,
        chosen: Chosen,
        stays: dict[int, StayPlan],
        ends: dict[int, tuple[float, float]],
        hues: dict[int, int],
        lanes: list[Lane],
    ) -> list[Slant]:
        origin = {stay.ends: n for n, stay in enumerate(courses.stays) if stay.ends is not None}
        goal = {stay.begins: n for n, stay in enumerate(courses.stays) if stay.begins is not None}
        boat = self.rows.boat
        slants = []
        for number in sorted(chosen.ways):
            way = courses.ways[number]
            before, after = stays.get(origin.get(number, -1)), stays.get(goal.get(number, -1))
            x0 = before.end if before is not None else ends[number][0]
            x1 = after.start if after is not None else ends[number][1]
            if before is not None and after is not None:
                y0, y1 = before.tracks[0].y, after.tracks[0].y
            elif before is not None:
                lane = _lane_around(lanes, before.tracks[0].y)
                y0, y1 = before.tracks[0].y, lane.y + lane.height
            elif after is not None:
                lane = _lane_around(lanes, after.tracks[0].y)
                y0, y1 = lane.y, after.tracks[0].y
            else:
                continue
            slants.append(
                Slant(
                    way,
                    number,
                    hues[way.piece],
                    boat is not None and way.piece == boat.id,
                    x0,
                    y0,
                    x1,
                    y1,
                    leaves=before is not None,
                    arrives=after is not None,
                )
            )
        return slants

    def _branches(
        self, courses: Courses, stays: dict[int, StayPlan], blocks: dict[str, Block]
    ) -> list[Branch]:
        branches = []
        for number, plan in stays.items():
            stay = courses.stays[number]
            ends = ((stay.taken_off_by, plan.start, True), (stay.fitted_by, plan.end, False))
            for code, x, off in ends:
                block = blocks.get(code or "")
                if block is None or (stay.begins is not None and off):
                    continue
                happened = block.package.finished if off else block.package.started
                y = plan.tracks[0].y
                edge = block.box.bottom if y > block.box.middle else block.box.y
                branches.append(
                    Branch(number, plan.piece, plan.hue, x, edge, y, off, bool(happened))
                )
        return branches

    def _sleeves(
        self, courses: Courses, stays: dict[int, StayPlan], blocks: dict[str, Block]
    ) -> list[Sleeve]:
        sleeves = []
        for plan in stays.values():
            y = plan.tracks[0].y
            for placing in plan.joints:
                block = blocks[placing.package.code]
                box = Box(placing.start, y - 5, placing.finish - placing.start, 10)
                down = y > block.box.middle
                tie = (
                    placing.start + min(3.0, (placing.finish - placing.start) / 2),
                    block.box.bottom if down else box.bottom,
                    box.y if down else block.box.y,
                )
                sleeves.append(Sleeve(placing.package, box, tie, plan.hue, plan.piece, placing.ink))
        return sleeves


def _is_boats_first(plate: Plate) -> bool:
    return plate.hue == 0 and plate.is_first


def _lowered(label: Label, y: float) -> Label:
    leader = label.leader
    if leader is not None:
        leader = (leader[0], leader[1] + y, leader[2] + y)
    return replace(label, box=replace(label.box, y=label.box.y + y), leader=leader)


def _lane_around(lanes: list[Lane], y: float) -> Lane:
    return next(lane for lane in lanes if lane.y <= y <= lane.y + lane.height)

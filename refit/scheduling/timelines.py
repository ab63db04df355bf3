"""Where a piece is and how much of a resource is taken, as time lines that packages are fitted in.

Two structures with the same two verbs: ``earliest`` finds the first dates at which a package
fits, ``add`` records it. Neither knows why a package cannot start earlier for other reasons:
the caller repeats the questions until nothing moves the start any more.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from .calendars import NEVER
from .problem import Demand, Minutes, Package, Piece, Planned, Resource
from .stated import Stated

Dating = Callable[[Minutes], Planned]
"""The dates of a package if it starts at a moment, or at the first open minute after it."""


class Usage:
    """How much of one resource is taken, as a step function.

    A package takes its units from start to the end of work (or of the hold) without a break:
    nights and weekends inside count too, and so does an outage that falls into them. An outage
    is a package that nobody decides.
    """

    __slots__ = ("capacity", "levels", "times")

    def __init__(self, resource: Resource) -> None:
        self.capacity = resource.capacity
        self.times: list[Minutes] = [NEVER]
        self.levels: list[int] = [0]
        """``levels[i]`` units are taken from ``times[i]`` until ``times[i + 1]``."""
        for outage in resource.outages:
            self.add(outage.start, outage.end, outage.units)

    def copy(self) -> Usage:
        twin = Usage.__new__(Usage)
        twin.capacity, twin.times, twin.levels = self.capacity, self.times[:], self.levels[:]
        return twin

    def add(self, start: Minutes, end: Minutes, units: int) -> None:
        if start >= end:
            return
        first, last = self._cut(start), self._cut(end)
        for index in range(first, last):
            self.levels[index] += units

    def _cut(self, moment: Minutes) -> int:
        """The index of the step that begins at ``moment``, made if there is none."""
        index = bisect_right(self.times, moment) - 1
        if self.times[index] == moment:
            return index
        self.times.insert(index + 1, moment)
        self.levels.insert(index + 1, self.levels[index])
        return index + 1

    def clash(self, start: Minutes, end: Minutes, units: int) -> Minutes | None:
        """The end of the last step in ``[start, end)`` that leaves less than ``units``."""
        if start >= end:
            return None
        spare = self.capacity - units
        for index in range(bisect_left(self.times, end) - 1, -1, -1):
            if self.levels[index] > spare:
                # the last step is empty again and never short of units
                return self.times[index + 1]
            if self.times[index] <= start:
                return None
        return None

    def earliest(self, dates: Planned, demand: Demand, dating: Dating) -> Planned:
        """The first dates, not before these, at which the demand can be met."""
        while True:
            clash = self.clash(*demand_span(demand, dates), demand.units)
            if clash is None:
                return dates
            if dates.work_finish < clash:  # if only a promise keeps it until then, it needs
                ended = dating(dates.work_finish)  # nothing any more once that is over
                if self.clash(*demand_span(demand, ended), demand.units) is None:
                    return ended
            dates = dating(clash)


def demand_span(demand: Demand, dates: Planned) -> tuple[Minutes, Minutes]:
    """From when until when a package with these dates takes the resource."""
    return dates.start, dates.finish if demand.through_hold else dates.work_finish


@dataclass(frozen=True, slots=True)
class Stay:
    """A piece is used at ``place`` during ``[start, end)``, by ``package`` or by nobody yet."""

    start: Minutes
    end: Minutes
    place: str
    package: str | None


def first_stay(piece: Piece, facts: Iterable[tuple[Package, Planned]], now: Minutes) -> Stay:
    """Where a piece is when planning begins.

    Begun work that is still going on (hold included) settles it: the piece is there until that
    ends. Else it is where it is said to be. ``end`` is the first moment it may leave (or, unless
    it is shared, serve anybody else).
    """
    running = [
        (dates.finish, package.id, package.place)
        for package, dates in facts
        if piece.id in package.pieces and dates.finish > now
    ]
    if not running:
        return Stay(piece.free_from, max(piece.free_from, now), piece.place, None)
    finish, package_id, place = max(running, key=lambda use: (use[0], use[1]))
    assert place is not None
    return Stay(NEVER, max(finish, piece.free_from), place, package_id)


class Whereabouts:
    """The uses of one piece in time; between two of them at different places it travels.

    Uses of a piece that is not shared never overlap. Uses of a shared piece may, at one place.
    """

    __slots__ = ("piece", "stated", "stays")

    def __init__(self, piece: Piece, stated: Stated) -> None:
        self.piece, self.stated = piece, stated
        facts = ((stated.packages[name], dates) for name, dates in stated.facts.items())
        self.stays: list[Stay] = [first_stay(piece, facts, stated.now)]

    def copy(self) -> Whereabouts:
        twin = Whereabouts.__new__(Whereabouts)
        twin.piece, twin.stated, twin.stays = self.piece, self.stated, self.stays[:]
        return twin

    def add(self, stay: Stay) -> None:
        key = (stay.start, stay.end)
        index = bisect_right(self.stays, key, lo=1, key=lambda s: (s.start, s.end))
        self.stays.insert(index, stay)

    def remove(self, stay: Stay) -> None:
        self.stays.remove(stay)

    def earliest(self, dates: Planned, place: str, dating: Dating) -> Planned:
        """The first dates, not before these, at which the piece can be at ``place``.

        It can if it gets there in time from the use before, and afterwards to the use behind.
        """
        stays, moment = self.stays, dates.start
        index = bisect_left(stays, moment, lo=1, key=lambda stay: stay.start)
        while True:
            start = max(moment, self.arrival(index, place))
            if start != dates.start:
                dates = dating(start)
            if index == len(stays):
                return dates
            behind = stays[index]
            if dates.start <= behind.start and self._reaches(index, place, dates):
                return dates
            moment = max(moment, behind.start)
            index += 1

    def arrival(self, index: int, place: str) -> Minutes:
        """From when the piece can be at ``place``, coming from the use before ``stays[index]``."""
        last = self.stays[index - 1]
        if last.place == place:
            return last.start if self.piece.shared else last.end
        arrive = self.stated.passage(
            last.place, place, self.free_after(index), towed=self.piece.towed
        )[1]
        if last.package is not None:  # no minute of two uses, even if both take no time
            arrive = max(arrive, last.start + 1)
        return arrive

    def free_after(self, index: int) -> Minutes:
        """When the uses at the place of ``stays[index - 1]`` that lead up to it are all over."""
        index -= 1
        place, free = self.stays[index].place, self.stays[index].end
        while self.piece.shared and index and self.stays[index - 1].place == place:
            index -= 1
            free = max(free, self.stays[index].end)
        return free

    def _reaches(self, index: int, place: str, dates: Planned) -> bool:
        """Whether the piece, used until ``dates.finish``, is in time for ``stays[index]``."""
        stays = self.stays
        if self.piece.shared:
            while index < len(stays) and stays[index].place == place:
                index += 1
            if index == len(stays):
                return True
        behind = stays[index]
        if behind.place != place and behind.start == dates.start:
            return False
        arrive = self.stated.passage(place, behind.place, dates.finish, towed=self.piece.towed)[1]
        return arrive <= behind.start

"""The cheapest trip that carries given moves on a given day: exact, by dynamic programming.

A *slot* is a day (or some days with the nights between) and a rig. Inside a slot time is counted
in the driver's own minutes: nights are cut out, so that a drive may go on in the morning.

A state of the search is where the rig stands and which moves are aboard or done. Of the ways to
get there only those are kept that no other beats. A way is known by its cost, the earliest moment
``ready`` it can be done with the last stop and the latest moment ``last`` up to which leaving home
later would still cost no waiting; with two numbers instead of a departure, every departure is
searched at once, and the driver's time is paid from leaving home to being back.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from .problem import Minutes
from .trips_problem import PlannedTrip, TripMove, TripProblem, TripRig, TripStop
from .trips_stated import StatedTrips

MOST_WAYS = 8
"""The most different ways (from, to, window) in one trip; more do not fit in a day's drive."""
Window = tuple[Minutes, Minutes]
Stop = tuple[int, tuple[int, ...], tuple[int, ...], Window]
"""Place, moves unloaded, moves loaded, and the span of opening hours it happens in."""


@dataclass(frozen=True, slots=True)
class Slot:
    """Where a trip can go: ``days`` in a row from ``first``, with one rig."""

    first: int
    days: int
    rig: int


@dataclass(frozen=True, slots=True)
class Route:
    """``cost`` in SCALE without what a trip and its nights cost; ``stops`` in order."""

    cost: int
    metres: int
    minutes: Minutes
    back: Minutes
    stops: tuple[Stop, ...]
    tows: bool


class SlotTime:
    """The driver's minutes of one slot: 0 is leaving home on the first day."""

    def __init__(self, spans: list[Window]) -> None:
        self.spans = spans
        self.begins: list[Minutes] = []
        total = 0
        for start, end in spans:
            self.begins.append(total)
            total += end - start
        self.length = total

    def inside(self, moment: Minutes) -> Minutes:
        """The driver's minutes before ``moment``; a night counts nothing."""
        at = bisect_right([start for start, _ in self.spans], moment) - 1
        if at < 0:
            return moment - self.spans[0][0]
        start, end = self.spans[at]
        if at == len(self.spans) - 1:
            return self.begins[at] + moment - start
        return self.begins[at] + min(moment, end) - start

    def moment(self, inside: Minutes, *, end: bool = False) -> Minutes:
        """``end``: of two moments that count the same, the evening's instead of the morning's."""
        at = bisect_right(self.begins, inside) - 1
        if end and at > 0 and self.begins[at] == inside:
            at -= 1
        return self.spans[at][0] + inside - self.begins[at]


class Routes:
    """Cheapest routes of one problem, each computed once."""

    def __init__(self, problem: TripProblem, *, width: int | None = None) -> None:
        """``width``: how many states of the search are kept at each step; None keeps all, and the
        routes are the cheapest there are."""
        self.problem, self.width = problem, width
        self.stated = StatedTrips(problem)
        self.slots = [
            Slot(first, days, rig)
            for first in range(len(problem.days))
            for days in range(1, problem.nights + 2)
            if first + days <= len(problem.days)
            for rig in range(len(problem.rigs))
        ]
        self.times = [
            SlotTime([(d.start, d.end) for d in problem.days[slot.first : slot.first + slot.days]])
            for slot in self.slots
        ]
        self._open: list[list[tuple[Window, ...]]] = [self._hours(time) for time in self.times]
        self._windows: list[list[Window | None]] = [
            [self._window(slot, time, m) for m in range(len(problem.moves))]
            for slot, time in zip(self.slots, self.times, strict=True)
        ]
        self._by_set: dict[tuple[int, tuple[int, ...]], Route | None] = {}
        self._by_look: dict[object, Route | None] = {}

    def of(self, slot: int, moves: tuple[int, ...]) -> Route | None:
        """The cheapest route for ``moves`` (sorted) in the slot; None if there is none."""
        key = (slot, moves)
        if key not in self._by_set:
            self._by_set[key] = self._look_up(slot, moves)
        return self._by_set[key]

    def cost(self, slot: int, moves: tuple[int, ...]) -> int | None:
        """What the trip costs in all; 0 for no moves, None if it cannot be."""
        if not moves:
            return 0
        route = self.of(slot, moves)
        if route is None:
            return None
        return route.cost + self.fixed(slot)

    def fixed(self, slot: int) -> int:
        problem = self.problem
        return 60_000 * (problem.per_trip + problem.per_night * (self.slots[slot].days - 1))

    def alone(self, slot: int, move: int) -> bool:
        return self._windows[slot][move] is not None and self.of(slot, (move,)) is not None

    def known(self) -> Iterator[tuple[int, tuple[int, ...], int]]:
        """Every trip computed so far: slot, moves, whole cost."""
        for (slot, moves), route in self._by_set.items():
            if route is not None and moves:
                yield slot, moves, route.cost + self.fixed(slot)

    # -- what a slot looks like ------------------------------------------------------------------

    def _hours(self, time: SlotTime) -> list[tuple[Window, ...]]:
        """Of each place, the spans of each driver's day: nothing is loaded over a night."""
        result = []
        for spans in self.stated.spans:
            inside = []
            for (first, last), begins in zip(time.spans, time.begins, strict=True):
                at = max(0, bisect_right(spans, (first, first)) - 1)
                for start, end in spans[at:]:
                    if start >= last:
                        break
                    begin, finish = max(start, first), min(end, last)
                    if begin < finish:
                        inside.append((begins + begin - first, begins + finish - first))
            result.append(tuple(inside))
        return result

    def _window(self, slot: Slot, time: SlotTime, m: int) -> Window | None:
        """When the move is free and due in the slot's minutes; None if not in this slot."""
        move, rig = self.problem.moves[m], self.problem.rigs[slot.rig]
        first = self.problem.days[slot.first]
        last = self.problem.days[slot.first + slot.days - 1]
        if move.free_at >= last.end or move.due <= first.start:
            return None
        if move.day is not None and move.day != first.id:
            return None
        if (move.rig is not None and move.rig != rig.id) or not _fits(move, rig):
            return None
        return max(0, time.inside(move.free_at)), min(time.length, time.inside(move.due))

    def _look_up(self, slot: int, moves: tuple[int, ...]) -> Route | None:
        windows = self._windows[slot]
        if any(windows[m] is None for m in moves):
            return None
        for left_out in range(len(moves)) if len(moves) > 2 else ():
            part = (slot, moves[:left_out] + moves[left_out + 1 :])
            if part in self._by_set and self._by_set[part] is None:
                return None  # roads keep the triangle inequality: what a part cannot, all cannot
        # The same moves look the same on many days: then the answer is the same as well.
        opened = self._open[slot]
        ends = self.stated.ends
        look = (
            self.slots[slot].rig,
            self.times[slot].length,
            moves,
            tuple(windows[m] for m in moves),
            tuple((opened[ends[m][0]], opened[ends[m][1]]) for m in moves),
        )
        if look not in self._by_look:
            self._by_look[look] = _Search(self, slot, moves).best()
        return self._by_look[look]

    # -- the trip as people read it --------------------------------------------------------------

    def planned(self, slot: int, moves: tuple[int, ...]) -> PlannedTrip:
        """The trip with its times: the one that is back earliest without waiting more."""
        route = self.of(slot, moves)
        assert route is not None
        time, stated, problem = self.times[slot], self.stated, self.problem
        at = route.back - route.minutes
        depart = time.moment(at)
        place, stops = stated.home, []
        for where, unload, load, span in route.stops:
            leg = stated.leg(place, where, route.tows)
            at += leg[1]
            begin = max([at, span[0], *(self._free(slot, m) for m in load)])
            stops.append(
                TripStop(
                    place=stated.place_ids[where],
                    arrive=time.moment(at),
                    begin=time.moment(begin),
                    leave=time.moment(begin + problem.stop_minutes, end=True),
                    unload=tuple(problem.moves[m].id for m in unload),
                    load=tuple(problem.moves[m].id for m in load),
                )
            )
            at, place = begin + problem.stop_minutes, where
        slot_of = self.slots[slot]
        return PlannedTrip(
            day=problem.days[slot_of.first].id,
            rig=problem.rigs[slot_of.rig].id,
            depart=depart,
            back=time.moment(route.back, end=True),
            stops=tuple(stops),
            metres=route.metres,
            minutes=route.minutes,
            cost=route.cost + self.fixed(slot),
            nights=slot_of.days - 1,
            tows=route.tows,
        )

    def _free(self, slot: int, move: int) -> Minutes:
        window = self._windows[slot][move]
        assert window is not None
        return window[0]


def _fits(move: TripMove, rig: TripRig) -> bool:
    if move.on_trailer:
        return rig.tows
    return move.space <= rig.space and move.weight <= rig.weight


_Way = tuple[int, Minutes, Minutes, int, Minutes, Any, Any]
"""Cost, ready, last (see the top of the module), metres, minutes; the way before and its stop with
moves as bits. A plain tuple: millions of them are made."""


class _Search:
    """One call of `Routes.of`. Moves are bits; those that nothing tells apart are one bit."""

    def __init__(self, routes: Routes, slot: int, moves: tuple[int, ...]) -> None:
        problem, stated = routes.problem, routes.stated
        rig = problem.rigs[routes.slots[slot].rig]
        self.stated, self.width = stated, routes.width
        self.length = routes.times[slot].length
        self.opened = routes._open[slot]
        self.tows = any(problem.moves[m].on_trailer for m in moves)
        self.per_metre = 60 * rig.per_km
        self.per_minute = 1000 * problem.per_hour
        self.service = problem.stop_minutes
        loads = [self._load(problem.moves[m]) for m in moves]
        self.room = (rig.space, rig.weight, 1)
        self.all_fit = all(sum(load[i] for load in loads) <= self.room[i] for i in range(3))
        bundles: dict[object, list[int]] = {}
        for m in moves:
            window = routes._windows[slot][m]
            same = (stated.ends[m], window) if self.all_fit else m
            bundles.setdefault(same, []).append(m)
        self.bundles = list(bundles.values())
        firsts = [bundle[0] for bundle in self.bundles]
        self.origins = [stated.ends[m][0] for m in firsts]
        self.destinations = [stated.ends[m][1] for m in firsts]
        windows = [routes._windows[slot][m] for m in firsts]
        self.windows = [window for window in windows if window is not None]
        self.loads = [self._load(problem.moves[m]) for m in firsts]

    @staticmethod
    def _load(move: TripMove) -> tuple[int, int, int]:
        return (0, 0, 1) if move.on_trailer else (move.space, move.weight, 0)

    def best(self) -> Route | None:
        count = len(self.bundles)
        if count > MOST_WAYS:
            return None
        everything = (1 << count) - 1
        start: _Way = (0, 0, self.length, 0, 0, None, None)
        layers: list[dict[tuple[int, int, int], list[_Way]]] = [{} for _ in range(2 * count + 1)]
        layers[0][self.stated.home, 0, 0] = [start]
        for number, layer in enumerate(layers[:-1]):
            for (place, picked, done), ways in self._narrow(layer):
                for where, unload, load, after in self._next(picked, done):
                    key = (where, picked | load, done | unload)
                    found = layers[number + after].setdefault(key, [])
                    self._go(place, where, unload, load, ways, found)
        best: _Way | None = None
        for (place, _, done), ways in layers[-1].items():
            assert done == everything
            for way in ways:
                best = self._home(place, way, best)
        return None if best is None else self._route(best)

    def _narrow(
        self, layer: dict[tuple[int, int, int], list[_Way]]
    ) -> list[tuple[tuple[int, int, int], list[_Way]]]:
        """The states to go on from: all, or with a ``width`` the cheapest."""
        states = [one for one in layer.items() if one[1]]
        if self.width is None or len(states) <= self.width:
            return states
        states.sort(key=lambda one: min(way[0] for way in one[1]))
        return states[: self.width]

    def _next(self, picked: int, done: int) -> Iterator[tuple[int, int, int, int]]:
        """Places worth going to, with what is unloaded and loaded there."""
        off: dict[int, int] = {}
        on: dict[int, list[int]] = {}
        for b, (origin, where) in enumerate(zip(self.origins, self.destinations, strict=True)):
            bit = 1 << b
            if not picked & bit:
                on.setdefault(origin, []).append(b)
            elif not done & bit:
                off[where] = off.get(where, 0) | bit
        for where in {*off, *on}:
            unload = off.get(where, 0)
            for load in self._loadings(on.get(where, []), picked & ~done & ~unload):
                if unload or load:
                    yield where, unload, load, (unload.bit_count() + load.bit_count())

    def _loadings(self, waiting: list[int], aboard: int) -> Iterator[int]:
        """Sets that may be loaded. Where all fits at once, more is better than less, unless it
        means to wait: so only sets of everything that is free by some moment."""
        yield 0
        if self.all_fit:
            load, waiting = 0, sorted(waiting, key=lambda b: self.windows[b][0])
            for index, b in enumerate(waiting):
                load |= 1 << b
                later = waiting[index + 1 : index + 2]
                if not later or self.windows[later[0]][0] > self.windows[b][0]:
                    yield load
            return
        for number in range(1, 1 << len(waiting)):
            load = sum(1 << b for i, b in enumerate(waiting) if number >> i & 1)
            if self._has_room(aboard | load):
                yield load

    def _has_room(self, aboard: int) -> bool:
        for kind in range(3):
            total = sum(load[kind] for b, load in enumerate(self.loads) if aboard >> b & 1)
            if total > self.room[kind]:
                return False
        return True

    def _go(
        self, place: int, where: int, unload: int, load: int, ways: list[_Way], found: list[_Way]
    ) -> None:
        metres, minutes = self.stated.leg(place, where, self.tows)
        service, per_minute = self.service, self.per_minute
        earliest, latest = 0, self.length
        for b, (free, due) in enumerate(self.windows):
            if load >> b & 1 and free > earliest:
                earliest = free
            if unload >> b & 1 and due < latest:
                latest = due
        road = metres * self.per_metre
        for span in self.opened[where]:
            begin = max(earliest, span[0])
            end = min(latest, span[1]) - service
            stop = (where, unload, load, span)
            for way in ways:
                ready = max(way[1] + minutes, begin)
                if ready > end:
                    continue
                last = way[2] + minutes
                took = minutes + service + (begin - last if begin > last else 0)
                cost = way[0] + road + took * per_minute
                ready += service
                last = min(max(last, begin), end) + service
                # One beats another if it is no dearer whatever follows: a minute less in `last`
                # costs one minute of waiting at most.
                for old in found:
                    lag = last - old[2] if last > old[2] else 0
                    if old[1] <= ready and old[0] + lag * per_minute <= cost:
                        break
                else:
                    found[:] = [
                        old
                        for old in found
                        if ready > old[1] or cost + max(0, old[2] - last) * per_minute > old[0]
                    ]
                    found.append((cost, ready, last, way[3] + metres, way[4] + took, way, stop))

    def _home(self, place: int, way: _Way, best: _Way | None) -> _Way | None:
        metres, minutes = self.stated.leg(place, self.stated.home, self.tows)
        if way[1] + minutes > self.length:
            return best
        cost = way[0] + metres * self.per_metre + minutes * self.per_minute
        key = (cost, way[3] + metres, way[4] + minutes)
        if best is not None and key >= (best[0], best[3], best[4]):
            return best
        return (cost, way[1] + minutes, way[2], key[1], key[2], way, None)

    def _bits(self, bits: int) -> tuple[int, ...]:
        return tuple(sorted(m for b, ms in enumerate(self.bundles) if bits >> b & 1 for m in ms))

    def _route(self, end: _Way) -> Route:
        stops: list[Stop] = []
        way = end[5]
        while way[6] is not None:
            where, unload, load, span = way[6]
            stops.append((where, self._bits(unload), self._bits(load), span))
            way = way[5]
        return Route(end[0], end[3], end[4], end[1], tuple(stops[::-1]), self.tows)

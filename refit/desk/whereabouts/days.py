"""The same as the picture in words: day by day for the phone, and by place as a table.

Pure: rows and courses in, sentences out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from refit.work.wording import say_day, say_list, say_moment, say_near

from .courses import Chosen, Courses
from .rows import LegRow, PackageRow, Rows

AHEAD = 14
"""Days shown unfolded from today on."""


@dataclass(frozen=True, slots=True)
class Happening:
    """``sort``: "starts", "holds", "ends", "moves", "goes on" or "launch"; ``at`` the clock."""

    sort: str
    clock: str
    text: str
    place: str
    href: str = ""
    drives: bool = False
    late: tuple[str, ...] = ()
    done: bool = False

    @property
    def sign(self) -> str:
        return {
            "starts": "▸",
            "holds": "▨",
            "ends": "✓" if self.done else "◂",
            "moves": "↗",
            "goes on": "=",
            "launch": "⚑",
        }[self.sort]


@dataclass(frozen=True, slots=True)
class Day:
    day: date
    said: str
    near: str
    happenings: tuple[Happening, ...]


@dataclass(frozen=True, slots=True)
class Diary:
    earlier: tuple[Day, ...]
    coming: tuple[Day, ...]
    later: tuple[Day, ...]


def keep_diary(rows: Rows, courses: Courses, chosen: Chosen) -> Diary:
    """What starts, ends, cures and moves, by day; days on which nothing does are left out, but
    today is always there, with what is going on."""
    days: dict[date, list[tuple[datetime, Happening]]] = defaultdict(list)
    places = {place.id: place.name for place in rows.places}
    for package in rows.packages:
        if package.code in chosen.packages:
            for moment, happening in _of_package(package, rows, places):
                days[rows.day(moment)].append((moment, happening))
    for number in sorted(chosen.ways):
        for moment, happening in _of_way(courses.ways[number], rows, places):
            days[rows.day(moment)].append((moment, happening))
    if rows.wanted is not None:
        noon = datetime.combine(rows.wanted, datetime.min.time(), rows.zone)
        days[rows.wanted].append((noon, Happening("launch", "", "Launch wanted", "")))
    days.setdefault(rows.today, [])
    listed = [
        Day(
            day,
            say_day(day, rows.today),
            say_near(day, rows.today),
            tuple(happening for _, happening in sorted(days[day], key=lambda each: each[0])),
        )
        for day in sorted(days)
    ]
    border = rows.today + timedelta(days=AHEAD)
    return Diary(
        tuple(day for day in reversed(listed) if day.day < rows.today),
        tuple(day for day in listed if rows.today <= day.day <= border),
        tuple(day for day in listed if day.day > border),
    )


def _of_package(
    package: PackageRow, rows: Rows, places: dict[int, str]
) -> Iterator[tuple[datetime, Happening]]:
    name = f"{package.code} {package.title}"
    place = places.get(package.place, "")

    def happening(sort: str, moment: datetime, text: str, done: bool) -> Happening:
        clock = f"{moment.astimezone(rows.zone):%H:%M}"
        late = package.late if sort in ("starts", "goes on") or not package.started else ()
        return Happening(sort, clock, text, place, package.href, package.drives, late, done)

    start, end = package.start, package.work_finish
    today = rows.today
    begun = "started" if package.started else "starts"
    over = "finished" if package.finished else "finishes"
    holds = package.finish > end
    why = f" ({package.hold_reason})" if package.hold_reason else ""
    until = f"holds until {say_moment(package.finish, rows.zone, today)}{why}"
    if rows.day(start) == rows.day(end):
        text = f"{name} {begun} and {over}"
        if holds:
            text += f", then {until}"
        yield start, happening("starts", start, text, package.finished)
    else:
        yield start, happening("starts", start, f"{name} {begun}", package.started)
        text = f"{name} {over}" + (f", then {until}" if holds else "")
        yield end, happening("holds" if holds else "ends", end, text, package.finished)
        if rows.day(start) < today < rows.day(end):
            text = f"{name} goes on until {say_moment(end, rows.zone, today)}"
            yield rows.now, happening("goes on", rows.now, text, False)
    if holds and rows.day(package.finish) > rows.day(end):
        done = package.finished and package.finish <= rows.now
        text = f"{name}: hold {'was over' if done else 'is over'}"
        yield package.finish, happening("ends", package.finish, text, done)
        if rows.day(end) < today < rows.day(package.finish):
            yield rows.now, happening("goes on", rows.now, f"{name} {until}", False)


def _of_way(
    way: LegRow, rows: Rows, places: dict[int, str]
) -> Iterator[tuple[datetime, Happening]]:
    piece = next((row for row in rows.pieces if row.id == way.piece), None)
    if piece is None:
        return
    origin, goal = places.get(way.origin, "?"), places.get(way.destination, "?")
    name = f"{piece.name} ({piece.tag})"
    path = f"{origin} → {goal}"
    clock = f"{way.depart.astimezone(rows.zone):%H:%M}"
    late = (way.late,) if way.late else ()

    def moves(at: datetime, text: str, clock: str, done: bool) -> tuple[datetime, Happening]:
        return at, Happening("moves", clock, text, path, piece.href, way.drives, late, done)

    if not way.recorded:
        yield moves(way.arrive, f"{name} changed place; the move was not recorded", "", True)
        return
    arrival = f"{way.arrive.astimezone(rows.zone):%H:%M}"
    if rows.day(way.depart) == rows.day(way.arrive):
        word = "arrived" if way.arrived else "arrives"
        left = "left" if way.sent else "leaves"
        yield moves(way.depart, f"{name} {left} and {word} {arrival}", clock, way.arrived)
        return
    yield moves(way.depart, f"{name} {'left' if way.sent else 'leaves'}", clock, way.sent)
    word = "arrived" if way.arrived else "arrives"
    yield moves(way.arrive, f"{name} {word}", arrival, way.arrived)


@dataclass(frozen=True, slots=True)
class Spell:
    """One line of the table: what is at a place from when until when, and what is done to it."""

    what: str
    href: str
    since: str
    until: str
    work: tuple[tuple[str, str], ...]
    is_here: bool


@dataclass(frozen=True, slots=True)
class AtPlace:
    name: str
    whose: str
    spells: tuple[Spell, ...]


def tabulate(rows: Rows, courses: Courses, chosen: Chosen, places: Iterable[int]) -> list[AtPlace]:
    """By place, in the order of the lanes: every stay, and the packages that need no piece."""
    pieces = {piece.id: piece for piece in rows.pieces}
    seated: dict[int, list[PackageRow]] = defaultdict(list)
    quiet: dict[int, list[PackageRow]] = defaultdict(list)
    for package in sorted(rows.packages, key=lambda row: row.start):
        if package.code in chosen.packages:
            seat = courses.seats[package.code]
            if seat is None:
                quiet[package.place].append(package)
            else:
                seated[seat].append(package)
    first, last = rows.bounds()
    known = {place.id: place for place in rows.places}
    made = []
    for place in places:
        spells = []
        numbers = [n for n in chosen.stays if courses.stays[n].place == place]
        for number in sorted(numbers, key=lambda n: (courses.stays[n].start, n)):
            stay = courses.stays[number]
            piece = pieces[stay.piece]
            until = say_moment(stay.end, rows.zone, rows.today)
            if stay.fitted_by is not None:
                until += f", then fitted by {stay.fitted_by}"
            elif stay.ends is not None:
                goal = known.get(courses.ways[stay.ends].destination)
                until += f", then to {goal.name}" if goal else ""
            elif rows.day(stay.end) > last:
                until = "stays"
            spells.append(
                Spell(
                    f"{piece.name} ({piece.tag})",
                    piece.href,
                    "from the start"
                    if rows.day(stay.start) <= first
                    else say_moment(stay.start, rows.zone, rows.today),
                    until,
                    tuple((f"{row.code} {row.title}", row.href) for row in seated[number]),
                    stay.start <= rows.now < stay.end,
                )
            )
        for package in quiet[place]:
            spells.append(
                Spell(
                    "no piece needed",
                    "",
                    say_moment(package.start, rows.zone, rows.today),
                    say_moment(package.finish, rows.zone, rows.today),
                    ((f"{package.code} {package.title}", package.href),),
                    package.start <= rows.now < package.finish,
                )
            )
        if place in known:
            made.append(AtPlace(known[place].name, known[place].whose, tuple(spells)))
    return made


def say_here(places: Iterable[AtPlace]) -> list[tuple[str, str]]:
    """Where everything is now, in one line a place."""
    here = []
    for place in places:
        names = dict.fromkeys(spell.what for spell in place.spells if spell.is_here and spell.href)
        if names:
            here.append((place.name, say_list(list(names))))
    return here

"""Random small refits for properties of the planning core: every one sound, most of them awkward.

`refit_problem(seed, packages)` is deterministic, so that a failure names the seed that shows it
again, and a benchmark can ask for hundreds of packages. Times are minutes, day 0 is a Monday.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

from refit.scheduling.problem import (
    DAY,
    HOUR,
    Calendar,
    Demand,
    Dependency,
    Minutes,
    Outage,
    Package,
    Piece,
    Place,
    Problem,
    Progress,
    Relation,
    Resource,
    ResourceKind,
    Travel,
)

PLACES = ("shed", "frameshop", "coater", "loft", "upholsterer", "ramp")


def week_calendar(
    name: str,
    days: int,
    opens: Minutes,
    closes: Minutes,
    *,
    open_days: int = 5,
    lunch: bool = False,
) -> Calendar:
    """``days`` days from Monday on, open on the first ``open_days`` of each week."""
    spans: list[tuple[Minutes, Minutes]] = []
    for day in range(days):
        if day % 7 < open_days:
            start, end = day * DAY + opens, day * DAY + closes
            if lunch:
                spans += [(start, day * DAY + 12 * HOUR), (day * DAY + 13 * HOUR, end)]
            else:
                spans.append((start, end))
    return Calendar(name, tuple(spans))


def always_open(days: int) -> Calendar:
    return Calendar("always", ((0, days * DAY),))


def refit_problem(
    seed: int, packages: int, *, awkward: bool = True, unbroken: bool = False
) -> Problem:
    """A refit with ``packages`` packages; ``awkward`` adds lags, windows and progress.

    ``unbroken``: a third of the packages whose work fits into a day is done in one go.
    """
    random = Random(seed)
    days = 400 + 12 * packages
    calendars = (
        week_calendar("crew", days, 8 * HOUR, 16 * HOUR + 30, lunch=True),
        week_calendar("shop", days, 7 * HOUR, 17 * HOUR),
        week_calendar("saturday", days, 9 * HOUR, 15 * HOUR, open_days=6),
        week_calendar("short", days, 10 * HOUR, 12 * HOUR, open_days=3),
        always_open(days),
    )
    places = tuple(
        Place(name, random.choice(("crew", "shop", "saturday", "always"))) for name in PLACES
    )
    travels = tuple(
        Travel(a, b, random.choice((0, 30, 90, 4 * HOUR))) for a in PLACES for b in PLACES if a != b
    )
    # Of every other awkward refit the boat is towed, a quarter or an hour slower than the rest. By
    # the seed, not drawn, so that the others stay the problems they were.
    slower, is_towed = (0, 15, HOUR)[seed % 3], awkward and seed % 2 == 1
    travels = tuple(replace(t, towed=t.minutes + slower) if is_towed else t for t in travels)
    now = random.choice((0, 3 * DAY + 10 * HOUR, 5 * DAY)) if awkward else 0
    returns_to = random.choice((None, "ramp"))
    boat = Piece("boat", "shed", shared=True, returns_to=returns_to, towed=is_towed)
    others = tuple(
        Piece(
            f"piece-{i}",
            random.choice(PLACES),
            free_from=random.choice((0, 0, 4 * DAY)),
            returns_to=random.choice((None, "shed")),
        )
        for i in range(random.randint(2, 7))
    )
    resources = (
        Resource("two-hands", 2, ResourceKind.CREW, _outages(random, 2)),
        Resource("welder", 1, ResourceKind.VENDOR, _outages(random, 1)),
        Resource("booth", 1, ResourceKind.BAY),
        Resource("cockpit", 1, ResourceKind.ZONE),
        Resource("hull", 1, ResourceKind.ZONE),
    )
    names = [f"job-{i}" for i in range(packages)]
    made = tuple(
        _package(random, name, now, (boat, *others), awkward=awkward and index < packages // 4)
        for index, name in enumerate(names)
    )
    if unbroken:
        choose = Random(-1 - seed)
        fits = {c.id: max(end - start for start, end in c.spans) for c in calendars}
        made = tuple(
            replace(p, unbroken=p.work <= fits[p.calendar] and choose.random() < 0.33) for p in made
        )
    return Problem(
        packages=made,
        dependencies=_dependencies(random, names, awkward=awkward),
        calendars=calendars,
        now=now,
        resources=resources,
        places=places,
        travels=travels,
        pieces=(boat, *others),
        target=random.choice((None, names[-1])) if names else None,
    )


def _outages(random: Random, capacity: int) -> tuple[Outage, ...]:
    starts = sorted(random.randrange(0, 40) for _ in range(random.randint(0, 2)))
    return tuple(
        Outage(
            day * DAY,
            day * DAY + random.choice((8 * HOUR, DAY, 5 * DAY)),
            random.randint(1, capacity),
        )
        for day in starts
    )


def _package(
    random: Random, name: str, now: Minutes, pieces: tuple[Piece, ...], *, awkward: bool
) -> Package:
    place = random.choice((*PLACES, "shed", "shed"))
    wanted = random.sample(pieces, random.choice((0, 1, 1, 1, 2)))
    resources = random.sample(
        ("two-hands", "welder", "booth", "cockpit", "hull"), random.choice((0, 1, 1, 2, 3))
    )
    demands = tuple(
        Demand(
            resource,
            random.randint(1, 2) if resource == "two-hands" else 1,
            through_hold=resource in ("booth", "hull") or random.random() < 0.2,
        )
        for resource in resources
    )
    booked = promised = deadline = not_before = None
    progress = None
    if random.random() < 0.15:
        not_before = random.randrange(0, 30 * DAY, HOUR)
    if random.random() < 0.15:
        deadline = random.randrange(20 * DAY, 90 * DAY, HOUR)
    if random.random() < 0.15:
        promised = random.randrange(0, 30 * DAY, HOUR)
    if random.random() < 0.2:
        booked = random.randrange(0, 40) * DAY + random.choice((9, 10, 11)) * HOUR
    if awkward and now and random.random() < 0.5:
        started = random.randrange(0, now, 30)
        progress = random.choice(
            (
                Progress(started),
                Progress(started, remaining=random.choice((0, HOUR, 9 * HOUR))),
                Progress(started, finished=random.randint(started, now)),
            )
        )
    return Package(
        id=name,
        work=random.choice((0, 45, 2 * HOUR, 4 * HOUR, 8 * HOUR, 20 * HOUR)),
        calendar=random.choice(("crew", "crew", "shop", "saturday", "short", "always")),
        hold=random.choice((0, 0, 0, 3 * HOUR, DAY, 3 * DAY)),
        place=place,
        pieces=tuple(piece.id for piece in wanted),
        demands=demands,
        booked=booked,
        not_before=not_before,
        deadline=deadline,
        promised=promised,
        progress=progress,
    )


def _dependencies(random: Random, names: list[str], *, awkward: bool) -> tuple[Dependency, ...]:
    found: list[Dependency] = []
    for index, after in enumerate(names):
        for before in random.sample(names[:index], min(index, random.choice((0, 1, 1, 2)))):
            relation = random.choice((Relation.FINISH_TO_START,) * 4 + tuple(Relation))
            calendar = random.choice((None, None, "crew", "always"))
            lag = random.choice((0, 0, 0, 90, DAY)) if awkward else 0
            if awkward and random.random() < 0.1:
                lag = -2 * HOUR
            window = None
            if awkward and random.random() < 0.12:
                window = max(lag, 0) + random.choice((4 * HOUR, DAY, 4 * DAY))
            found.append(Dependency(before, after, relation, lag, window, calendar))
    return tuple(found)


def at(day: int, hour: int = 0, minute: int = 0) -> Minutes:
    """A moment of a hand-made problem; day 0 is a Monday, day 5 a Saturday."""
    return day * DAY + hour * HOUR + minute


def small_refit(
    *packages: Package,
    dependencies: tuple[Dependency, ...] = (),
    resources: tuple[Resource, ...] = (),
    pieces: tuple[Piece, ...] = (),
    now: Minutes = 0,
    target: str | None = None,
    travel: Minutes = 2 * HOUR,
) -> Problem:
    """A problem small enough to solve by hand: six weeks, shed and shop open 8-16 on weekdays.

    Places "shed" and "shop" keep the hours "weekdays", "slip" is open always; between any two it
    takes ``travel`` minutes.
    """
    names = ("shed", "shop", "slip")
    return Problem(
        packages=packages,
        dependencies=dependencies,
        calendars=(week_calendar("weekdays", 42, 8 * HOUR, 16 * HOUR), always_open(42)),
        now=now,
        resources=resources,
        places=tuple(Place(n, "always" if n == "slip" else "weekdays") for n in names),
        travels=tuple(Travel(a, b, travel) for a in names for b in names if a != b),
        pieces=pieces,
        target=target,
    )

"""Between which dates each package must start, if the launch is to be by some moment.

Earliest and latest starts by dependencies, opening hours, where pieces are now, and the way a
piece has to go from one package to another that waits for it. Every plan that launches in time
keeps them. Not here: what a resource has too little of (`energy`), the search.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from .calendars import FOREVER
from .generation import Generation
from .lags import latest_source, point_of
from .problem import Dependency, Minutes, Package, Planned, Relation
from .stated import Stated
from .steps import Ways
from .timelines import first_stay


def earliest_starts(
    stated: Stated,
    generation: Generation,
    ways: Ways,
    names: Iterable[str],
    fixed: Mapping[str, Planned],
) -> dict[str, Minutes]:
    """The earliest start of each of ``names``, given in an order in which none waits for a later.

    What is ``fixed`` is where it is, everything else at its earliest.
    """
    placed = {**generation.unhindered, **fixed}
    facts = [(stated.packages[name], dates) for name, dates in stated.facts.items()]
    first = {p.id: first_stay(p, facts, stated.now) for p in stated.pieces.values()}
    lows: dict[str, Minutes] = {}
    for name in names:
        package = stated.packages[name]
        bound = generation.bound(name, placed)
        for piece in package.pieces:
            stay = first[piece]
            assert package.place is not None
            if stay.place != package.place:
                bound = max(bound, ways.arrival(stay.place, package.place, stay.end))
            else:
                bound = max(bound, stay.start if stated.pieces[piece].shared else stay.end)
        for dependency in stated.into[name]:
            way = way_between(stated, dependency)
            if way is not None:
                bound = max(bound, ways.arrival(*way, placed[dependency.before].finish))
        placed[name] = stated.dates(package, bound)
        lows[name] = placed[name].start
    return lows


def latest_starts_by(
    stated: Stated,
    ways: Ways,
    names: Iterable[str],
    fixed: Mapping[str, Planned],
    finish_by: Callable[[Package], Minutes],
    start_by: Callable[[Package], Minutes],
) -> dict[str, Minutes]:
    """The latest start of each of ``names``, given in an order in which none comes before what
    waits for it, that leaves time for what is behind and keeps its own two limits."""
    highs: dict[str, Minutes] = {}
    finishes: dict[str, Minutes] = {}
    for name in names:
        package = stated.packages[name]
        finish, start = finish_by(package), start_by(package)
        for d in stated.out_of[name]:
            if d.after in highs:
                point = highs[d.after] if d.relation.to_start else finishes[d.after]
            elif d.after in fixed and d.after not in stated.facts:
                point = point_of(d, fixed[d.after])
            else:
                continue
            source = latest_source(d, point, stated.hours)
            if d.relation.from_finish:
                way = way_between(stated, d)
                if way is not None and point < FOREVER:
                    source = min(source, ways.latest_ready(*way, point))
                finish = min(finish, source)
            else:
                start = min(start, source)
        highs[name] = min(start, stated.latest_start(package, finish - package.hold))
        finishes[name] = finish
    return highs


def way_between(stated: Stated, dependency: Dependency) -> tuple[str, str] | None:
    """From where to where a piece has to go between the two packages of a dependency, if it has."""
    if dependency.relation is not Relation.FINISH_TO_START or dependency.min_lag < 0:
        return None
    if dependency.before in stated.facts:  # where its pieces are now is stated
        return None
    before, after = stated.packages[dependency.before], stated.packages[dependency.after]
    if before.place == after.place or before.place is None or after.place is None:
        return None
    if not any(piece in after.pieces for piece in before.pieces):
        return None
    return before.place, after.place


def come_after(stated: Stated) -> dict[str, set[str]]:
    """For each package those that cannot start before it is finished, by dependencies."""
    behind: dict[str, set[str]] = {}
    for name in reversed(stated.order):
        found: set[str] = set()
        for d in stated.out_of[name]:
            if d.relation is Relation.FINISH_TO_START and d.min_lag >= 0:
                found |= {d.after, *behind[d.after]}
        behind[name] = found
    return behind

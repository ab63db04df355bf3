"""Orders of priority for the generation scheme, each a number per package: lower is more urgent.

The rules are textbook ones; the sources are named from memory. Latest finish, latest start and
slack: Davis and Patterson 1975, *A comparison of heuristic and optimum solutions in
resource-constrained project scheduling*. Most successors and greatest rank positional weight:
Alvarez-Valdes and Tamarit 1989 (the latter as in Helgeson and Birnie 1961, for assembly lines).
Shortest first: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping

from .calendars import FOREVER, NEVER
from .lags import latest_source
from .problem import Dependency, Minutes, Package, Planned
from .stated import Stated

Ranks = dict[str, float]


def rank_as_stated(stated: Stated) -> Ranks:
    """The order in which the packages were stated, as far as dependencies permit."""
    return {name: float(index) for index, name in enumerate(stated.order)}


def rank_by_rules(stated: Stated, earliest: Mapping[str, Planned], horizon: Minutes) -> list[Ranks]:
    """One order a rule. ``earliest``: dates if nothing but dependencies and hours mattered.

    ``horizon``: an end that can be reached; latest dates are counted from there.
    """
    latest = _latest(stated, horizon)
    weight = {name: p.work + p.hold for name, p in stated.packages.items()}
    behind = _behind(stated)
    return [
        {name: latest[name][0] for name in stated.order},  # latest start
        {name: latest[name][1] for name in stated.order},  # latest finish
        {name: latest[name][0] - earliest[name].start for name in stated.order},  # slack
        {name: -len(behind[name]) for name in stated.order},  # most successors
        {  # greatest rank positional weight: its own and that of its direct successors
            name: -weight[name] - sum(weight[d.after] for d in stated.out_of[name])
            for name in stated.order
        },
        {name: weight[name] for name in stated.order},  # shortest
    ]


def _behind(stated: Stated) -> dict[str, set[str]]:
    """All packages that wait for a package, directly or not."""
    behind: dict[str, set[str]] = {}
    for name in reversed(stated.order):
        found: set[str] = set()
        for dependency in stated.out_of[name]:
            found.add(dependency.after)
            found |= behind[dependency.after]
        behind[name] = found
    return behind


def _latest(stated: Stated, horizon: Minutes) -> dict[str, tuple[Minutes, Minutes]]:
    """Latest start and finish if only dependencies and hours mattered.

    Good enough to rank by, not a promise: where a deadline or booking asks for more than there
    is time, the latest dates lie before the earliest.
    """
    latest: dict[str, tuple[Minutes, Minutes]] = {}
    for name in reversed(stated.order):
        package = stated.packages[name]
        start, finish = FOREVER, horizon
        if package.deadline is not None:
            finish = min(finish, package.deadline)
        for dependency in stated.out_of[name]:
            source = _latest_source(stated, dependency, latest[dependency.after])
            if dependency.relation.from_finish:
                finish = min(finish, source)
            else:
                start = min(start, source)
        start = min(start, _start_by(stated, package, finish))
        if package.booked is not None:
            start = min(start, package.booked)
        latest[name] = (start, finish)
    return latest


def _latest_source(
    stated: Stated, dependency: Dependency, after: tuple[Minutes, Minutes]
) -> Minutes:
    start, finish = after
    point = start if dependency.relation.to_start else finish
    return latest_source(dependency, point, stated.hours)


def _start_by(stated: Stated, package: Package, finish: Minutes) -> Minutes:
    work_finish = finish - package.hold
    start = stated.latest_start(package, work_finish)
    return work_finish - package.work if start == NEVER else start

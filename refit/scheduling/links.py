"""What holds a plan in its order: who waits for whom, by dependency, piece or resource.

A link says that the second package needs the end of the first. Keep all links and the plan stays
feasible wherever its packages are pushed. Which packages share a resource without waiting for
each other leaves a choice: every unit of the resource is handed from one user to the next, and
an early user hands over first (a resource flow; Artigues, Michelon and Reusser 2003, from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import dropwhile, takewhile

from .calendars import FOREVER
from .moves import stays_of
from .problem import Dependency, Minutes, Planned, Resource
from .stated import Stated
from .timelines import Stay, demand_span


@dataclass(frozen=True, slots=True)
class Link:
    """``after`` waits for ``before``, for exactly one of the three reasons.

    ``after`` is None where an outage of the resource comes next, which begins at ``at``.
    ``whole`` says that ``before`` keeps the resource until its hold ends.
    """

    before: str
    after: str | None
    dependency: Dependency | None = None
    piece: str | None = None
    resource: str | None = None
    whole: bool = True
    at: Minutes = FOREVER


def find_links(stated: Stated, dates: Mapping[str, Planned]) -> list[Link]:
    """All links of the plan with these dates."""
    links = [
        Link(d.before, d.after, dependency=d)
        for d in stated.problem.dependencies
        if d.after not in stated.facts
    ]
    for piece in stated.pieces.values():
        stays = stays_of(stated, piece, dates)
        for index, stay in enumerate(stays):
            if stay.package is not None:
                links.extend(
                    Link(stay.package, behind.package, piece=piece.id)
                    for behind in _next_uses(stays[index + 1 :], stay.place, shared=piece.shared)
                )
    for resource in stated.resources.values():
        links.extend(_handed_over(stated, resource, dates))
    return links


def _next_uses(behind: list[Stay], place: str, *, shared: bool) -> Iterator[Stay]:
    """The uses that wait for one at ``place``: the next one, or all at the next place."""
    if shared:
        behind = list(dropwhile(lambda stay: stay.place == place, behind))
        yield from takewhile(lambda stay: stay.place == behind[0].place, behind)
    else:
        yield from behind[:1]


def _handed_over(
    stated: Stated, resource: Resource, dates: Mapping[str, Planned]
) -> Iterator[Link]:
    """Links between the users of one resource, following each of its units."""
    users: list[tuple[Minutes, Minutes, int, str | None, bool]] = []
    for name, planned in dates.items():
        for demand in stated.packages[name].demands:
            start, end = demand_span(demand, planned)
            if demand.resource == resource.id and start < end:
                users.append((start, end, demand.units, name, demand.through_hold))
    users.extend((o.start, o.end, o.units, None, True) for o in resource.outages)
    users.sort(key=lambda user: (user[0], user[1], user[3] or ""))
    # each unit: when it was given back, by whom, and whether the hold counted
    units: list[tuple[Minutes, str | None, bool]] = [(-FOREVER, None, True)] * resource.capacity
    for start, end, wanted, user, whole in users:
        units.sort(key=lambda unit: (unit[0], unit[1] or ""))
        taken, units = units[:wanted], units[wanted:]
        for free, before, before_whole in dict.fromkeys(taken):
            if before is not None and free <= start and (user is None or user not in stated.facts):
                yield Link(before, user, resource=resource.id, whole=before_whole, at=start)
        units.extend([(end, user, whole)] * len(taken))

"""What holds a plan in its order: who waits for whom, by dependency, piece or resource.

A link says that the second package needs the end of the first. Keep all links and the plan stays
feasible wherever its packages are pushed. Which packages share a resource without waiting for
each other leaves a choice: every unit of the resource is handed from one user to the next, and
an early user hands over first (a resource flow; Artigues, Michelon and Reusser 2003, from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from .lags import FOREVER, latest_point, latest_source, source_of
from .moves import stays_of
from .problem import BeyondHorizon, Dependency, Minutes, Package, Planned, Resource
from .stated import Stated
from .timelines import demand_span


@dataclass(frozen=True, slots=True)
class Link:
    """``before`` must have ended for ``after`` to start, for exactly one of the three reasons.

    ``after`` is None where an outage or the limit of a window comes next, at the moment ``at``.
    For a resource ``whole`` says that it is kept until the hold of ``before`` ends.
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
            for behind in stays[index + 1 :]:
                apart = behind.place != stay.place or not piece.shared
                if apart and stay.package is not None:
                    links.append(Link(stay.package, behind.package, piece=piece.id))
                if apart and not piece.shared:
                    break
    for resource in stated.resources.values():
        links.extend(_handed_over(stated, resource, dates))
    return links


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
    for start, end, wanted, name, whole in users:
        units.sort(key=lambda unit: (unit[0], unit[1] or ""))
        taken, units = units[:wanted], units[wanted:]
        for free, before, before_whole in dict.fromkeys(taken):
            if before is not None and free <= start and (name is None or name not in stated.facts):
                yield Link(before, name, resource=resource.id, whole=before_whole, at=start)
        units.extend([(end, name, whole)] * len(taken))


@dataclass(frozen=True, slots=True)
class Latest:
    """The latest start and finish of a package that keep the launch, and what they would hit.

    ``limit`` is None if the launch itself is the limit; ``start`` is FOREVER if there is none.
    """

    start: Minutes
    finish: Minutes
    limit: Link | None


def latest_dates(
    stated: Stated, dates: Mapping[str, Planned], *, target: str | None
) -> dict[str, Latest]:
    """Backward over all links: how late each package may be, others being pushed along.

    ``target`` keeps its finish (None: nothing ends later than the last package does now).
    Bookings and deadlines that are kept stay kept, and so do maximum lags, which are counted from
    the planned date of the package in front (so the answer may be too careful, never too bold).
    """
    end = max((planned.finish for planned in dates.values()), default=0)
    out_of: dict[str, list[Link]] = {name: [] for name in dates}
    for link in find_links(stated, dates):
        out_of[link.before].append(link)
    latest: dict[str, Latest] = {}
    behind = _backward(stated, dates, out_of)
    for name in behind:
        package, planned = stated.packages[name], dates[name]
        finish = end if target is None else FOREVER
        if name == target:
            finish = planned.finish
        if package.deadline is not None:
            finish = min(finish, max(package.deadline, planned.finish))
        start, limit = FOREVER, None
        for link in out_of[name]:
            by_start, by_finish = _until(stated, link, package, planned, latest)
            if by_start < start or by_finish < finish:
                start, finish = min(start, by_start), min(finish, by_finish)
                limit = link
        for dependency in stated.into[name]:
            window = latest_point(
                dependency, source_of(dependency, dates[dependency.before]), stated.hours
            )
            point = planned.start if dependency.relation.to_start else planned.finish
            if window >= FOREVER:
                continue
            window = max(window, point)
            if dependency.relation.to_start and window < start:
                start, limit = window, Link(dependency.before, None, dependency=dependency)
            elif not dependency.relation.to_start and window < finish:
                finish, limit = window, Link(dependency.before, None, dependency=dependency)
        by_finish = _start_by(stated, package, planned, finish)
        start = min(start, by_finish)
        if package.booked is not None and package.progress is None:
            start = planned.start
            limit = None
        latest[name] = Latest(max(start, planned.start), max(finish, planned.finish), limit)
    return latest

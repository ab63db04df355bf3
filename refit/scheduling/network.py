"""A problem turned into index arrays: what every pass over packages and dependencies needs.

Here: ids to positions, well-formedness, the topological order and the ring if there is none.
Not here: dates. Inner loops elsewhere read these lists; the ids come back only at the end.
"""

from __future__ import annotations

from .calendars import Hours
from .problem import (
    BadProblem,
    Contradiction,
    CycleFound,
    Dependency,
    Minutes,
    Package,
    Problem,
    Relation,
)

Term = tuple[int, int, bool, bool, Minutes, Hours | None]
"""Edge, other package, from its finish?, to its start?, lag, hours the lag is counted in."""


class Network:
    """Packages as ``0..n-1`` and dependencies as edges ``0..m-1``, both in the caller's order.

    ``plain[i]``: edges out of i that are finish-to-start without a lag (nearly all of them, hence
    a list of bare integers); ``terms[i]``: the other edges out of i, or None. ``windows``: edges
    that carry a maximum lag, the lag standing in the place of the minimum. ``special``: packages
    with anything more than work, hold and calendar to consider. ``order``: every package after
    all those it waits for.

    BadProblem, CycleFound or Contradiction (a window shorter than its own minimum) on reading.
    """

    __slots__ = (
        "head",
        "hold",
        "hours",
        "hours_by_id",
        "ids",
        "index",
        "order",
        "plain",
        "problem",
        "special",
        "tail",
        "terms",
        "windows",
        "work",
    )

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        packages = problem.packages
        self.ids = [package.id for package in packages]
        self.index = dict(zip(self.ids, range(len(packages)), strict=True))
        if len(self.index) != len(packages):
            raise BadProblem(f"package {_first_repeated(self.ids)} is given twice")
        if problem.target is not None and problem.target not in self.index:
            raise BadProblem(f"the target {problem.target} is not one of the packages")
        self.hours_by_id = {calendar.id: Hours(calendar) for calendar in problem.calendars}
        if len(self.hours_by_id) != len(problem.calendars):
            repeated = _first_repeated([calendar.id for calendar in problem.calendars])
            raise BadProblem(f"calendar {repeated} is given twice")
        try:
            self.hours = [self.hours_by_id[package.calendar] for package in packages]
        except KeyError as unknown:
            raise BadProblem(f"a package names the unknown calendar {unknown.args[0]}") from None
        self.work = [package.work for package in packages]
        self.hold = [package.hold for package in packages]
        if min(self.work, default=0) < 0 or min(self.hold, default=0) < 0:
            bad = next(package.id for package in packages if package.work < 0 or package.hold < 0)
            raise BadProblem(f"package {bad}: working time and hold cannot be negative")
        self.special: dict[int, Package] = {
            i: package
            for i, package in enumerate(packages)
            if package.booked is not None
            or package.progress is not None
            or package.not_before is not None
            or package.promised is not None
            or package.deadline is not None
        }
        for package in self.special.values():
            progress = package.progress
            if progress is None:
                continue
            if progress.finished is not None and progress.finished < progress.started:
                raise BadProblem(f"package {package.id} is finished before it has started")
            if progress.remaining is not None and progress.remaining < 0:
                raise BadProblem(f"package {package.id}: remaining time cannot be negative")
        self._read_dependencies()
        self.order = self._topological_order()

    def _read_dependencies(self) -> None:
        dependencies, index = self.problem.dependencies, self.index
        try:
            self.tail = [index[dependency.before] for dependency in dependencies]
            self.head = [index[dependency.after] for dependency in dependencies]
        except KeyError as unknown:
            raise BadProblem(f"a dependency names the unknown package {unknown.args[0]}") from None
        self.plain: list[list[int]] = [[] for _ in self.ids]
        self.terms: list[list[Term] | None] = [None] * len(self.ids)
        self.windows: list[Term] = []
        plain, tail, finish_to_start = self.plain, self.tail, Relation.FINISH_TO_START
        for edge, dependency in enumerate(dependencies):
            if dependency.relation is finish_to_start and dependency.min_lag == 0:
                plain[tail[edge]].append(edge)
            else:
                term = self._term(edge, dependency, dependency.min_lag)
                known = self.terms[tail[edge]]
                if known is None:
                    self.terms[tail[edge]] = [term]
                else:
                    known.append(term)
            if dependency.max_lag is not None:
                if dependency.max_lag < dependency.min_lag:
                    raise Contradiction(
                        (dependency.before, dependency.after),
                        f"{dependency.after} has to follow {dependency.before} by at least "
                        f"{dependency.min_lag} and at most {dependency.max_lag} minutes",
                    )
                self.windows.append(self._term(edge, dependency, dependency.max_lag))

    def _term(self, edge: int, dependency: Dependency, lag: Minutes) -> Term:
        hours = None
        if dependency.lag_calendar is not None:
            hours = self.hours_by_id.get(dependency.lag_calendar)
            if hours is None or not hours.starts:
                raise BadProblem(
                    f"the dependency of {dependency.after} on {dependency.before} counts its lag "
                    f"in the calendar {dependency.lag_calendar}, which is unknown or never open"
                )
        relation = dependency.relation
        return edge, self.head[edge], relation.from_finish, relation.to_start, lag, hours

    def _topological_order(self) -> list[int]:
        head, plain, terms = self.head, self.plain, self.terms
        waiting = [0] * len(self.ids)
        for i in head:
            waiting[i] += 1
        order = [i for i, count in enumerate(waiting) if not count]
        for i in order:  # grows while it is read: it is its own queue
            for edge in plain[i]:
                j = head[edge]
                waiting[j] = left = waiting[j] - 1
                if not left:
                    order.append(j)
            others = terms[i]
            if others is not None:
                for term in others:
                    j = term[1]
                    waiting[j] = left = waiting[j] - 1
                    if not left:
                        order.append(j)
        if len(order) < len(waiting):
            raise CycleFound(self._ring({i for i, count in enumerate(waiting) if count}))
        return order

    def _ring(self, stuck: set[int]) -> tuple[str, ...]:
        """A ring among ``stuck``, each of which waits for another of them.

        Walking from a package to one it waits for never ends, so it comes back to itself.
        """
        waits_for: dict[int, int] = {}
        for i, j in zip(self.tail, self.head, strict=True):
            if i in stuck and j in stuck:
                waits_for.setdefault(j, i)
        i, seen = min(stuck), set[int]()
        while i not in seen:
            seen.add(i)
            i = waits_for[i]
        ring = [i]
        while waits_for[ring[-1]] != i:
            ring.append(waits_for[ring[-1]])
        ring.reverse()
        first = ring.index(min(ring))
        return tuple(self.ids[i] for i in ring[first:] + ring[:first])


def _first_repeated(ids: list[str]) -> str:
    seen: set[str] = set()
    for name in ids:
        if name in seen:
            return name
        seen.add(name)
    raise AssertionError("called without a repeated id")

"""A problem turned into index arrays: what every pass over packages and dependencies needs.

Here: ids to positions, well-formedness, the ring in which packages wait for each other.
Not here: dates. Inner loops elsewhere read these lists; the ids come back only at the end.
"""

from __future__ import annotations

from collections.abc import Iterator

from .calendars import Hours
from .problem import (
    BadProblem,
    Contradiction,
    CycleFound,
    Dependency,
    Minutes,
    Package,
    Problem,
    Progress,
    Relation,
)

Term = tuple[int, int, bool, bool, Minutes, Hours | None]
"""Edge, package behind, from a finish?, to a start?, lag, hours the lag is counted in."""

_ENDS = {relation: (relation.from_finish, relation.to_start) for relation in Relation}


class Network:
    """Packages as ``0..n-1`` and dependencies as edges ``0..m-1``, both in the caller's order.

    ``plain[i]``: edges out of i that are finish-to-start without a lag (nearly all of them, hence
    a list of bare integers); ``terms[i]``: the other edges out of i, or None. ``windows``: edges
    that carry a maximum lag, the lag standing in the place of the minimum. ``special``: packages
    with anything more than work, hold and calendar to consider; ``begun``: those of them that have
    started, and so wait for nobody and hold nobody to a date. ``waiting[j]``: how many edges come
    into j. ``begins[i]``: the minutes in which i may begin; they differ from its ``hours`` where
    its work is done in one go.

    BadProblem or Contradiction (a window shorter than its own minimum) on reading.
    """

    __slots__ = (
        "begins",
        "begun",
        "head",
        "hold",
        "hours",
        "hours_by_id",
        "ids",
        "index",
        "plain",
        "problem",
        "special",
        "tail",
        "terms",
        "waiting",
        "windows",
        "work",
    )

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.hours_by_id = {calendar.id: Hours(calendar) for calendar in problem.calendars}
        if len(self.hours_by_id) != len(problem.calendars):
            repeated = _first_repeated([calendar.id for calendar in problem.calendars])
            raise BadProblem(f"calendar {repeated} is given twice")
        self._read_packages()
        self._read_dependencies()

    def _read_packages(self) -> None:
        self.ids: list[str] = []
        self.work: list[Minutes] = []
        self.hold: list[Minutes] = []
        self.hours: list[Hours] = []
        self.begins: list[Hours] = []
        in_one_go: dict[tuple[str, Minutes], Hours] = {}
        self.special: dict[int, Package] = {}
        self.begun: set[int] = set()
        ids, work, hold, hours = self.ids, self.work, self.hold, self.hours
        for i, package in enumerate(self.problem.packages):
            ids.append(package.id)
            work.append(package.work)
            hold.append(package.hold)
            try:
                hours.append(self.hours_by_id[package.calendar])
            except KeyError:
                raise BadProblem(
                    f"package {package.id} names the unknown calendar {package.calendar}"
                ) from None
            if (
                package.booked is not None
                or package.not_before is not None
                or package.deadline is not None
                or package.promised is not None
                or package.progress is not None
                or package.unbroken
            ):
                self.special[i] = package
                if package.progress is not None:
                    self.begun.add(i)
                    _check_progress(package.id, package.progress, now=self.problem.now)
        self.begins = hours.copy()
        for i, package in self.special.items():
            if package.unbroken and package.progress is None and package.work > 0:
                key = package.calendar, package.work
                if key not in in_one_go:
                    in_one_go[key] = hours[i].unbroken(package.work)
                self.begins[i] = in_one_go[key]
                if not in_one_go[key].starts:
                    raise BadProblem(
                        f"package {package.id} has {package.work} minutes of work to be done in"
                        f" one go, and the calendar {package.calendar} is never open for so long"
                    )
        if min(work, default=0) < 0 or min(hold, default=0) < 0:
            bad = next(p.id for p in self.problem.packages if p.work < 0 or p.hold < 0)
            raise BadProblem(f"package {bad}: working time and hold cannot be negative")
        self.index = dict(zip(ids, range(len(ids)), strict=True))
        if len(self.index) != len(ids):
            raise BadProblem(f"package {_first_repeated(ids)} is given twice")
        if self.problem.target is not None and self.problem.target not in self.index:
            raise BadProblem(f"the target {self.problem.target} is not one of the packages")

    def _read_dependencies(self) -> None:
        index, size = self.index, len(self.ids)
        self.tail: list[int] = []
        self.head: list[int] = []
        self.plain: list[list[int]] = [[] for _ in range(size)]
        self.terms: list[list[Term] | None] = [None] * size
        self.windows: list[Term] = []
        self.waiting: list[int] = [0] * size
        waiting = self.waiting
        plain, terms, finish_to_start = self.plain, self.terms, Relation.FINISH_TO_START
        add_tail, add_head = self.tail.append, self.head.append
        # Each object is looked at once: fetching them from memory is what this costs.
        for edge, dependency in enumerate(self.problem.dependencies):
            try:
                i, j = index[dependency.before], index[dependency.after]
            except KeyError as unknown:
                name = unknown.args[0]
                raise BadProblem(f"a dependency names the unknown package {name}") from None
            add_tail(i)
            add_head(j)
            waiting[j] += 1
            if dependency.relation is finish_to_start and not dependency.min_lag:
                plain[i].append(edge)
            else:
                term = self._term(edge, dependency, dependency.min_lag)
                others = terms[i]
                if others is None:
                    terms[i] = [term]
                else:
                    others.append(term)
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
        from_finish, to_start = _ENDS[dependency.relation]
        return edge, self.head[edge], from_finish, to_start, lag, hours

    def refuse_rings(self) -> None:
        """CycleFound if packages wait for each other; it names one ring.

        Packages that wait for nobody are taken away until there are none; a ring is left over.
        """
        waiting = self.waiting.copy()
        free = [i for i, count in enumerate(waiting) if not count]
        for i in free:  # grows while it is read
            for j in (*map(self.head.__getitem__, self.plain[i]), *_heads(self.terms[i])):
                waiting[j] -= 1
                if not waiting[j]:
                    free.append(j)
        if len(free) < len(waiting):
            raise CycleFound(self._ring({i for i, count in enumerate(waiting) if count}))

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


def _heads(terms: list[Term] | None) -> Iterator[int]:
    for term in terms or ():
        yield term[1]


def _check_progress(name: str, progress: Progress, *, now: Minutes) -> None:
    if progress.finished is not None and progress.finished < progress.started:
        raise BadProblem(f"package {name} is finished before it has started")
    if progress.started > now or (progress.finished is not None and progress.finished > now):
        raise BadProblem(f"package {name} reports progress from after now")
    if progress.remaining is not None and progress.remaining < 0:
        raise BadProblem(f"package {name}: remaining time cannot be negative")


def _first_repeated(ids: list[str]) -> str:
    seen: set[str] = set()
    for name in ids:
        if name in seen:
            return name
        seen.add(name)
    raise AssertionError("called without a repeated id")

"""Is this plan true? Every rule of `problem`, tried one by one on the finished dates.

Shares no code with what makes plans (opening hours are walked in `breaches`, pieces in
`whereabouts_check`), looks everything up the slow and obvious way, and trusts nothing the plan
says about itself. It judges a plan, not a problem: ids that make no sense are the planner's
question, and the problem is taken to be one that `level` accepts.
"""

from __future__ import annotations

from collections.abc import Iterator

from .breaches import Breach, Case, Rule, is_open, open_minutes
from .problem import (
    Dependency,
    Minutes,
    Package,
    Plan,
    Problem,
    Resource,
    Shortfall,
    ShortfallKind,
)
from .whereabouts_check import check_moves, check_pieces


def check(problem: Problem, plan: Plan) -> tuple[Breach, ...]:
    """All breaches, none if the plan is true.

    A missed booking, deadline or maximum lag is a breach unless the plan declares it, and a
    declared one that is not missed is a breach too.
    """
    undated = tuple(_dated_once(problem, plan))
    if undated:
        return undated
    case = Case(problem, {planned.id: planned for planned in plan.packages})
    return (
        *_work(case),
        *_start(case),
        *_dependencies(case),
        *_resources(case),
        *check_pieces(case),
        *_shortfalls(case, plan),
        *check_moves(case, plan),
    )


def _dated_once(problem: Problem, plan: Plan) -> Iterator[Breach]:
    wanted = {package.id for package in problem.packages}
    dated = [planned.id for planned in plan.packages]
    for name in sorted(wanted.union(dated)):
        if name not in wanted:
            yield Breach(Rule.DATED_ONCE, (name,), f"{name} is dated but is not in the problem")
        elif dated.count(name) != 1:
            yield Breach(Rule.DATED_ONCE, (name,), f"{name} is dated {dated.count(name)} times")


# One package


def _work(case: Case) -> Iterator[Breach]:
    """Work is exactly as long as it must be, and the hold follows it."""
    for package, planned in case.packages:
        if planned.finish != planned.work_finish + package.hold:
            yield Breach(
                Rule.HOLD,
                (package.id,),
                f"{package.id}: the hold ends at {planned.finish}, not {package.hold} minutes"
                f" after the work at {planned.work_finish}",
            )
        progress = package.progress
        if progress is None:
            rule, begins, work = Rule.WORK, planned.start, package.work
            if work and not is_open(case.spans(package.calendar), begins):
                yield Breach(
                    Rule.WORK, (package.id,), f"{package.id} starts at {begins}, in closed hours"
                )
            elif package.unbroken:
                straight = open_minutes(case.spans(package.calendar), begins, begins + work)
                if straight < work:
                    yield Breach(
                        rule,
                        (package.id,),
                        f"{package.id} is to be done in one go, but from {begins} on only"
                        f" {straight} of its next {work} minutes are open",
                    )
        else:
            rule = Rule.PROGRESS
            if planned.start != progress.started:
                yield Breach(
                    rule,
                    (package.id,),
                    f"{package.id} was started at {progress.started}, not at {planned.start}",
                )
            if progress.finished is not None:
                if planned.work_finish != progress.finished:
                    yield Breach(
                        rule,
                        (package.id,),
                        f"{package.id} was finished at {progress.finished},"
                        f" not at {planned.work_finish}",
                    )
                continue
            begins, work = case.problem.now, _remaining(case, package)
        yield from _work_span(case, package, rule, begins, planned.work_finish, work)


def _remaining(case: Case, package: Package) -> Minutes:
    progress, now = package.progress, case.problem.now
    assert progress is not None
    if progress.remaining is not None:
        return progress.remaining
    spans = case.spans(package.calendar)
    return max(0, package.work - open_minutes(spans, progress.started, now))


def _work_span(
    case: Case, package: Package, rule: Rule, begins: Minutes, ends: Minutes, work: Minutes
) -> Iterator[Breach]:
    """``work`` open minutes lie in the span, and it ends with the last of them or a promise."""
    spans = case.spans(package.calendar)
    worked = open_minutes(spans, begins, ends)
    name, promised = package.id, package.promised
    if ends < begins:
        yield Breach(rule, (name,), f"{name}: work ends at {ends}, before {begins}")
    elif worked < work:
        yield Breach(
            rule, (name,), f"{name} has {worked} open minutes from {begins} to {ends}, not {work}"
        )
    elif promised is not None and ends <= promised:
        if ends < promised:
            yield Breach(
                rule, (name,), f"{name} is promised for {promised} but its work ends at {ends}"
            )
    elif worked > work or (ends > begins and not is_open(spans, ends - 1)):
        yield Breach(rule, (name,), f"{name}: {work} open minutes from {begins} end before {ends}")


def _start(case: Case) -> Iterator[Breach]:
    for package, planned in case.packages:
        if package.progress is not None:
            continue
        if planned.start < case.problem.now:
            yield Breach(
                Rule.NOT_BEFORE,
                (package.id,),
                f"{package.id} starts at {planned.start}, before now ({case.problem.now})",
            )
        if package.not_before is not None and planned.start < package.not_before:
            yield Breach(
                Rule.NOT_BEFORE,
                (package.id,),
                f"{package.id} starts at {planned.start}, before {package.not_before}",
            )


# Two packages


def _ends(case: Case, dependency: Dependency) -> tuple[Minutes, Minutes]:
    before, after = case.dates[dependency.before], case.dates[dependency.after]
    return (
        before.finish if dependency.relation.from_finish else before.start,
        after.start if dependency.relation.to_start else after.finish,
    )


def _lag(case: Case, dependency: Dependency, source: Minutes, point: Minutes) -> Minutes:
    """From one end to the other, on the clock or in open minutes; negative if it comes first."""
    if dependency.lag_calendar is None:
        return point - source
    spans = case.spans(dependency.lag_calendar)
    return open_minutes(spans, source, point) - open_minutes(spans, point, source)


def _dependencies(case: Case) -> Iterator[Breach]:
    packages = {package.id: package for package in case.problem.packages}
    for dependency in case.problem.dependencies:
        if packages[dependency.after].progress is not None:
            continue
        source, point = _ends(case, dependency)
        lag = _lag(case, dependency, source, point)
        if lag < dependency.min_lag or (dependency.min_lag == 0 and point < source):
            yield Breach(
                Rule.DEPENDENCY,
                (dependency.before, dependency.after),
                f"{dependency.after} at {point} comes {lag} minutes after {dependency.before}"
                f" at {source}, less than {dependency.min_lag} ({dependency.relation})",
            )


# Resources


def _resources(case: Case) -> Iterator[Breach]:
    for resource in case.problem.resources:
        yield from _resource(case, resource)


def _resource(case: Case, resource: Resource) -> Iterator[Breach]:
    """At every moment at which somebody begins: do all who are there fit in?

    Packages that have been started are there whatever the capacity; too much is a breach only
    when somebody who has not started adds to it.
    """
    uses: list[tuple[Minutes, Minutes, int, str, bool]] = []
    for package, planned in case.packages:
        for demand in package.demands:
            if demand.resource == resource.id and demand.units:
                end = planned.finish if demand.through_hold else planned.work_finish
                uses.append(
                    (planned.start, end, demand.units, package.id, package.progress is not None)
                )
    starts = {use[0] for use in uses} | {outage.start for outage in resource.outages}
    reported: set[tuple[str, ...]] = set()
    for moment in sorted(starts):
        there = [use for use in uses if use[0] <= moment < use[1]]
        missing = sum(o.units for o in resource.outages if o.start <= moment < o.end)
        taken = sum(use[2] for use in there)
        users = tuple(use[3] for use in there)
        decided = any(not started for *_, started in there)
        if decided and taken + missing > resource.capacity and users not in reported:
            reported.add(users)
            yield Breach(
                Rule.RESOURCE,
                users,
                f"{resource.id} has {resource.capacity - missing} at {moment}, but"
                f" {taken} are used by {', '.join(users)}",
            )


# What is missed


def _missed(case: Case) -> Iterator[tuple[ShortfallKind, str, str | None, Minutes]]:
    """Everything missed: kind, package, package in front, and the moment planned."""
    packages = {package.id: package for package in case.problem.packages}
    for package, planned in case.packages:
        progress = package.progress
        if package.booked is not None and progress is None and planned.start != package.booked:
            yield ShortfallKind.BOOKING, package.id, None, planned.start
        over = progress is not None and progress.finished is not None
        if package.deadline is not None and not over and planned.finish > package.deadline:
            yield ShortfallKind.DEADLINE, package.id, None, planned.finish
    for dependency in case.problem.dependencies:
        progress = packages[dependency.after].progress
        happened = progress is not None and (
            dependency.relation.to_start or progress.finished is not None
        )
        source, point = _ends(case, dependency)
        if dependency.max_lag is not None and not happened:  # noqa: SIM102 (reads as said)
            if _lag(case, dependency, source, point) > dependency.max_lag:
                yield ShortfallKind.WINDOW, dependency.after, dependency.before, point


def _shortfalls(case: Case, plan: Plan) -> Iterator[Breach]:
    declared = list(plan.shortfalls)
    for kind, package, before, got in _missed(case):
        found = [
            s
            for s in declared
            if (s.kind, s.package, s.before, s.got) == (kind, package, before, got)
            and _wanted_truly(case, s)
        ]
        ids = (package,) if before is None else (before, package)
        if found:
            declared.remove(found[0])
        else:
            yield Breach(
                Rule.SHORTFALL, ids, f"{package}: {kind} at {got}, which the plan does not declare"
            )
    for shortfall in declared:
        yield Breach(
            Rule.SHORTFALL,
            (shortfall.package,),
            f"{shortfall.package}: {shortfall.kind} is declared (wanted {shortfall.wanted},"
            f" got {shortfall.got}) but not so",
        )


def _wanted_truly(case: Case, shortfall: Shortfall) -> bool:
    """Whether ``wanted`` is the moment that was asked for: of a window, its last."""
    package = next(p for p in case.problem.packages if p.id == shortfall.package)
    if shortfall.kind is ShortfallKind.BOOKING:
        return shortfall.wanted == package.booked
    if shortfall.kind is ShortfallKind.DEADLINE:
        return shortfall.wanted == package.deadline
    return any(
        dependency.max_lag is not None
        and (dependency.before, dependency.after) == (shortfall.before, shortfall.package)
        and _lag(case, dependency, _ends(case, dependency)[0], shortfall.wanted)
        <= dependency.max_lag
        < _lag(case, dependency, _ends(case, dependency)[0], shortfall.wanted + 1)
        for dependency in case.problem.dependencies
    )

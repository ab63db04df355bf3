"""What must hold for every plan of every refit, tried on random awkward ones.

A failing case names a seed and a size; `refit_problem` with the two makes the problem again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from refit.scheduling import (
    CauseKind,
    LimitKind,
    check,
    critical_path,
    drivers,
    explain,
    level,
    slips,
)
from refit.scheduling.breaches import Rule
from refit.scheduling.level import find_shortfalls
from refit.scheduling.moves import plan_moves
from refit.scheduling.problem import (
    BeyondHorizon,
    Minutes,
    Plan,
    Planned,
    Problem,
    ShortfallKind,
)
from refit.scheduling.stated import Stated
from tests.scheduling.problems import refit_problem

some_refit = given(seed=st.integers(0, 10**6), packages=st.integers(1, 16), unbroken=st.booleans())
# The same cases every time: a failure here is a change in the code, never bad luck.
often = settings(max_examples=100, deadline=None, derandomize=True)
seldom = settings(max_examples=40, deadline=None, derandomize=True)


def told_truly(problem: Problem, dates: Mapping[str, Planned]) -> Plan:
    """A plan with these dates, its moves and shortfalls derived anew: only dates can be wrong."""
    stated = Stated(problem)
    try:
        moves = plan_moves(stated, dates)
    except BeyondHorizon:  # a piece would have had to leave before time began
        moves = ()
    return Plan(
        packages=tuple(dates[package.id] for package in problem.packages),
        moves=moves,
        shortfalls=find_shortfalls(stated, dates),
    )


def by_id(plan: Plan) -> dict[str, Planned]:
    return {planned.id: planned for planned in plan.packages}


@often
@some_refit
def test_a_levelled_plan_always_passes_check(seed: int, packages: int, unbroken: bool) -> None:
    problem = refit_problem(seed, packages, unbroken=unbroken)
    assert check(problem, level(problem)) == ()


@seldom
@some_refit
def test_the_same_problem_gives_the_same_plan_and_the_plan_itself_changes_nothing(
    seed: int, packages: int, unbroken: bool
) -> None:
    problem = refit_problem(seed, packages, unbroken=unbroken)
    plan = level(problem)
    assert level(problem) == plan
    again = level(problem, previous=plan)
    assert check(problem, again) == ()
    assert again == plan or judged(problem, again) < judged(problem, plan)


def judged(problem: Problem, plan: Plan) -> tuple[int, Minutes, Minutes]:
    missed = sum(s.by for s in plan.shortfalls if s.kind is not ShortfallKind.WINDOW)
    return len(plan.shortfalls), missed, plan.finish_of(problem.target)


@often
@some_refit
def test_with_nothing_to_share_the_plan_is_the_earliest_dates_of_the_network(
    seed: int, packages: int, unbroken: bool
) -> None:
    """Without pieces, resources and maximum lags `level` has nothing to decide, and has to agree
    with `critical_path`, which was written apart from it."""
    problem = refit_problem(seed, packages, unbroken=unbroken)
    problem = replace(
        problem,
        packages=tuple(replace(p, pieces=(), demands=()) for p in problem.packages),
        dependencies=tuple(replace(d, max_lag=None) for d in problem.dependencies),
    )
    earliest = critical_path(problem)
    assert [(p.id, p.start, p.work_finish, p.finish) for p in level(problem).packages] == [
        (p.id, p.start, p.work_finish, p.finish) for p in earliest.packages
    ]


@often
@some_refit
def test_no_package_could_start_a_minute_earlier_and_the_cause_says_why(
    seed: int, packages: int, unbroken: bool
) -> None:
    """Put one minute before its cause lets go, each package breaks the rule its cause belongs to.

    This tries `explain` and `check` against each other: neither knows of the other.
    """
    problem = refit_problem(seed, packages, unbroken=unbroken)
    plan = level(problem)
    stated, dates = Stated(problem), by_id(plan)
    breaks = {
        CauseKind.DEPENDENCY: Rule.DEPENDENCY,
        CauseKind.PIECE: Rule.PIECE,
        CauseKind.RESOURCE: Rule.RESOURCE,
        CauseKind.NOT_BEFORE: Rule.NOT_BEFORE,
        CauseKind.NOW: Rule.NOT_BEFORE,
        CauseKind.REFIT_START: Rule.NOT_BEFORE,
    }
    for name, cause in explain(problem, plan).items():
        assert cause.kind is not CauseKind.NOTHING
        if cause.kind is CauseKind.PROGRESS:
            continue
        package = stated.packages[name]
        assert cause.root.at <= cause.at == dates[name].start
        hours = stated.begins[name]
        earlier = dates[name].start - 1
        if package.work and not hours.is_open(earlier):
            if earlier < hours.starts[0]:
                continue  # there is no earlier open minute to try
            earlier = hours.closing_before(earlier) - 1
        moved = told_truly(problem, {**dates, name: stated.dates(package, earlier)})
        if cause.root.kind in breaks:
            assert breaks[cause.root.kind] in {breach.rule for breach in check(problem, moved)}
        else:  # a booking or a window: it would be missed, or (closed until then) by more
            assert set(moved.shortfalls) - set(plan.shortfalls)


@seldom
@some_refit
def test_the_drivers_lead_back_in_time_without_a_gap(
    seed: int, packages: int, unbroken: bool
) -> None:
    problem = refit_problem(seed, packages, unbroken=unbroken)
    plan = level(problem)
    chain = drivers(problem, plan)
    if problem.target is not None:
        assert chain[0].package == problem.target
    for cause, behind in pairwise(chain):
        assert cause.root.other == behind.package
    last = chain[-1]
    assert last.root.other is None or last.root.other in {cause.package for cause in chain}


@often
@some_refit
def test_all_packages_as_late_as_they_may_slip_are_still_a_true_plan(
    seed: int, packages: int, unbroken: bool
) -> None:
    """With the end of everything for a launch, each at its latest: nothing clashes, nothing ends
    later, nothing more is missed."""
    problem = replace(refit_problem(seed, packages, unbroken=unbroken), target=None)
    plan = level(problem)
    late = late_dates(problem, plan)
    pushed = told_truly(problem, late)
    assert check(problem, pushed) == ()
    assert pushed.finish_of(None) == plan.finish_of(None)
    missed = {(s.kind, s.package, s.before) for s in plan.shortfalls if s.package}
    assert {(s.kind, s.package, s.before) for s in pushed.shortfalls} <= missed


def late_dates(problem: Problem, plan: Plan) -> dict[str, Planned]:
    stated, late = Stated(problem), by_id(plan)
    for name, slip in slips(problem, plan).items():
        if name not in stated.facts:
            assert slip.elapsed is not None
            assert slip.elapsed >= slip.free if slip.free is not None else False
            start = late[name].start + slip.elapsed
            late[name] = stated.dates(stated.packages[name], start)
            assert late[name].start == start
    return late


@often
@some_refit
def test_a_package_pushed_further_than_it_may_slip_breaks_something(
    seed: int, packages: int, unbroken: bool
) -> None:
    """All others being as late as they may, one more open minute breaks a rule, misses something
    more, or moves the launch.

    Left out is what `slips` says of itself; packages without work, which may change places with
    others at no cost; and resources of which two may be used at once: who hands over to whom is
    an order of the plan there, but no rule.
    """
    problem = replace(refit_problem(seed, packages, unbroken=unbroken), target=None)
    problem = replace(
        problem,
        packages=tuple(replace(p, work=p.work or 45) for p in problem.packages),
        dependencies=tuple(
            d for d in problem.dependencies if d.relation.to_start and d.min_lag >= 0
        ),
    )
    plan = level(problem)
    stated, late = Stated(problem), late_dates(problem, plan)
    end, true = plan.finish_of(None), told_truly(problem, late)
    for name, slip in slips(problem, plan).items():
        package = stated.packages[name]
        if package.progress is not None or slip.limit.kind is LimitKind.WINDOW:
            continue
        if slip.limit.resource is not None and stated.resources[slip.limit.resource].capacity > 1:
            continue
        later = stated.dates(package, late[name].start + 1)
        hit = slip.limit.package
        if slip.limit.resource is not None and hit and later.start >= late[hit].finish:
            continue  # its next open minute lies behind what it would hit
        pushed = told_truly(problem, {**late, name: later})
        assert (
            check(problem, pushed)
            or len(pushed.shortfalls) > len(true.shortfalls)
            or sum(s.by for s in pushed.shortfalls) > sum(s.by for s in true.shortfalls)
            or pushed.finish_of(None) > end
        ), name


@seldom
@given(st.integers(0, 10**6), st.integers(1, 16), st.booleans(), st.data())
def test_check_catches_a_plan_that_has_been_tampered_with(
    seed: int, packages: int, unbroken: bool, data: st.DataObject
) -> None:
    """Changes that are untrue in any plan: a date, the end of a hold, a shortfall, a move."""
    problem = refit_problem(seed, packages, unbroken=unbroken)
    plan = level(problem)
    index = data.draw(st.integers(0, len(plan.packages) - 1))
    minutes = data.draw(st.integers(1, 5000)) * data.draw(st.sampled_from((-1, 1)))
    victim = plan.packages[index]
    package = problem.packages[index]

    def with_dates(planned: Planned) -> Plan:
        packages = (*plan.packages[:index], planned, *plan.packages[index + 1 :])
        return replace(plan, packages=packages)

    longer = replace(victim, finish=victim.finish + minutes)
    assert Rule.HOLD in {breach.rule for breach in check(problem, with_dates(longer))}
    if package.promised is None:  # work takes as long as it takes
        work_finish = victim.work_finish + minutes
        stretched = replace(victim, work_finish=work_finish, finish=work_finish + package.hold)
        assert {Rule.WORK, Rule.PROGRESS} & {b.rule for b in check(problem, with_dates(stretched))}
    if package.progress is not None:
        moved = replace(victim, start=victim.start + minutes)
        assert Rule.PROGRESS in {breach.rule for breach in check(problem, with_dates(moved))}
    for count in range(len(plan.shortfalls)):
        fewer = plan.shortfalls[:count] + plan.shortfalls[count + 1 :]
        assert check(problem, replace(plan, shortfalls=fewer))
        more = (*plan.shortfalls, plan.shortfalls[count])
        assert check(problem, replace(plan, shortfalls=more))
    for count in range(len(plan.moves)):
        assert check(problem, replace(plan, moves=plan.moves[:count] + plan.moves[count + 1 :]))
        late = replace(plan.moves[count], depart=plan.moves[count].depart + minutes)
        moves = (*plan.moves[:count], late, *plan.moves[count + 1 :])
        assert check(problem, replace(plan, moves=moves))

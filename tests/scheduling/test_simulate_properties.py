"""Simulated runs of random refits: the plan itself, plans that can be done, one run at a time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from refit.scheduling import check, level, simulate
from refit.scheduling.calendars import earliest_passage
from refit.scheduling.lags import earliest_point, source_of
from refit.scheduling.level import find_shortfalls
from refit.scheduling.links import Link, find_links
from refit.scheduling.moves import plan_moves
from refit.scheduling.problem import (
    DAY,
    HOUR,
    Minutes,
    Plan,
    Planned,
    Problem,
)
from refit.scheduling.run_walk import Ends, prepare
from refit.scheduling.sampling import Draws, Lateness, Shape, draw
from refit.scheduling.stated import Stated
from tests.scheduling.problems import refit_problem

some = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow], max_examples=40)
seeds = st.integers(0, 10_000)


def with_estimates(problem: Problem, low: float = 0.5, high: float = 2.5) -> Problem:
    """With a spread everywhere, some short work in one go, and no promised end of no work (which
    would take resources in one run and none in another)."""
    return replace(
        problem,
        packages=tuple(
            replace(
                p,
                low=int(p.work * low),
                high=int(p.work * high),
                unbroken=number % 3 == 0 and p.work <= 2 * HOUR,
                promised=p.promised if p.work else None,
            )
            for number, p in enumerate(problem.packages)
        ),
    )


def some_late(problem: Problem) -> tuple[Lateness, ...]:
    names = [package.id for package in problem.packages]
    return (
        Lateness("welder", (0, 0, 3 * HOUR, 30 * HOUR), tuple(names[::3])),
        Lateness("loft", (0, HOUR, 9 * HOUR), tuple(names[1::3]), fixed_work=tuple(names[1::3])),
    )


# Against the plan


@some
@given(seeds, st.integers(1, 16))
def test_with_likely_times_and_nobody_late_every_run_is_the_plan(seed: int, packages: int) -> None:
    problem = refit_problem(seed, packages, unbroken=True)
    plan = level(problem)
    risk = simulate(problem, plan, runs=3)
    assert risk.finishes.tolist() == [plan.finish_of(problem.target)] * 3
    stated = Stated(problem)
    walk = prepare(stated, plan)
    ends = walk.walk(Draws(1, {}, {})).ends
    for planned in plan.packages:
        got = tuple(int(end[0]) for end in ends[planned.id])
        assert got == (planned.start, planned.work_finish, planned.finish)


@some
@given(seeds, st.integers(2, 14))
def test_every_run_is_a_plan_that_can_be_done(seed: int, packages: int) -> None:
    """Put the drawn times into the problem, and the dates of the run stand `check`."""
    problem = with_estimates(refit_problem(seed, packages))
    assume(not _begun_at_odds(problem))
    plan = level(problem)
    stated = Stated(problem)
    walk = prepare(stated, plan)
    assume(not walk.chain.loosened)
    draws = draw(problem, runs=5, seed=seed, late=(), shape=Shape.TRIANGULAR)
    ends = walk.walk(draws).ends
    for run in range(5):
        as_drawn = _as_drawn(problem, draws, run)
        dates = _dates(problem, ends, run)
        drawn_stated = Stated(as_drawn)
        made = Plan(
            tuple(dates[p.id] for p in problem.packages),
            plan_moves(drawn_stated, dates),
            find_shortfalls(drawn_stated, dates),
        )
        assert check(as_drawn, made) == ()


def _as_drawn(problem: Problem, draws: Draws, run: int) -> Problem:
    packages = []
    for package in problem.packages:
        if package.id in draws.work:
            minutes = int(draws.work[package.id][run])
            if package.progress is None:
                package = replace(package, work=minutes)
            else:
                package = replace(package, progress=replace(package.progress, remaining=minutes))
        packages.append(package)
    return replace(problem, packages=tuple(packages))


def _dates(problem: Problem, ends: Mapping[str, Ends], run: int) -> dict[str, Planned]:
    return {p.id: Planned(p.id, *(int(end[run]) for end in ends[p.id])) for p in problem.packages}


def _begun_at_odds(problem: Problem) -> bool:
    """Whether what has begun has a piece at two places or a resource twice: a state at odds."""
    places: dict[str, set[str | None]] = {}
    units = {resource.id: resource.capacity for resource in problem.resources}
    for package in problem.packages:
        if package.progress is not None:
            for piece in package.pieces:
                places.setdefault(piece, set()).add(package.place)
            for demand in package.demands:
                units[demand.resource] -= demand.units
    return any(len(found) > 1 for found in places.values()) or min(units.values()) < 0


# Against one run at a time


def resimulate(
    problem: Problem, plan: Plan, work: Mapping[str, int], late: Mapping[str, int]
) -> dict[str, Planned]:
    """One run the slow way: all links tried again and again until nothing moves any more.

    Shares the links of the plan with `slips` and the hours with the planner, and nothing with what
    is tested. Packages kept back by the plan are those whose planned start nothing else explains.
    """
    stated = Stated(problem)
    planned = {p.id: p for p in plan.packages}
    into: dict[str, list[Link]] = {name: [] for name in planned}
    for link in find_links(stated, planned):
        if link.after is not None:
            into[link.after].append(link)

    def settle(
        work: Mapping[str, int], late: Mapping[str, int], held: Mapping[str, int]
    ) -> dict[str, Planned]:
        dates = {name: _one(stated, name, stated.now - 30 * DAY, work, late) for name in planned}
        moved = True
        while moved:
            moved = False
            for name in planned:
                if name in stated.facts:
                    continue
                bound = held.get(name, stated.now)
                for link in into[name]:
                    bound = max(bound, _through(stated, name, link, dates, work))
                bound = max(bound, *_own(stated, name, planned, dates), stated.now)
                then = _one(stated, name, bound, work, late)
                moved = moved or then != dates[name]
                dates[name] = then
        return dates

    likely = settle({}, {}, {})
    held = {n: p.start for n, p in planned.items() if likely[n].start < p.start}
    # raising one may explain another: only what is needed is held
    for name in sorted(held, key=lambda n: planned[n].start):
        without = {n: at for n, at in held.items() if n != name}
        if settle({}, {}, without)[name].start == planned[name].start:
            held = without
    return settle(work, late, held)


def _one(
    stated: Stated, name: str, start: Minutes, work: Mapping[str, int], late: Mapping[str, int]
) -> Planned:
    package = stated.packages[name]
    hours = stated.hours[package.calendar]
    progress = package.progress
    if progress is not None and progress.finished is not None:
        return stated.facts[name]
    if progress is not None:
        start = progress.started
        end = hours.finish(stated.now, work.get(name, stated.remaining(package)))
    else:
        minutes = work.get(name, package.work)
        begins = hours.unbroken(minutes) if package.unbroken else hours
        start = begins.open_from(start) if package.work else start
        end = hours.finish(start, minutes)
    if package.promised is not None:
        end = max(end, package.promised)
    end = hours.finish(end, late.get(name, 0))
    return Planned(name, start, end, end + package.hold)


def _through(
    stated: Stated,
    name: str,
    link: Link,
    dates: Mapping[str, Planned],
    work: Mapping[str, int],
) -> Minutes:
    before, package = dates[link.before], stated.packages[name]
    if link.dependency is not None:
        point = earliest_point(link.dependency, source_of(link.dependency, before), stated.hours)
        if link.dependency.relation.to_start:
            return point
        end, minutes = point - package.hold, work.get(name, package.work)
        if package.promised is not None and package.promised >= end:
            return stated.now
        if package.unbroken or not minutes:
            return end - minutes
        return stated.hours[package.calendar].earliest_start(end, minutes)
    if link.resource is not None:
        return before.finish if link.whole else before.work_finish
    towed = link.piece is not None and stated.pieces[link.piece].towed
    return _arrival(stated, stated.packages[link.before].place, package.place, before, towed)


def _arrival(
    stated: Stated, origin: str | None, place: str | None, before: Planned, towed: bool
) -> Minutes:
    assert origin is not None
    assert place is not None
    if origin == place:
        return before.finish
    return max(_passage(stated, origin, place, before.finish, towed), before.start + 1)


def _passage(stated: Stated, origin: str, place: str, ready: Minutes, towed: bool) -> Minutes:
    if origin == place:
        return ready
    one, other = (stated.hours[stated.places[p].calendar] for p in (origin, place))
    return earliest_passage(one, other, stated.travel(origin, place, towed=towed), ready)[1]


def _own(
    stated: Stated, name: str, planned: Mapping[str, Planned], dates: Mapping[str, Planned]
) -> list[Minutes]:
    """Bounds of its own dates, and of pieces that nobody has used yet."""
    package = stated.packages[name]
    bounds = [b for b in (package.not_before, package.booked) if b is not None]
    for piece in (stated.pieces[p] for p in package.pieces):
        running = [
            f
            for f, fact in stated.facts.items()
            if piece.id in stated.packages[f].pieces and fact.finish > stated.now
        ]
        before = [
            n
            for n, p in planned.items()
            if n not in stated.facts
            and piece.id in stated.packages[n].pieces
            and (p.start, p.finish) < (planned[name].start, planned[name].finish)
        ]
        place = stated.packages[running[0]].place if running else piece.place
        assert place is not None
        assert package.place is not None
        if (
            piece.shared
            and place == package.place
            and all(stated.packages[n].place == place for n in before)
        ):
            bounds.append(stated.now if running else piece.free_from)
        elif not before or piece.shared:
            ready = max(piece.free_from, stated.now, *(dates[f].finish for f in running))
            if all(stated.packages[n].place in (place, package.place) for n in before):
                bounds.append(_passage(stated, place, package.place, ready, piece.towed))
    return bounds


@some
@given(seeds, st.integers(1, 10))
def test_the_runs_are_those_of_a_simulation_of_one_run_at_a_time(seed: int, packages: int) -> None:
    problem = with_estimates(refit_problem(seed, packages))
    problem = replace(problem, resources=tuple(replace(r, outages=()) for r in problem.resources))
    assume(not _begun_at_odds(problem))
    plan = level(problem)
    assume(len({(p.start, p.finish) for p in plan.packages}) == packages)
    walk = prepare(Stated(problem), plan)
    assume(not walk.chain.loosened)
    runs = 200
    draws = draw(problem, runs=runs, seed=seed, late=some_late(problem), shape=Shape.PERT_BETA)
    ends = walk.walk(draws).ends
    for run in range(0, runs, 1 if packages < 4 else 20):
        work = {name: int(drawn[run]) for name, drawn in draws.work.items()}
        late = {name: int(drawn[run]) for name, drawn in draws.late.items()}
        assert resimulate(problem, plan, work, late) == _dates(problem, ends, run)


# Properties


@some
@given(seeds, st.integers(1, 12), st.data())
def test_longer_work_and_later_returns_never_bring_the_launch_forward(
    seed: int, packages: int, data: st.DataObject
) -> None:
    """But for dependencies to a finish: they let longer work start earlier."""
    problem = with_estimates(refit_problem(seed, packages))
    problem = replace(
        problem,
        dependencies=tuple(d for d in problem.dependencies if d.relation.to_start),
    )
    walk = prepare(Stated(problem), level(problem))
    draws = draw(problem, runs=20, seed=seed, late=some_late(problem), shape=Shape.PERT_BETA)
    name = data.draw(st.sampled_from([p.id for p in problem.packages]))
    package = next(p for p in problem.packages if p.id == name)
    assume(name in draws.work and not package.unbroken)
    longer = {**draws.work, name: draws.work[name] + np.int32(data.draw(st.integers(1, DAY)))}
    before = walk.launch(walk.walk(draws).ends)
    after = walk.launch(walk.walk(Draws(20, longer, draws.late)).ends)
    assert (after >= before).all()


@some
@given(seeds, st.integers(1, 12))
def test_a_return_on_the_day_never_costs_and_gains_no_more_than_the_lateness(
    seed: int, packages: int
) -> None:
    problem = with_estimates(refit_problem(seed, packages, awkward=False))
    problem = replace(
        problem,
        dependencies=tuple(d for d in problem.dependencies if d.relation.to_start),
    )
    risk = simulate(problem, level(problem), runs=50, late=some_late(problem))
    assert all(promise.gain >= 0 and 0 < promise.drives <= 1 for promise in risk.promises)
    assert all(0 <= share <= 1 for share in risk.drives.values())
    if problem.target is not None and problem.target in risk.drives:
        assert risk.drives[problem.target] == 1


def test_the_same_seed_gives_the_same_runs_whatever_else_is_in_the_refit() -> None:
    problem = with_estimates(refit_problem(3, 20))
    plan, late = level(problem), some_late(problem)
    first, again = (simulate(problem, plan, runs=300, seed=5, late=late) for _ in range(2))
    assert first.finishes.tolist() == again.finishes.tolist()
    assert (first.drives, first.promises) == (again.drives, again.promises)
    assert first.finishes.tolist() != simulate(problem, plan, runs=300, seed=6).finishes.tolist()
    fewer = replace(problem, packages=problem.packages[:10], dependencies=(), target=None)
    whole, part = (draw(p, runs=9, seed=5, shape=Shape.PERT_BETA).work for p in (problem, fewer))
    assert part.keys() < whole.keys()
    assert all((part[name] == whole[name]).all() for name in part)

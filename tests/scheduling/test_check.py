"""`check` finds each untruth in a plan that is otherwise true, under the rule it belongs to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from refit.scheduling import check, level
from refit.scheduling.breaches import Rule
from refit.scheduling.problem import (
    HOUR,
    Demand,
    Dependency,
    Minutes,
    Outage,
    Package,
    Piece,
    Plan,
    Planned,
    Problem,
    Progress,
    Relation,
    Resource,
    ResourceKind,
    Shortfall,
    ShortfallKind,
)
from tests.scheduling.problems import at, small_refit


def job(name: str, hours: float = 4, **more: object) -> Package:
    return Package(id=name, work=int(hours * HOUR), calendar="weekdays", **more)  # type: ignore[arg-type]


PROBLEM = small_refit(
    job("done", 8, progress=Progress(at(0, 8), finished=at(0, 15))),
    job("begun", 8, progress=Progress(at(0, 8), remaining=3 * HOUR)),
    job("weld", 4, place="shop", pieces=("frame",), demands=(Demand("welder"),)),
    job("coat", 4, place="shop", pieces=("frame",), hold=24 * HOUR, not_before=at(2, 8)),
    job("fit", 6, place="shed", pieces=("frame", "boat"), demands=(Demand("welder"),)),
    job("paint", 4, place="shed", pieces=("boat",), booked=at(4, 8)),
    job("trial", 2, deadline=at(4, 13), promised=at(4, 15)),
    dependencies=(
        Dependency("weld", "coat"),
        Dependency("coat", "fit"),
        Dependency("coat", "paint", max_lag=12 * HOUR),
        Dependency("paint", "trial", Relation.START_TO_START, HOUR, None, "weekdays"),
    ),
    resources=(Resource("welder", 1, ResourceKind.VENDOR, (Outage(at(1, 13), at(1, 15), 1),)),),
    pieces=(Piece("frame", "shop"), Piece("boat", "shed", shared=True, returns_to="slip")),
    now=at(1, 9),
)
PLAN = level(PROBLEM)


def rules(problem: Problem, plan: Plan) -> set[Rule]:
    return {breach.rule for breach in check(problem, plan)}


def shifted(name: str, *, start: Minutes = 0, work: Minutes = 0, finish: Minutes = 0) -> Plan:
    """The plan with the dates of one package moved by so many minutes, and nothing else."""
    return replace(
        PLAN,
        packages=tuple(
            Planned(p.id, p.start + start, p.work_finish + work, p.finish + finish)
            if p.id == name
            else p
            for p in PLAN.packages
        ),
    )


def test_the_plan_all_these_tests_spoil_is_true_and_is_the_one_meant() -> None:
    # weld Tue 9-13, then the welder is out until 15. coat Wed 8-12, cured Thu 12. The frame is at
    # the shed Thu 14 and fit (6 h) works Thu 14-16, Fri 8-12. paint is booked Fri 8-12, 20 h after
    # the cure, 8 more than its window. trial follows an hour later: work until 11, promised 15.
    assert check(PROBLEM, PLAN) == ()
    assert {p.id: (p.start, p.finish) for p in PLAN.packages} == {
        "done": (at(0, 8), at(0, 15)),
        "begun": (at(0, 8), at(1, 12)),
        "weld": (at(1, 9), at(1, 13)),
        "coat": (at(2, 8), at(3, 12)),
        "fit": (at(3, 14), at(4, 12)),
        "paint": (at(4, 8), at(4, 12)),
        "trial": (at(4, 9), at(4, 15)),
    }
    assert [(s.kind, s.package, s.by) for s in PLAN.shortfalls] == [
        (ShortfallKind.DEADLINE, "trial", 2 * HOUR),
        (ShortfallKind.WINDOW, "paint", 8 * HOUR),
    ]
    assert [(m.piece, m.destination) for m in PLAN.moves] == [("frame", "shed"), ("boat", "slip")]


@pytest.mark.parametrize(
    ("plan", "rule"),
    [
        (replace(PLAN, packages=PLAN.packages[1:]), Rule.DATED_ONCE),
        (replace(PLAN, packages=(*PLAN.packages, PLAN.packages[0])), Rule.DATED_ONCE),
        (replace(PLAN, packages=(*PLAN.packages, Planned("ghost", 0, 0, 0))), Rule.DATED_ONCE),
        (shifted("fit", finish=1), Rule.HOLD),
        (shifted("coat", finish=-1), Rule.HOLD),
        (shifted("fit", work=1, finish=1), Rule.WORK),  # a minute too long
        (shifted("fit", work=-1, finish=-1), Rule.WORK),  # a minute too short
        (shifted("fit", start=1), Rule.WORK),
        (shifted("paint", start=-1), Rule.WORK),  # Fri 7:59 is closed
        (shifted("trial", work=-1, finish=-1), Rule.WORK),  # a minute before the promise
        (shifted("trial", work=1, finish=1), Rule.WORK),  # later than hours and promise ask
        (shifted("done", start=1), Rule.PROGRESS),
        (shifted("done", work=1, finish=1), Rule.PROGRESS),
        (shifted("begun", start=1), Rule.PROGRESS),
        (shifted("begun", work=-1, finish=-1), Rule.PROGRESS),
        (shifted("begun", work=1, finish=1), Rule.PROGRESS),
        (shifted("weld", start=-1, work=-1, finish=-1), Rule.NOT_BEFORE),  # before now
        (shifted("coat", start=-1080, work=-1080, finish=-1080), Rule.NOT_BEFORE),  # Tue 14:00
        (shifted("trial", start=-1), Rule.DEPENDENCY),
        (shifted("fit", start=-121, work=-1, finish=-1), Rule.DEPENDENCY),
        (shifted("fit", start=-1, work=-1, finish=-1), Rule.PIECE),  # the frame is on the road
        (shifted("weld", start=60, work=60, finish=60), Rule.RESOURCE),  # into the outage
        (shifted("fit", start=-2880, work=-2880, finish=-2880), Rule.RESOURCE),  # Tue 14:00
        (shifted("paint", start=60, work=60, finish=60), Rule.SHORTFALL),  # booking missed
        (replace(PLAN, shortfalls=PLAN.shortfalls[1:]), Rule.SHORTFALL),
        (replace(PLAN, shortfalls=PLAN.shortfalls[:1]), Rule.SHORTFALL),
        (replace(PLAN, shortfalls=PLAN.shortfalls * 2), Rule.SHORTFALL),
        (replace(PLAN, moves=PLAN.moves[1:]), Rule.MOVE),
        (replace(PLAN, moves=PLAN.moves[:1]), Rule.MOVE),
        (replace(PLAN, moves=PLAN.moves * 2), Rule.MOVE),
    ],
)
def test_an_untrue_plan_is_a_breach_of_the_rule_it_breaks(plan: Plan, rule: Rule) -> None:
    assert rule in rules(PROBLEM, plan)


@pytest.mark.parametrize("index", [0, 1])
@pytest.mark.parametrize(
    "wrong",
    [
        lambda s: replace(s, wanted=s.wanted + 1),
        lambda s: replace(s, wanted=s.wanted - 1),
        lambda s: replace(s, got=s.got + 1),
        lambda s: replace(s, package="weld"),
        lambda s: replace(s, kind=ShortfallKind.BOOKING),
        lambda s: replace(s, before="weld"),
    ],
)
def test_a_shortfall_that_is_not_so_is_a_breach(
    index: int, wrong: Callable[[Shortfall], Shortfall]
) -> None:
    declared = list(PLAN.shortfalls)
    declared[index] = wrong(declared[index])
    assert rules(PROBLEM, replace(PLAN, shortfalls=tuple(declared))) == {Rule.SHORTFALL}


@pytest.mark.parametrize(
    "change",
    [
        {"free_at": at(3, 11)},
        {"depart": at(3, 13), "arrive": at(3, 15)},
        {"arrive": at(3, 15)},
        {"leave_by": at(3, 11)},
        {"leave_by": None},
        {"needed_at": at(4, 8)},
        {"after_package": "weld"},
        {"after_package": None},
        {"for_package": "paint"},
        {"origin": "slip"},
        {"piece": "ghost"},
    ],
)
def test_a_move_that_does_not_follow_from_the_dates_is_a_breach(change: dict[str, object]) -> None:
    move = replace(PLAN.moves[0], **change)  # type: ignore[arg-type]
    assert rules(PROBLEM, replace(PLAN, moves=(move, *PLAN.moves[1:]))) == {Rule.MOVE}


def test_a_piece_in_two_places_at_once_is_a_breach() -> None:
    problem = small_refit(
        job("here", place="shed", pieces=("boat",)),
        job("there", place="shop", pieces=("boat",)),
        pieces=(Piece("boat", "shed", shared=True),),
    )
    monday = (at(0, 8), at(0, 12), at(0, 12))
    assert Rule.PIECE in rules(problem, Plan((Planned("here", *monday), Planned("there", *monday))))


def test_what_has_begun_may_overfill_a_bay_but_nobody_may_join_it() -> None:
    # Two packages begun in a bay for one are a fact. Until Tue 12:00 it is full; a third, planned
    # for then, is all right, a minute of overlap is not.
    bay = Resource("bay", 1, ResourceKind.BAY)
    in_bay = {"demands": (Demand("bay"),)}
    problem = small_refit(
        job("a", 8, progress=Progress(at(0, 8), remaining=HOUR), **in_bay),
        job("b", 8, progress=Progress(at(0, 8), remaining=4 * HOUR), **in_bay),
        job("c", 2, **in_bay),
        resources=(bay,),
        now=at(1, 8),
    )
    plan = level(problem)
    assert check(problem, plan) == ()
    assert plan.packages[2] == Planned("c", at(1, 12), at(1, 14), at(1, 14))
    joined = Planned("c", at(1, 11, 59), at(1, 13, 59), at(1, 13, 59))
    assert rules(problem, replace(plan, packages=(*plan.packages[:2], joined))) == {Rule.RESOURCE}


def test_a_breach_is_one_sentence_with_the_ids_in_it() -> None:
    (breach,) = check(PROBLEM, shifted("begun", work=1, finish=1))
    assert breach.ids == ("begun",)
    assert breach.message == f"begun: 180 open minutes from {at(1, 9)} end before {at(1, 12, 1)}"

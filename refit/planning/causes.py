"""What the planner found, in the words of the telephone.

Here: why a package starts when it does, where the chain that drives the launch begins, how long
a package may slip and what it would run into. Each sentence begins in lower case and has no full
stop, so that a page can set it after a date or a name. What could not be kept: `notes`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from refit.scheduling.explain import Cause, CauseKind
from refit.scheduling.problem import Dependency, Minutes, Planned, Relation
from refit.scheduling.slips import Limit, LimitKind, Slip
from refit.work.wording import say_day, say_elapsed, say_working_time

from .build import CREW, Built

Dates = Mapping[str, Planned]


def plain_cause(built: Built, cause: Cause) -> Cause:
    """The cause, except that a piece which lies idle at the place keeps nobody waiting."""
    if cause.behind is not None:
        return replace(cause, behind=plain_cause(built, cause.behind))
    idle = cause.kind is CauseKind.PIECE and cause.other is None and cause.origin is None
    if idle and cause.at <= built.problem.now:
        begins = built.clock.minutes(built.now) < 0
        return replace(cause, kind=CauseKind.REFIT_START if begins else CauseKind.NOW, piece=None)
    return cause


def cause_sentence(built: Built, dates: Dates, cause: Cause) -> str:
    """Why the package starts at that moment. ``cause`` as `plain_cause` gives it."""
    if cause.kind is not CauseKind.HOURS or cause.behind is None:
        return _sentence(built, dates, cause)
    row = built.packages[cause.package]
    opens = built.say(cause.at)
    away = (cause.calendar or "").partition(" without ")[2]
    hours = f"{row['place']} opens {opens}"
    if away:
        hours = f"{row['place']} is open with {away} there from {opens}"
    if row["unbroken"]:
        hours = f"{say_elapsed(row['likely_minutes'])} in one go fit there from {opens} on"
    if cause.behind.kind in (CauseKind.NOW, CauseKind.REFIT_START):
        return f"nothing holds it: {hours}"
    said, reason = _sentence(built, dates, cause.behind), ""
    if said.endswith(")") and cause.behind.kind is CauseKind.DEPENDENCY:
        said, _, reason = said.rpartition(" (")
        reason = f" ({reason}"
    return f"{said}, and {hours}{reason}"


def _sentence(built: Built, dates: Dates, cause: Cause) -> str:
    at = built.say(cause.at)
    other = None if cause.other is None else built.name(cause.other)
    row = built.packages[cause.package]
    match cause.kind:
        case CauseKind.PROGRESS:
            return f"was begun {at}"
        case CauseKind.BOOKING:
            return f"is booked for {at}{_agreed(built, cause.package)}"
        case CauseKind.NOT_BEFORE if held_by_goods(built, cause):
            return _goods(built, cause)
        case CauseKind.NOT_BEFORE:
            return f"is agreed for not before {at}{_agreed(built, cause.package)}"
        case CauseKind.NOW:
            return "nothing holds it: it can start now"
        case CauseKind.REFIT_START:
            return "nothing holds it: the refit begins then"
        case CauseKind.PROMISE:
            promiser = row["vendor"] or "our crew"
            return f"{built.name(cause.package)} is promised by {promiser} for {at}"
        case CauseKind.DEPENDENCY if cause.dependency is not None:
            return _waits(built, dates, cause.dependency)
        case CauseKind.WINDOW if cause.dependency is not None and other is not None:
            most = _lag(built, cause.dependency, cause.dependency.max_lag or 0)
            return (
                f"must not come too early for {other}: at most {most} may lie between"
                f"{_reason(built, cause.dependency)}"
            )
        case CauseKind.PIECE:
            return _piece(built, dates, cause, other)
        case CauseKind.RESOURCE:
            return _resource(built, cause.resource or "", other, at)
    return "nothing holds it there"


def held_by_goods(built: Built, cause: Cause) -> bool:
    """Whether it is goods, and no agreement, before which the package cannot start."""
    goods = built.goods.get(cause.package)
    return cause.kind is CauseKind.NOT_BEFORE and goods is not None and goods.at == cause.at


def _goods(built: Built, cause: Cause) -> str:
    goods = built.goods[cause.package]
    today = built.now.astimezone(built.clock.zone).date()
    how = "promised" if goods.is_promised else "expected"
    return f"waits for {goods.title}, {how} for {say_day(goods.day, today)}"


def _waits(built: Built, dates: Dates, dependency: Dependency) -> str:
    before = built.packages[dependency.before]
    planned = dates[dependency.before]
    if not dependency.relation.from_finish:
        ends = f"it starts {built.say(planned.start)}"
    elif before["hold_minutes"]:
        reason = before["hold_reason"]
        hold = reason if reason and " " not in reason else "hold"  # "cure" is a word, not a phrase
        ends = f"its {hold} ends {built.say(planned.finish)}"
    else:
        verb = "ended" if before["finished_at"] is not None else "ends"
        ends = f"it {verb} {built.say(planned.finish)}"
    waits = "waits for" if dependency.relation.to_start else "is not to finish before"
    name = built.name(dependency.before)
    lag = ""
    if dependency.min_lag > 0:
        lag = f", then {_lag(built, dependency, dependency.min_lag)} must pass"
    elif dependency.min_lag < 0:
        lag = f", and the last {_lag(built, dependency, -dependency.min_lag)} may overlap"
    return f"{waits} {name}: {ends}{lag}{_reason(built, dependency)}"


def _lag(built: Built, dependency: Dependency, minutes: Minutes) -> str:
    if dependency.lag_calendar is None:
        return say_elapsed(minutes)
    return f"{say_working_time(minutes)} of opening hours"


def _reason(built: Built, dependency: Dependency) -> str:
    key = (dependency.before, dependency.after, str(dependency.relation))
    reason = built.reasons.get(key, "")
    return f" ({reason})" if reason else ""


def _piece(built: Built, dates: Dates, cause: Cause, other: str | None) -> str:
    tag = cause.piece or ""
    name = built.piece_names[tag]
    if cause.other is not None:
        until = built.say(dates[cause.other].finish)
        had = f"{other} has it until {until}"
    elif built.pieces.spots[tag].on_the_way:
        return f"waits for {name}, which is on its way and expected {built.say(cause.at)}"
    else:
        had = f"it is at {cause.origin}" if cause.origin else "it is not free before"
    if cause.origin is None:
        return f"waits for {name}: {had}"
    way = say_elapsed(cause.travel or 0)
    return f"waits for {name}: {had}, then {way} from {cause.origin}, there {built.say(cause.at)}"


def _resource(built: Built, resource: str, other: str | None, until: str) -> str:
    kind, _, name = resource.partition(":")
    if resource == CREW:
        taken = f"{other} ends" if other else "somebody is back"
        return f"waits for hands: enough are free {until}, when {taken}"
    if other is None:
        return f"waits for {resource_words(built, resource)} until {until}"
    match kind:
        case "bay":
            return f"waits for the bay of {name}: {other} takes it until {until}"
        case "zone":
            return f"waits for {name}: {other} takes it until {until}"
    return f"waits for {name}, who is busy with {other} until {until}"


def resource_words(built: Built, resource: str) -> str:
    """What a resource is called when somebody speaks of it."""
    kind, _, name = resource.partition(":")
    if resource == CREW:
        return "the same hands"
    return f"the bay of {name}" if kind == "bay" else name


def _agreed(built: Built, code: str) -> str:
    for row in built.document["bookings"]:
        if row["package"] == code and row["agreed_with"]:
            return f", agreed with {row['agreed_with']}"
    return ""


def chain_start(built: Built, dates: Dates, cause: Cause) -> str:
    """Where a chain of drivers begins: its package and what holds that one."""
    name = built.name(cause.package)
    if cause.kind is CauseKind.PROMISE:
        return _sentence(built, dates, cause)
    if cause.kind is CauseKind.PROGRESS:
        return f"{name} is under way until {built.say(dates[cause.package].finish)}"
    return f"{name} {_as_predicate(cause_sentence(built, dates, cause))}"


def _as_predicate(said: str) -> str:
    free = "nothing holds it: "
    return f"is next: {said.removeprefix(free)}" if said.startswith(free) else said


def slip_sentence(built: Built, slip: Slip) -> str:
    """What the package pushes first if it starts later (or, begun, ends later), and from when."""
    pushes = _limit(built, slip.first)
    if not pushes:
        return ""
    if slip.first.kind is LimitKind.LAUNCH and built.problem.target is None:
        pushes = "moves the end of everything"
    if slip.free is None:
        return pushes
    return f"after {say_elapsed(slip.free)} {pushes}" if slip.free else f"any delay {pushes}"


def _limit(built: Built, limit: Limit) -> str:
    other = "" if limit.package is None else built.name(limit.package)
    match limit.kind:
        case LimitKind.LAUNCH:
            return "moves the launch"
        case LimitKind.DEADLINE:
            return "breaks its deadline"
        case LimitKind.BOOKING:
            return "misses its booking"
        case LimitKind.WINDOW:
            return f"comes too long after {other}"
        case LimitKind.DEPENDENCY:
            finish = limit.dependency is not None and limit.dependency.relation in (
                Relation.FINISH_TO_FINISH,
                Relation.START_TO_FINISH,
            )
            return f"pushes {'the end of ' if finish else ''}{other}, which waits for it"
        case LimitKind.PIECE:
            return f"pushes {other}, which needs {built.piece_names[limit.piece or '']}"
        case LimitKind.RESOURCE:
            return f"pushes {other}, which needs {resource_words(built, limit.resource or '')}"
        case LimitKind.OUTAGE:
            return "runs into days on which somebody is away"
    return ""

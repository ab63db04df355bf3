"""What people should know about a plan: what it cannot keep, what it had to assume.

Each note is a whole sentence that names packages by code and title and says what can be done.
"""

from __future__ import annotations

from collections.abc import Iterator

from refit.scheduling.explain import CauseKind, drivers
from refit.scheduling.problem import (
    BadProblem,
    BeyondHorizon,
    Contradiction,
    CycleFound,
    Plan,
    SchedulingError,
    Shortfall,
    ShortfallKind,
)
from refit.work.wording import say_elapsed, say_list

from .build import Built
from .pieces import moment_of
from .travel import GUESS


def plan_notes(built: Built, plan: Plan) -> list[str]:
    """Shortfalls first, then late promises, then assumptions."""
    return [
        *(_shortfall(built, plan, shortfall) for shortfall in plan.shortfalls),
        *_late_promises(built),
        *_pieces(built),
        *_ways(built, plan),
        *_launch(built),
    ]


def _shortfall(built: Built, plan: Plan, missed: Shortfall) -> str:
    name = built.name(missed.package)
    wanted, got, by = built.say(missed.wanted), built.say(missed.got), say_elapsed(missed.by)
    row = built.packages[missed.package]
    match missed.kind:
        case ShortfallKind.BOOKING:
            return _booking(built, plan, missed)
        case ShortfallKind.DEADLINE:
            why = f" ({row['deadline_reason']})" if row["deadline_reason"] else ""
            return (
                f"{name} must be finished by {wanted}{why} but ends {got}, {by} late."
                " Shorten or split what drives it, or agree a later date."
            )
        case ShortfallKind.WINDOW:
            before = built.name(missed.before or "")
            return (
                f"{name} must follow {before} by {wanted} at the latest{_reason(built, missed)},"
                f" but comes {got}, {by} too late. Start {before} later in the week so that no"
                " closed days lie between, or add a package that makes the surface ready again"
                " (abrade, clean)."
            )


def _reason(built: Built, missed: Shortfall) -> str:
    for (before, after, _), reason in built.reasons.items():
        if (before, after) == (missed.before, missed.package) and reason:
            return f" ({reason})"
    return ""


def _booking(built: Built, plan: Plan, missed: Shortfall) -> str:
    """Why a booking cannot be kept: another one, its own time of day, or simply the work."""
    name = built.name(missed.package)
    wanted, got = built.say(missed.wanted), built.say(missed.got)
    row = built.packages[missed.package]
    whom = row["vendor"] or "whoever does it"
    if missed.wanted < built.problem.now:
        return (
            f"{name} was booked for {wanted} and is not reported as begun; the plan now has it"
            f" {got}. Say that it has begun, or agree a new date with {whom}."
        )
    chain = drivers(built.problem, plan, missed.package)
    others = [
        cause.package
        for cause in chain
        if cause.root.kind is CauseKind.BOOKING and cause.package != missed.package
    ]
    if others:
        other = built.name(others[0])
        between = [built.name(c.package) for c in chain[1:] if c.package != others[0]]
        through = f", by way of {say_list(between[::-1])}" if between else ""
        return (
            f"Two bookings contradict each other: {name} is booked for {wanted}, but it comes"
            f" after {other}{through}, which is booked for {_booked(built, others[0])}. It can"
            f" start {got} at the earliest; agree another date for one of the two."
        )
    package = next(p for p in built.problem.packages if p.id == missed.package)
    calendar = next(c for c in built.problem.calendars if c.id == package.calendar)
    if package.work and not any(start <= missed.wanted < end for start, end in calendar.spans):
        return (
            f"{name} is booked for {wanted}, when {row['place']} is closed or somebody it needs is"
            f" away; it can start {got}. Correct the booking or the opening hours."
        )
    return (
        f"{name} is booked for {wanted} but can start only {got}, {say_elapsed(missed.by)} later."
        f" Agree a new date with {whom}, or speed up what it waits for."
    )


def _booked(built: Built, code: str) -> str:
    package = next(p for p in built.problem.packages if p.id == code)
    return "" if package.booked is None else built.say(package.booked)


def _late_promises(built: Built) -> Iterator[str]:
    for row in built.document["packages"]:
        promised = moment_of(row["promised"])
        if promised is None or row["finished_at"] is not None or promised >= built.now:
            continue
        whom = row["vendor"] or "whoever does it"
        yield (
            f"{built.name(row['code'])} was promised for {built.say_moment(promised)} and is not"
            f" reported as finished. The plan counts what is left from now; ask {whom} for a"
            " new date."
        )


def _pieces(built: Built) -> Iterator[str]:
    for tag, spot in built.pieces.spots.items():
        if spot.assumed and tag not in built.pieces.fitted:
            yield (
                f"Nobody has said where {built.piece_names[tag]} ({tag}) is; the plan takes it to"
                f" be at {spot.place}."
            )
    for code, tag in built.pieces.left_early:
        yield (
            f"{built.piece_names[tag]} ({tag}) has left {built.packages[code]['place']}, but"
            f" {built.name(code)} is not reported as finished."
        )


def _ways(built: Built, plan: Plan) -> Iterator[str]:
    moves = [move for move in plan.moves if built.travels_alone(move)]
    ways = dict.fromkeys((move.origin, move.destination) for move in moves)
    for origin, destination in ways:
        if built.roads.way(origin, destination).guess:
            yield (
                f"How far it is from {origin} to {destination} is not known; the plan guesses"
                f" {GUESS} minutes. Enter a distance, or the coordinates of both."
            )
    used = {place for way in ways for place in way}
    for place in sorted(built.always_open & used):
        yield f"{place} has no opening hours; the plan takes it to be open day and night."


def _launch(built: Built) -> Iterator[str]:
    if built.problem.packages and built.problem.target is None:
        yield "No package is marked as the launch; the date shown is the finish of everything."


def trouble_sentence(built: Built, error: SchedulingError) -> tuple[str, list[str]]:
    """Why there is no plan, by package names, and the codes concerned."""
    match error:
        case CycleFound():
            ring = " → ".join(built.name(code) for code in (*error.ids, error.ids[0]))
            return (
                f"These packages wait for each other in a ring: {ring}. Take out or turn round one"
                " of the dependencies.",
                list(error.ids),
            )
        case Contradiction():
            names = say_list([built.name(code) for code in error.ids])
            return f"What is asked of {names} cannot hold together: {error}.", list(error.ids)
        case BeyondHorizon():
            return (
                "The plan runs further into the future than opening hours are known. Look for a"
                " place that is closed for good, or far too much working time.",
                [],
            )
        case BadProblem():
            return f"The plan cannot be computed: {error}.", []
    return f"The plan cannot be computed: {error}.", []

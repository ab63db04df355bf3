"""A computed plan written out: as JSON for programs, as text for people.

The JSON is an object with

- ``format`` "refit-plan", ``version`` 1, ``refit`` (its slug), ``now``;
- ``launch``: ``package`` (code, or null for the finish of everything), ``finish``, ``wanted`` (a
  date or null), ``driving`` (codes, first to last), ``because`` (where that chain begins);
- ``finish`` of everything;
- ``packages``, by start: ``code``, ``title``, ``start``, ``work_finish``, ``finish`` (hold over),
  ``cause_kind``, ``cause``, ``slip_minutes`` (elapsed; null if nothing is ever hit),
  ``slip_note``, ``drives``;
- ``moves``, by departure: ``piece``, ``origin``, ``destination``, ``free_at``, ``depart``,
  ``arrive``, ``leave_by``, ``needed_at``, ``after_package``, ``for_package``;
- ``shortfalls``: ``kind``, ``package``, ``before``, ``wanted``, ``got``; ``notes``: sentences;
- ``breaches``: what the check found. A plan that fails it is not written, so the list is empty.

Moments are ISO 8601 in UTC (``…+00:00``).
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from refit.scheduling.problem import Minutes
from refit.work.wording import say_day, say_elapsed

from .solve import Answer, Solved


def plan_as_data(solved: Solved) -> dict[str, Any]:
    """JSON types only, as described above."""
    built = solved.built

    def utc(minutes: Minutes | None) -> str | None:
        return None if minutes is None else built.clock.moment(minutes).isoformat()

    def iso(moment: datetime | None) -> str | None:
        return None if moment is None else moment.isoformat()

    return {
        "format": "refit-plan",
        "version": 1,
        "refit": built.document["refit"]["slug"],
        "now": built.clock.moment(built.clock.minutes(built.now)).isoformat(),
        "launch": {
            "package": built.problem.target,
            "finish": iso(solved.launch_at),
            "wanted": built.document["refit"]["wanted_launch"],
            "driving": solved.driving,
            "because": solved.because,
        },
        "finish": iso(solved.finish_at),
        "packages": [
            {
                "code": answer.planned.id,
                "title": built.packages[answer.planned.id]["title"],
                "start": utc(answer.planned.start),
                "work_finish": utc(answer.planned.work_finish),
                "finish": utc(answer.planned.finish),
                "cause_kind": answer.cause_kind,
                "cause": answer.cause,
                "slip_minutes": answer.slip,
                "slip_note": answer.slip_note,
                "drives": answer.drives,
            }
            for answer in _by_start(solved)
        ],
        "moves": [
            {
                "piece": move.piece,
                "origin": move.origin,
                "destination": move.destination,
                "free_at": utc(move.free_at),
                "depart": utc(move.depart),
                "arrive": utc(move.arrive),
                "leave_by": utc(move.leave_by),
                "needed_at": utc(move.needed_at),
                "after_package": move.after_package,
                "for_package": move.for_package,
            }
            for move in solved.moves
        ],
        "shortfalls": [
            {
                "kind": str(missed.kind),
                "package": missed.package,
                "before": missed.before,
                "wanted": utc(missed.wanted),
                "got": utc(missed.got),
            }
            for missed in solved.plan.shortfalls
        ],
        "notes": solved.notes,
        "breaches": [],
    }


def plan_as_text(solved: Solved) -> str:
    """What a person reads: launch, packages by start, moves, notes; times in the refit's zone."""
    built = solved.built
    lines = [*_head(solved), "", "Packages, by start (* drives the launch)"]
    width = max((len(built.name(code)) for code in solved.answers), default=0)
    wide = max((len(built.say(a.planned.finish)) for a in solved.answers.values()), default=0)
    for answer in _by_start(solved):
        planned = answer.planned
        mark = "*" if answer.drives else " "
        lines.append(
            f"{mark} {built.say(planned.start):<{wide}} to {built.say(planned.finish):<{wide}} "
            f" {built.name(planned.id):<{width}}  {_slip(answer)}"
        )
        lines.append(f"      {answer.cause}")
    lines += ["", "Moves, by departure"]
    lines += [
        f"  {built.say(move.depart):<{wide}}  {built.piece_names[move.piece]} ({move.piece}),"
        f" {move.origin} to {move.destination}"
        + (f", for {built.name(move.for_package)}" if move.for_package else ", where it belongs")
        + (f"; leaves by {built.say(move.leave_by)}" if move.leave_by is not None else "")
        for move in solved.moves
    ] or ["  none"]
    if solved.notes:
        lines += ["", "To know", *(f"  - {note}" for note in solved.notes)]
    lines += ["", "The check of this plan found nothing wrong."]
    return "\n".join(lines)


def _by_start(solved: Solved) -> list[Answer]:
    return sorted(solved.answers.values(), key=lambda answer: answer.planned.start)


def _slip(answer: Answer) -> str:
    if answer.slip is None:
        return ""
    return f"may slip {say_elapsed(answer.slip)}" if answer.slip else "may not slip"


def _head(solved: Solved) -> list[str]:
    built = solved.built
    refit = built.document["refit"]
    lines = [f"{refit['name']}, as of {built.say_moment(built.now)} ({refit['time_zone']})"]
    if solved.launch_at is None:
        return [*lines, "There is nothing to plan: the refit has no packages."]
    launch = f"Launch {built.say_moment(solved.launch_at)}"
    if refit["wanted_launch"]:
        launch += f", wanted {say_day(datetime.fromisoformat(refit['wanted_launch']).date())}"
    lines.append(launch)
    if solved.driving:
        lines.append(f"Driven by {' > '.join(solved.driving)}: {solved.because}")
    return lines

"""Every check of plan health, one after the other. Pure.

Sources and limits: `health`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from decimal import Decimal

from refit.interchange.document import PackageRow
from refit.scheduling.problem import Dependency, Relation
from refit.work.wording import say_count, say_elapsed, say_working_time

from .health import (
    FEW,
    INDEX_LIMIT,
    LONG_DAYS,
    LONG_SLIP,
    BaselineLine,
    Check,
    Facts,
    Found,
    Health,
)
from .pieces import moment_of


def check_health(facts: Facts) -> Health:
    """Every check, on a plan and the document it was computed from."""
    shares = len(facts.open_rows) > FEW
    checks = [
        *_logic(facts, shares=shares),
        *_dates(facts, shares=shares),
        *_work(facts, shares=shares),
        *_against_baseline(facts, shares=shares),
        *_launch(facts),
    ]
    return Health(checks, len(facts.document["packages"]))


# What waits for what


def _logic(facts: Facts, *, shares: bool) -> Iterator[Check]:
    open_codes = {row["code"] for row in facts.open_rows}
    links = [
        link
        for link in facts.built.problem.dependencies
        if link.before in open_codes or link.after in open_codes
    ]
    waited_for = {link.before for link in links}
    waiting = {link.after for link in facts.built.problem.dependencies}
    after_launch = _after_launch(facts)
    ends = [row for row in facts.open_rows if row["code"] not in after_launch]
    yield Check(
        "Nothing waits for it",
        "PAM 200.1, check 1",
        "If it were late, no date would move and nobody would notice. Say what needs it done: at"
        " the least, the launch.",
        [Found(row["code"]) for row in ends if row["code"] not in waited_for],
        of=len(ends),
        limit=5,
        shows_shares=shares,
    )
    yield Check(
        "It waits for nothing",
        "PAM 200.1, check 1",
        "It is planned as soon as hands and pieces are there. That is right for what can begin any"
        " day; otherwise say what must come first, and why.",
        [Found(row["code"]) for row in facts.waiting_rows if row["code"] not in waiting],
        of=len(facts.waiting_rows),
        limit=5,
        shows_shares=shares,
    )
    stated = [link for link in links if _key(link) in facts.built.reasons]
    yield Check(
        "It begins before what it waits for is over",
        "PAM 200.1, check 2",
        "Overlaps hide what the second really needs. Cut the first package in two, and let the"
        " second wait for the first part.",
        [Found(link.after, f"overlaps {link.before}") for link in stated if link.min_lag < 0],
        of=len(stated),
        unit="dependency",
        shows_shares=shares,
    )
    yield Check(
        "Waiting time with no work in it",
        "PAM 200.1, check 3; holds do not count",
        "A cure or a drying time belongs to the package as its hold: the piece stays where it is,"
        " and everybody sees why. A shop's queue is a package of its own.",
        [
            Found(link.after, f"{say_elapsed(link.min_lag)} after {link.before}")
            for link in stated
            if link.min_lag > 0
        ],
        of=len(stated),
        limit=5,
        unit="dependency",
        shows_shares=shares,
    )
    yield Check(
        "Tied by its start, or by two finishes",
        "PAM 200.1, check 4",
        "Plain “after it is finished” is what people check in their heads. Keep the others where"
        " the work is really done side by side.",
        [
            Found(link.after, f"{link.relation.value} with {link.before}")
            for link in stated
            if link.relation is not Relation.FINISH_TO_START
        ],
        of=len(stated),
        limit=10,
        unit="dependency",
        shows_shares=shares,
    )


def _after_launch(facts: Facts) -> set[str]:
    """The launch and what comes after it: there the work may end."""
    follow: dict[str, list[str]] = {}
    for link in facts.built.problem.dependencies:
        follow.setdefault(link.before, []).append(link.after)
    target = facts.built.problem.target
    reached: set[str] = set()
    ahead = [] if target is None else [target]
    while ahead:
        code = ahead.pop()
        if code not in reached:
            reached.add(code)
            ahead += follow.get(code, ())
    return reached


def _key(link: Dependency) -> tuple[str, str, str]:
    return link.before, link.after, str(link.relation)


# Dates


def _dates(facts: Facts, *, shares: bool) -> Iterator[Check]:
    waiting = {row["code"] for row in facts.waiting_rows}
    fixed = [
        Found(row["package"], f"booked for {facts.say(datetime.fromisoformat(row['at']))}")
        for row in facts.document["bookings"]
        if row["kind"] == "starts" and row["package"] in waiting
    ]
    yield Check(
        "Fixed to a date",
        "PAM 200.1, check 5",
        "A booking holds its date even when everything before it is ready early. Where the shop"
        " only said “not before”, enter that.",
        fixed,
        of=len(waiting),
        limit=5,
        shows_shares=shares,
    )
    yield Check(
        "May slip very long",
        f"PAM 200.1, check 6: more than {LONG_DAYS} working days",
        "Often something that needs it has not been tied to it. Look whether a dependency is"
        " missing.",
        [
            Found(row["code"], f"may slip {say_elapsed(slip)}")
            for row in facts.open_rows
            if (slip := facts.lines[row["code"]].slip_minutes) is not None and slip > LONG_SLIP
        ],
        of=len(facts.open_rows),
        limit=5,
        shows_shares=shares,
    )
    yield Check(
        "Later than it must be",
        "PAM 200.1, check 7",
        "The plan cannot keep these dates. Shorten or split what comes before, or agree others,"
        " now rather than on the day.",
        list(_too_late(facts)),
        of=len(facts.open_rows),
        shows_shares=shares,
    )
    yield Check(
        "Should have happened, is not reported",
        "PAM 200.1, check 9; GAO-16-89G, best practice 9",
        "The plan pushes it ahead of itself every hour. Report it, or say how much is left.",
        list(_unreported(facts)),
        of=len(facts.open_rows),
        shows_shares=shares,
    )


def _too_late(facts: Facts) -> Iterator[Found]:
    bookings = {row["package"]: row for row in facts.document["bookings"]}
    for row in facts.open_rows:
        line = facts.lines[row["code"]]
        deadline = moment_of(row["deadline"])
        if deadline is not None and line.finish > deadline:
            yield Found(row["code"], f"due {facts.say(deadline)}, planned {facts.say(line.finish)}")
        booking = bookings.get(row["code"])
        if booking is not None and booking["kind"] == "starts" and row["started_at"] is None:
            at = datetime.fromisoformat(booking["at"])
            if line.start > at:
                yield Found(row["code"], f"booked {facts.say(at)}, planned {facts.say(line.start)}")


def _unreported(facts: Facts) -> Iterator[Found]:
    """An unbegun package is never planned in the past, so a late one shows by what was agreed:
    its booking, or the finish promised for it. Or the plan itself has grown old."""
    bookings = {row["package"]: row for row in facts.document["bookings"]}
    for row in facts.open_rows:
        line, promised = facts.lines[row["code"]], moment_of(row["promised"])
        booking = bookings.get(row["code"])
        if row["started_at"] is None:
            if booking is not None and datetime.fromisoformat(booking["at"]) < facts.now:
                if booking["kind"] == "starts":
                    said = facts.say(datetime.fromisoformat(booking["at"]))
                    yield Found(row["code"], f"was to begin {said}")
                    continue
            elif line.start < facts.now:
                yield Found(row["code"], f"was to begin {facts.say(line.start)}")
                continue
        if promised is not None and promised < facts.now:
            yield Found(row["code"], f"was promised for {facts.say(promised)}")
        elif row["started_at"] is not None and line.work_finish < facts.now:
            yield Found(row["code"], f"was to end {facts.say(line.work_finish)}")


# The work itself


def _work(facts: Facts, *, shares: bool) -> Iterator[Check]:
    day = Decimal(facts.document["refit"]["hours_a_day"])
    rows = facts.open_rows
    yield Check(
        "Very long",
        f"PAM 200.1, check 8: more than {LONG_DAYS} working days",
        "Nobody can tell how far a job of months is. Cut it where something can be looked at and"
        " accepted.",
        [
            Found(row["code"], say_working_time(row["likely_minutes"], day))
            for row in rows
            if row["likely_minutes"] > LONG_DAYS * day * 60
        ],
        of=len(rows),
        limit=5,
        shows_shares=shares,
    )
    yield Check(
        "Nobody is named to do it",
        "PAM 200.1, check 10; GAO-16-89G, best practice 3",
        "Without a vendor or hands of ours it is planned as if it did itself. Say who does it.",
        [
            Found(row["code"])
            for row in rows
            if row["vendor"] is None and not row["people"] and not row["helpers"]
        ],
        of=len(rows),
        shows_shares=shares,
    )
    waiting = facts.waiting_rows
    yield Check(
        "Only one guess of how long it takes",
        "GAO-16-89G, best practices 4 and 8",
        "Best case, likely and worst case are what tells how sure the launch is. Ask whoever does"
        " it what could go wrong.",
        [Found(r["code"]) for r in waiting if r["low_minutes"] == r["high_minutes"]],
        of=len(waiting),
        shows_shares=shares,
    )


# Against a baseline


def _against_baseline(facts: Facts, *, shares: bool) -> Iterator[Check]:
    if facts.baseline is None:
        yield Check(
            "A baseline to compare with",
            "GAO-16-89G, best practice 10",
            "Keep the plan that was agreed as a baseline; then drift can be seen and explained.",
            value="none is kept",
            value_is_good=False,
        )
        return
    rows = {row["code"]: row for row in facts.document["packages"]}
    due = [line for line in facts.baseline if line.finish <= facts.now and line.code in rows]
    late = list(_behind(due, rows, facts))
    yield Check(
        f"Behind “{facts.baseline_name}”",
        "PAM 200.1, check 11",
        "Were to be finished by now and were not, or came late. The delay ledger says what moved"
        " the launch.",
        late,
        of=len(due),
        limit=5,
        shows_shares=len(due) > FEW,
    )
    done = sum(row["finished_at"] is not None for row in rows.values())
    if due:
        index = (Decimal(done) / len(due)).quantize(Decimal("0.01"))
        yield Check(
            f"Finished, against what “{facts.baseline_name}” has as finished by now",
            "PAM 200.1, check 14: an index of 0.95 or more",
            "Fewer packages get finished than were planned. Finish what is begun before beginning"
            " more.",
            value=f"{done} of {len(due)}, an index of {index}",
            value_is_good=index >= INDEX_LIMIT,
        )


def _behind(
    due: Iterable[BaselineLine], rows: dict[str, PackageRow], facts: Facts
) -> Iterator[Found]:
    for line in due:
        row = rows[line.code]
        finished = moment_of(row["finished_at"])
        if finished is None:
            yield Found(line.code, f"was to be finished {facts.say(line.finish)}")
        elif facts.lines[line.code].finish > line.finish:
            ended = facts.say(facts.lines[line.code].finish)
            yield Found(line.code, f"was to be finished {facts.say(line.finish)}, was {ended}")


# The launch


def _launch(facts: Facts) -> Iterator[Check]:
    """PAM 200.1 delays one package by 600 days and looks whether the end follows. Here the chain
    that drives the launch is known, so it is looked at instead: it must reach from something that
    is so now to the launch."""
    rows = {row["code"]: row for row in facts.document["packages"]}
    target = facts.built.problem.target
    if target is None:
        yield Check(
            "A launch to plan for",
            "GAO-16-89G, best practice 6",
            "Say which package is the launch. Until then the end of everything counts.",
            value="no package is the launch",
            value_is_good=False,
        )
    elif rows[target]["finished_at"] is None:
        whole = bool(facts.driving) and facts.driving[-1] == target
        hangs = [code for code in facts.driving if _is_fixed(facts, code)]
        yield Check(
            "A chain of work that drives the launch",
            "PAM 200.1, check 12, in another way; GAO-16-89G, best practice 6",
            "The launch stands where a date was agreed, not where the work ends: working faster"
            " before it gains nothing. Ask whether the date can move."
            if hangs
            else "Tie the launch to what must be done before it.",
            [Found(code, "starts on an agreed date") for code in hangs],
            value=(
                f"{say_count(len(facts.driving), 'package')}, from {facts.driving[0]} to {target}"
                if whole
                else "no chain leads to the launch"
            ),
            value_is_good=whole and not hangs,
        )
    if facts.days_to_launch and facts.reserve_days is not None:
        length = facts.days_to_launch
        index = (Decimal(length + facts.reserve_days) / length).quantize(Decimal("0.01"))
        reserve = facts.reserve_days
        side = "to spare" if reserve >= 0 else "missing"
        yield Check(
            "Working days left, against the launch wanted",
            "PAM 200.1, check 13: an index of 0.95 or more",
            "The wanted day cannot be had by a little hurry. Drop work, add hands, or talk about"
            " the day; what if shows what each brings.",
            value=(
                f"{say_count(length, 'working day')} to go, {abs(reserve)} {side}, an index of"
                f" {index}"
            ),
            value_is_good=index >= INDEX_LIMIT,
        )


def _is_fixed(facts: Facts, code: str) -> bool:
    """Whether an agreed date, and nothing before it, puts the package where it is."""
    line = facts.lines[code]
    return code == facts.driving[0] and any(
        row["package"] == code and datetime.fromisoformat(row["at"]) == line.start
        for row in facts.document["bookings"]
        if facts.built.packages[code]["started_at"] is None
    )

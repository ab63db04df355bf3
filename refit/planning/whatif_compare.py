"""Two plans side by side: launch, promises and bookings, dates that move, money. Pure.

What comes out is JSON, kept with the sandbox; dates are said in the zone of the refit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from refit.interchange.document import PackageRow, RefitDocument
from refit.scheduling.problem import ShortfallKind
from refit.work.wording import say_day, say_elapsed, say_moment, say_money

from .baselines_yardstick import Yardstick
from .solve import NoPlan, Solved

Outcome = dict[str, Any]


@dataclass(frozen=True)
class Side:
    """One of the two plans. ``trouble``: sentences why there is none."""

    document: RefitDocument
    solved: Solved | None
    trouble: tuple[str, ...] = ()

    @classmethod
    def failed(cls, document: RefitDocument, reason: NoPlan) -> Side:
        return cls(document, None, tuple(reason.sentences))

    @property
    def launch_at(self) -> datetime | None:
        return None if self.solved is None else self.solved.launch_at


@dataclass(frozen=True)
class Kept:
    """A date that somebody counts on, in one of the plans. ``is_day``: any time of that day."""

    what: str
    wanted: datetime
    late: int
    """Elapsed minutes by which it is missed; 0 or less: kept."""
    is_day: bool = False


@dataclass(frozen=True)
class Saying:
    """How dates are said: in the zone of the refit, with the year if it is not this one."""

    zone: ZoneInfo
    today: date

    @classmethod
    def of(cls, document: RefitDocument, now: datetime) -> Saying:
        zone = ZoneInfo(document["refit"]["time_zone"])
        return cls(zone, now.astimezone(zone).date())

    def day(self, moment: datetime | None) -> str:
        return "" if moment is None else say_day(moment.astimezone(self.zone).date(), self.today)

    def kept(self, kept: Kept | None) -> str:
        if kept is None:
            return "–"
        at = self.day(kept.wanted)
        if not kept.is_day:
            at = say_moment(kept.wanted, self.zone, self.today)
        return f"{at}: missed by {say_elapsed(kept.late)}" if kept.late > 0 else f"{at}: kept"


def compare(before: Side, after: Side, yardstick: Yardstick | None, *, now: datetime) -> Outcome:
    """What ``after`` changes, as of ``now``. ``yardstick`` must reach over both launches and all
    dates; None if there is no plan to measure."""
    say = Saying.of(before.document, now)
    outcome: Outcome = {
        "trouble_before": list(before.trouble),
        "trouble": list(after.trouble),
        "launch_before": say.day(before.launch_at),
        "launch_after": say.day(after.launch_at),
        "launch_moved": "",
        "launch_elapsed": 0,
        "money": _money(before.document, after.document),
        "dates": _dates(before, after, say),
        "moved": [],
        "added": [],
        "gone": [],
        "same": 0,
    }
    outcome["missed"] = sum(row["after_late"] > 0 for row in outcome["dates"])
    outcome["kept"] = sum(row["after"] != "–" for row in outcome["dates"]) - outcome["missed"]
    if before.launch_at is not None and after.launch_at is not None and yardstick is not None:
        moved = yardstick.between(before.launch_at, after.launch_at)
        outcome["launch_moved"], outcome["launch_elapsed"] = moved.said, moved.elapsed
        outcome["launch_calendar_days"] = moved.calendar_days
        outcome["place"] = "" if yardstick.place is None else yardstick.place.name
    if before.solved is not None and after.solved is not None and yardstick is not None:
        outcome |= _packages(before.solved, after.solved, yardstick, say)
    return outcome


def _packages(one: Solved, other: Solved, yardstick: Yardstick, say: Saying) -> Outcome:
    moved, same = [], 0
    first, second = one.built.clock.moment, other.built.clock.moment
    for code, answer in one.answers.items():
        now = other.answers.get(code)
        if now is None:
            continue
        start = yardstick.between(first(answer.planned.start), second(now.planned.start))
        finish = yardstick.between(first(answer.planned.finish), second(now.planned.finish))
        if not start.elapsed and not finish.elapsed:
            same += 1
            continue
        moved.append(
            {
                "code": code,
                "title": other.built.packages[code]["title"],
                "start_before": say.day(first(answer.planned.start)),
                "start_after": say.day(second(now.planned.start)),
                "finish_before": say.day(first(answer.planned.finish)),
                "finish_after": say.day(second(now.planned.finish)),
                "said": (finish if finish.elapsed else start).said,
                "elapsed": finish.elapsed or start.elapsed,
                "drives": now.drives,
            }
        )
    moved.sort(key=lambda row: (-abs(int(str(row["elapsed"]))), str(row["code"])))
    return {
        "moved": moved,
        "same": same,
        "added": list(_only_in(other, one, say)),
        "gone": list(_only_in(one, other, say)),
    }


def _only_in(one: Solved, other: Solved, say: Saying) -> Iterator[dict[str, str]]:
    moment = one.built.clock.moment
    for code, answer in one.answers.items():
        if code not in other.answers:
            yield {
                "code": code,
                "title": one.built.packages[code]["title"],
                "start": say.day(moment(answer.planned.start)),
                "finish": say.day(moment(answer.planned.finish)),
            }


# What people count on


def _dates(before: Side, after: Side, say: Saying) -> list[dict[str, Any]]:
    """Every booking, deadline, window and promise that either plan has, missed ones first."""
    one, other = _counted_on(before), _counted_on(after)
    rows = []
    for key in [*other, *(key for key in one if key not in other)]:
        was, now = one.get(key), other.get(key)
        shown = now or was
        assert shown is not None
        rows.append(
            {
                "what": shown.what,
                "before": say.kept(was),
                "after": say.kept(now),
                "before_late": max(was.late, 0) if was else 0,
                "after_late": max(now.late, 0) if now else 0,
            }
        )
    return sorted(rows, key=lambda row: -max(row["before_late"], row["after_late"]))


def _counted_on(side: Side) -> dict[tuple[str, str], Kept]:
    found: dict[tuple[str, str], Kept] = {}
    if side.solved is None:
        return found
    built = side.solved.built
    moment = built.clock.moment
    for row in side.document["packages"]:
        code, name = row["code"], built.name(row["code"])
        if row["finished_at"] is not None:
            continue
        planned = side.solved.answers[code].planned
        if row["promised"] is not None:
            wanted = datetime.fromisoformat(row["promised"])
            who = row["vendor"] or "our crew"
            found["promise", code] = _kept(
                f"promised by {who}: {name}", wanted, moment(planned.work_finish)
            )
        if row["deadline"] is not None:
            wanted = datetime.fromisoformat(row["deadline"])
            found["deadline", code] = _kept(f"deadline of {name}", wanted, moment(planned.finish))
    for booking in side.document["bookings"]:
        code = booking["package"]
        if built.packages[code]["started_at"] is None and booking["kind"] == "starts":
            wanted = datetime.fromisoformat(booking["at"])
            start = moment(side.solved.answers[code].planned.start)
            found["booking", code] = _kept(f"booking of {built.name(code)}", wanted, start)
    for missed in side.solved.plan.shortfalls:
        if missed.kind is ShortfallKind.WINDOW:
            what = (
                f"{built.name(missed.package)} soon enough after {built.name(missed.before or '')}"
            )
            found["window", f"{missed.before} {missed.package}"] = _kept(
                what, moment(missed.wanted), moment(missed.got)
            )
    wanted_day = side.document["refit"]["wanted_launch"]
    if wanted_day is not None and side.launch_at is not None:
        zone = built.clock.zone
        wanted = datetime.fromisoformat(wanted_day).replace(tzinfo=zone)
        days = (side.launch_at.astimezone(zone).date() - wanted.date()).days
        found["launch", ""] = Kept("launch on the day wanted", wanted, days * 1440, is_day=True)
    return found


def _kept(what: str, wanted: datetime, planned: datetime) -> Kept:
    return Kept(what, wanted, int((planned - wanted).total_seconds() // 60))


# Money


@dataclass(frozen=True)
class Sum:
    """A sum over all packages, before and after, as it is said."""

    name: str
    before: str
    after: str
    moved: str


_SUMS: dict[str, Callable[[PackageRow], str | None]] = {
    "Budget": lambda row: row["budget"],
    "Agreed prices": lambda row: row["agreed_price"],
    "To be expected": lambda row: row["agreed_price"] or row["budget"],
}


def _money(before: RefitDocument, after: RefitDocument) -> list[dict[str, str]]:
    """Budgets, agreed prices, and what is to be expected: the price agreed, or else the budget."""
    currency = before["refit"]["currency"]
    sums = []
    for name, of in _SUMS.items():
        one, other = (
            sum((Decimal(of(row) or 0) for row in document["packages"]), Decimal(0))
            for document in (before, after)
        )
        moved = other - one
        sign = "+" if moved > 0 else "−"
        sums.append(
            asdict(
                Sum(
                    name,
                    say_money(one, currency),
                    say_money(other, currency),
                    f"{sign}{say_money(abs(moved), currency)}" if moved else "",
                )
            )
        )
    return sums

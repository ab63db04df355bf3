"""Looking for an earlier launch against the clock: asked for by a person, carried out elsewhere.

A search never runs in the web process. Where there is a broker, its worker carries it out; else a
child process does (`refit.planning.tasks`). The row in the database is all that both sides share:

1. `ask_for_search` writes a row that waits, for the current plan of an unchanged refit.
2. `carry_out` claims it by a conditional update, so that only one does. Beside the search a heart
   beats: it writes how far the search has come, renews the lease, hears whether it shall stop, and
   ends it if the refit has changed.
3. The plan found is checked as any other and stored only if it is better than what `replan` would
   make now, the refit's version is the one it was computed from, and no other plan came in between.

A search whose lease has run out has died, and `bury_dead_searches` says so.
"""

from __future__ import annotations

import logging
import os
from datetime import datetime, timedelta
from threading import Event, Thread
from time import monotonic, perf_counter
from typing import Any

from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from refit.interchange.export import export_refit
from refit.nudges import nudge
from refit.scheduling.critical_path import critical_path
from refit.scheduling.problem import SchedulingError, ShortfallKind
from refit.work.models import Actor, Refit, record

from .ledger_book import prepare_booking
from .models import LIVE, Plan, PlanSearch, SearchState
from .services import Overtaken, store_plan
from .solve import Effort, NoPlan, Reached, Solved, solve

log = logging.getLogger(__name__)

LIMITS = (10, 30, 60, 180)
"""Seconds that can be asked for; well below the time limit of a task."""
BEAT = 0.5
LEASE = timedelta(seconds=15)
TO_BEGIN = timedelta(seconds=60)
"""How long a search may wait for somebody to carry it out."""
GRACE = 90
"""Seconds past its limit after which a search that has not ended is given up: reading, explaining
and storing a large plan take their time too, on a busy machine a multiple."""

KILLED = "Whoever carried it out was ended in the middle. The plan is the one from before."


class CannotSearch(Exception):
    """There is nothing to start from; the message is a sentence."""


def ask_for_search(*, refit: Refit, seconds: int, actor: Actor, now: datetime) -> PlanSearch:
    """Ask for a search from the current plan. One that is running already is the answer then.

    Raises CannotSearch.
    """
    bury_dead_searches(now=now)
    plan = Plan.objects.current(refit)
    refit.refresh_from_db(fields=["version"])
    if plan is None or plan.launch_at is None:
        raise CannotSearch("There is no plan yet that could be made better.")
    if plan.refit_version < refit.version:
        raise CannotSearch(
            "The plan is not one of the refit as it is now. Wait for the new one, then look again."
        )
    try:
        with transaction.atomic():
            search = PlanSearch.objects.create(
                refit=refit,
                refit_version=refit.version,
                plan_before=plan,
                asked_by=actor.name,
                asked_at=now,
                limit_seconds=seconds,
                lease_until=now + TO_BEGIN,
                launch_before=plan.launch_at,
                launch_at=plan.launch_at,
                missed_before=len(plan.shortfalls),
                missed=len(plan.shortfalls),
            )
            record(
                refit=refit,
                actor=actor,
                now=now,
                verb="asked",
                subject_name=f"for an earlier launch, {seconds} s",
                replan=False,
            )
    except IntegrityError:
        return PlanSearch.objects.live().get(refit=refit)
    from .tasks import search_plan

    nudge(search_plan, search.pk)
    return search


def stop_search(*, refit: Refit, now: datetime) -> None:
    """Have the search that runs stop and keep the best so far; one that waits is taken back."""
    PlanSearch.objects.filter(refit=refit, state=SearchState.WAITING).update(
        state=SearchState.NOTHING, ended_at=now, said="It was taken back before it began."
    )
    PlanSearch.objects.filter(refit=refit, state=SearchState.RUNNING).update(stop_wanted=True)


def bury_dead_searches(*, now: datetime) -> int:
    """Say of searches whose lease ran out that they broke off; how many."""
    dead = PlanSearch.objects.live().filter(lease_until__lt=now)
    waited = dead.filter(state=SearchState.WAITING).update(
        state=SearchState.DIED, ended_at=now, said="Nobody took it up: is the worker running?"
    )
    return waited + dead.update(state=SearchState.DIED, ended_at=now, said=KILLED)


def broke_off(search_id: int, *, now: datetime) -> None:
    """Note that the process which carried a search out is gone, if the search has not ended."""
    PlanSearch.objects.live().filter(pk=search_id).update(
        state=SearchState.DIED, ended_at=now, said=KILLED
    )


def carry_out(search_id: int) -> None:
    """Search, and store what is better. Does nothing for a search that somebody has claimed."""
    now = timezone.now()
    claimed = PlanSearch.objects.filter(pk=search_id, state=SearchState.WAITING).update(
        state=SearchState.RUNNING, lease_until=now + LEASE
    )
    if not claimed:
        return
    search = PlanSearch.objects.select_related("refit", "plan_before").get(pk=search_id)
    try:
        with _Heart(search) as heart:
            end = _search(search, heart, now)
    except Exception:
        log.exception("the search %s fell over", search_id)
        end = {
            "state": SearchState.DIED,
            "said": "The search fell over; the plan is the one from before. The log says where.",
        }
    # One that was buried meanwhile stays so, but a plan that was stored is told in any case.
    rows = PlanSearch.objects.filter(pk=search_id)
    if end["state"] != SearchState.FOUND:
        rows = rows.filter(state__in=LIVE)
    rows.update(**end, ended_at=timezone.now())


def _search(search: PlanSearch, heart: _Heart, now: datetime) -> dict[str, Any]:
    """How it ended, as columns of the row."""
    refit, before = search.refit, search.plan_before
    if before is None or Plan.objects.current(refit) != before:
        return _overtaken()
    previous = list(before.packages.values_list("package__code", "start", "work_finish", "finish"))
    document = export_refit(refit)
    effort = Effort(search.limit_seconds, heart.hear, heart.wants_stop)
    began = perf_counter()
    try:
        plain = solve(document, now, previous)
        seconds = perf_counter() - began
        heart.hear(_known_at_once(plain))
        solved = solve(document, now, previous, effort=effort)
    except NoPlan as reason:
        return {"state": SearchState.DIED, "said": " ".join(reason.sentences)[:400]}
    if heart.overtaken:
        return _overtaken()
    moment, found = solved.built.clock.moment, solved.plan
    known = {
        "seconds": heart.seconds,
        "proved": found.proved,
        "bound_at": None if found.bound is None else moment(found.bound),
    }
    launch = solved.launch_at
    assert launch is not None
    assert before.launch_at is not None
    missed = len(found.shortfalls)
    missed_before = max(len(before.shortfalls), len(plain.plan.shortfalls))  # time has passed
    better = _key(solved) < _key(plain) and (missed, launch) < (missed_before, before.launch_at)
    if not better:
        known |= {"launch_at": before.launch_at, "missed": search.missed_before}
        return known | {"state": SearchState.NOTHING}
    booked = prepare_booking(refit=refit, before=before, solved=solved, now=now)
    try:
        plan = store_plan(
            refit=refit,
            version=search.refit_version,
            solved=solved,
            now=now,
            began=perf_counter() - seconds,  # what the next plan will take, without a search
            booked=booked,
            instead_of=before,
        )
    except Overtaken:
        return _overtaken()
    return known | {
        "state": SearchState.FOUND,
        "plan_after": plan,
        "launch_at": launch,
        "missed": missed,
        "moved": _moved(previous, solved),
    }


def _known_at_once(plain: Solved) -> Reached:
    """Before any search: the launch, and the one there would be if nothing were ever taken."""
    launch, moment = plain.launch_at, plain.built.clock.moment
    assert launch is not None
    try:
        bound = moment(critical_path(plain.built.problem).finish)
    except SchedulingError:  # windows that no dates keep: then the bound is no help
        bound = moment(plain.built.problem.now)
    return Reached(0, launch, bound, False, len(plain.plan.shortfalls))


def _overtaken() -> dict[str, Any]:
    return {
        "state": SearchState.OVERTAKEN,
        "said": "What it was looking through is not the refit any more; nothing was stored.",
    }


def _key(solved: Solved) -> tuple[int, int, datetime | None]:
    plan = solved.plan
    by = sum(s.by for s in plan.shortfalls if s.kind is not ShortfallKind.WINDOW)
    return len(plan.shortfalls), by, solved.launch_at


def _moved(
    previous: list[tuple[str, datetime, datetime, datetime]], solved: Solved
) -> list[dict[str, Any]]:
    """The packages that start at another time now, those that move most first."""
    moment = solved.built.clock.moment
    starts = {code: moment(answer.planned.start) for code, answer in solved.answers.items()}
    moved = [
        {
            "code": code,
            "title": solved.built.packages[code]["title"],
            "before": start,
            "after": starts[code],
        }
        for code, start, _, _ in previous
        if code in starts and starts[code] != start
    ]
    return sorted(moved, key=lambda row: (-abs(row["after"] - row["before"]), row["code"]))


class _Heart:
    """Beats beside a search, in a thread with a database connection of its own.

    It gives up on a search that goes on far past its limit, and tells it to stop when the process
    that began this one is gone, so that a child does not outlive its server for long.
    """

    def __init__(self, search: PlanSearch) -> None:
        self.search = search
        self.overtaken = False
        self.began = monotonic()
        self._reached: Reached | None = None
        self._stop, self._over = Event(), Event()
        self._parent = os.getppid()
        self._thread = Thread(target=self._beat, name="refit-search-heart", daemon=True)

    def __enter__(self) -> _Heart:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def hear(self, reached: Reached) -> None:
        self._reached = reached

    def wants_stop(self) -> bool:
        return self._stop.is_set()

    @property
    def seconds(self) -> float:
        """On the clock of the search, once it has told of anything."""
        return min(monotonic() - self.began, float(self.search.limit_seconds))

    def _beat(self) -> None:
        try:
            while monotonic() - self.began < self.search.limit_seconds + GRACE:
                self._tell()
                if self._over.wait(BEAT):
                    return
            self._stop.set()
        except Exception:  # without a heart the lease runs out; so end what can still be ended
            log.exception("the heart of search %s stopped", self.search.pk)
            self._stop.set()
        finally:
            connection.close()

    def _tell(self) -> None:
        row = PlanSearch.objects.filter(pk=self.search.pk, state=SearchState.RUNNING)
        news: dict[str, Any] = {"lease_until": timezone.now() + LEASE, "seconds": self.seconds}
        reached = self._reached
        if reached is not None:
            news |= {
                "launch_at": reached.launch,
                "bound_at": reached.bound,
                "proved": reached.proved,
                "missed": reached.missed,
            }
        alive = row.update(**news)
        wanted = row.values_list("stop_wanted", "refit__version").first()
        if not alive or wanted is None or os.getppid() != self._parent:
            self._stop.set()
            return
        stop, version = wanted
        if version != self.search.refit_version:
            self.overtaken = True
        if stop or self.overtaken:
            self._stop.set()

"""A plan that can be done: dates for every package that hours, pieces and resources allow.

How a plan is chosen:

1. Every rule of `priorities` gives an order, every order a plan (`generation`).
2. The best is kept: fewest requirements missed, then bookings and deadlines missed by least, then
   earliest launch, then earliest sum of finishes. A plan that was there before goes first, and a
   better sum of finishes is no reason to leave it: vendors have been told those dates.
3. Justification (Li and Willis 1992; Valls, Ballestin and Quintanilla 2005; named from memory):
   push everything as late as the plan's own links allow, take that order, generate again;
   repeated while it helps.
4. For each missed maximum lag the package in front is delayed, in a few rounds, if it is still to
   start: what must follow closely begins later rather than waits too long.
5. What air is left is taken out (`Generation.compact`): nothing could start a minute earlier.

6. Given a limit in seconds, `improve` searches on until then, or until nothing better is possible.

What still cannot be kept is reported as a `Shortfall`, never hidden.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from time import monotonic

from .improve import Improved, improve
from .priorities import rank_as_stated, rank_by_rules
from .problem import Plan, Problem
from .search import Search, plan_of
from .shortfalls import find_shortfalls
from .stated import Stated

__all__ = ["find_shortfalls", "level"]


def level(
    problem: Problem,
    *,
    previous: Plan | None = None,
    limit: float | None = None,
    seed: int = 0,
    progress: Callable[[Improved], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Plan:
    """A feasible plan; `check` finds nothing in it.

    The same input gives the same plan as long as no clock decides: without ``limit`` always. With
    one the search may be cut off at another point the next time, or hear of an answer of the
    solver a moment earlier; then the plan may be another one. What is promised all the same: it
    is never worse than without a limit or than a ``previous`` plan that still holds, and where both
    runs end with a proof, both launch at the same moment. Who needs the very same plan again
    gives it as ``previous``.

    ``previous``: a plan that is kept as far as it can still be done, unless another misses less
    or ends earlier. ``limit``: seconds on the clock, from this call on, to search for a better
    one; ``seed`` starts its random choices.
    ``progress`` hears of every better plan, ``stop`` is asked a few times a second whether to
    make do with the best so far. A plan found with a limit says in ``bound`` when the launch
    cannot be before, in ``proved`` that none is better, and in ``contradiction`` which packages
    prove that something must be missed.

    Raises BadProblem, Contradiction, CycleFound when the problem is not sound, BeyondHorizon when
    the calendars end before the work.
    """
    began = monotonic()
    stated = Stated(problem)
    search = Search(stated)
    if previous is not None:
        search.start_from(previous)
    search.try_ranks(rank_as_stated(stated))
    for ranks in rank_by_rules(stated, search.generation.unhindered, search.horizon()):
        search.try_ranks(ranks)
    search.justify()
    search.keep_windows()
    if limit is None or not stated.packages:
        return plan_of(stated, search.best_dates())
    found = improve(search, limit=limit, seed=seed, progress=progress, stop=stop, began=began)
    return replace(
        plan_of(stated, search.best_dates()),
        proved=found.proved,
        bound=found.bound,
        contradiction=found.contradiction,
    )

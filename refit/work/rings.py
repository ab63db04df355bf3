"""Packages that would wait for each other in a ring.

A ring is one of packages, whatever the relations on its sides: the planner puts each package
behind all those it waits for, and a ring has no such order.
"""

from __future__ import annotations

from collections import deque

from .models import Dependency, WorkPackage


def ring_closed_by(*, before: WorkPackage, after: WorkPackage) -> list[WorkPackage]:
    """The ring that “after waits for before” would close; empty if none.

    From ``after`` along what waits for it to ``before``: each one in the list is waited for by the
    next, and the first would wait for the last. The shortest one. Two queries at most.
    """
    waiting: dict[int, list[int]] = {}
    links = Dependency.objects.filter(refit_id=after.refit_id)
    for first, second in links.values_list("before_id", "after_id"):
        waiting.setdefault(first, []).append(second)
    reached: dict[int, int | None] = {after.pk: None}
    ahead = deque([after.pk])
    while ahead and before.pk not in reached:
        here = ahead.popleft()
        for then in waiting.get(here, ()):
            if then not in reached:
                reached[then] = here
                ahead.append(then)
    if before.pk not in reached:
        return []
    ring: list[int] = []
    step: int | None = before.pk
    while step is not None:
        ring.append(step)
        step = reached[step]
    rows = WorkPackage.objects.in_bulk(ring)
    return [rows[pk] for pk in reversed(ring)]


def say_ring(ring: list[WorkPackage]) -> str:
    """The ring as a sentence, by package names."""
    steps = " → ".join(str(package) for package in [*ring, ring[0]])
    return f"That would close a ring in which nothing can start: {steps}."

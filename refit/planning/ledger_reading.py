"""The ledger as it is read: entries with their measures, and sums by party and by cause."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from refit.work.models import Refit

from .baselines_yardstick import NOTHING, Distance, Yardstick
from .ledger import A_WINDOW
from .models import Baseline, LedgerEntry, LedgerKind

NOBODY = "nobody in particular"


@dataclass(frozen=True)
class Line:
    """One entry, or a row of entries that say the same of time passing; ``entry`` is the last.

    ``total``: the drift with it and all before it.
    """

    entry: LedgerEntry
    launch_before: datetime
    moved: Distance
    total: Distance
    times: int = 1

    def goes_on(self, entry: LedgerEntry) -> bool:
        """Whether the next entry only says once more that the same work was not done."""
        return (
            self.entry.kind == LedgerKind.TIME == entry.kind
            and self.entry.said == entry.said
            and self.entry.package_id == entry.package_id
        )


@dataclass(frozen=True)
class Share:
    """What one party, or one kind of cause, moved the launch by, and in how many entries."""

    name: str
    moved: Distance
    entries: int


@dataclass(frozen=True)
class Ledger:
    """``lines``: the first entry first. ``drift`` is measured between ``launch_from`` and
    ``launch_to``; the lines add up to it."""

    lines: list[Line]
    launch_from: datetime
    launch_to: datetime
    drift: Distance
    by_party: list[Share]
    by_kind: list[Share]


def read_ledger(refit: Refit, *, since: Baseline | None = None) -> Ledger | None:
    """All of it, or what came after the plan that ``since`` keeps; None before the first plan.

    Four queries at any length.
    """
    entries = list(
        LedgerEntry.objects.filter(refit=refit).select_related("package").order_by("position")
    )
    if not entries:
        return None
    first = 0
    if since is not None:
        before = [
            entry for entry in entries if entry.position < (since.ledger_window + 1) * A_WINDOW
        ]
        first = max(len(before) - 1, 0)
    start, after = entries[first], entries[first + 1 :]
    moments = [start.launch_after, *(entry.launch_after for entry in after)]
    yardstick = Yardstick(refit, min(moments), max(moments))
    lines: list[Line] = []
    total = NOTHING
    for entry in after:
        moved = yardstick.between(entry.launch_before, entry.launch_after)
        total += moved
        if lines and lines[-1].goes_on(entry):
            last = lines.pop()
            lines.append(Line(entry, last.launch_before, last.moved + moved, total, last.times + 1))
        else:
            lines.append(Line(entry, entry.launch_before, moved, total))
    return Ledger(
        lines=lines,
        launch_from=moments[0],
        launch_to=moments[-1],
        drift=yardstick.between(moments[0], moments[-1]),
        by_party=_shares(lines, lambda entry: entry.party or NOBODY),
        by_kind=_shares(lines, lambda entry: LedgerKind(entry.kind).label),
    )


def _shares(lines: list[Line], name_of: Callable[[LedgerEntry], str]) -> list[Share]:
    """What each moved, those who moved it most to later first."""
    sums: dict[str, tuple[Distance, int]] = {}
    for line in lines:
        moved, entries = sums.get(name_of(line.entry), (NOTHING, 0))
        sums[name_of(line.entry)] = moved + line.moved, entries + line.times
    shares = [Share(name, moved, entries) for name, (moved, entries) in sums.items()]
    return sorted(shares, key=lambda share: (-share.moved.elapsed, share.name))

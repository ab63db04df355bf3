"""Whether the papers of a keeper last as long as it keeps a piece: sentences where they do not.

Pure reckoning over rows already read. A *stay* is what one vendor keeps and until when it is to
give it back. Only what is written down is judged: a vendor of whom no paper is noted is told of
once, quietly, and a cover without a last day counts as lasting.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from refit.work.models import COVERS_PIECES, Paper, PaperKind, Piece, Refit, Vendor
from refit.work.wording import say_count, say_day, say_list

from .models import Handoff, HandoffState

MOST_NAMED = 3


@dataclass(frozen=True)
class Stay:
    """``vendor`` keeps ``piece`` from a day (today, or when it comes) until it is due back.

    ``until`` is None where no date is known; then only the first day is asked about.
    """

    vendor: Vendor
    piece: Piece
    begins: date
    until: date | None
    is_there: bool


@dataclass(frozen=True)
class Gap:
    """One kind of cover of one vendor that does not last for these stays.

    ``ends``: its last day before the gap; None if it has not begun by then, but does on ``starts``.
    """

    vendor: Vendor
    kind: PaperKind
    ends: date | None
    starts: date | None
    stays: tuple[Stay, ...]
    today: date

    @property
    def is_over(self) -> bool:
        """Something of ours stands there today without this cover."""
        bare_today = self.ends is None or self.ends < self.today
        return bare_today and any(stay.is_there for stay in self.stays)

    @property
    def sentence(self) -> str:
        cover = f"The {self.kind.label} of {self.vendor}"
        names = [stay.piece.name for stay in self.stays]
        if len(names) > MOST_NAMED:
            rest = say_count(len(names) - MOST_NAMED + 1, "more piece")
            names = [*names[: MOST_NAMED - 1], rest]
        what, be = say_list(names), "is" if len(names) == 1 else "are"
        if all(stay.is_there for stay in self.stays):
            holds = f"it has {what}"
        else:
            holds = f"{what} {be} to go there"
        if self.ends is None:
            assert self.starts is not None
            return f"{cover} begins only on {say_day(self.starts, self.today)}, and {holds}."
        day = say_day(self.ends, self.today)
        if self.ends < self.today:
            return f"{cover} ended on {day}, and {holds}."
        back = [stay.until for stay in self.stays if stay.until is not None]
        if len(back) < len(self.stays):
            return f"{cover} ends on {day}, and {holds}."
        when = f" on {say_day(back[0], self.today)}" if len(set(back)) == 1 else ""
        return f"{cover} ends on {day}, before {what} {be} due back{when}."


def stays(
    handoffs: Iterable[Handoff], *, refit: Refit, today: date, pieces: Iterable[Piece] = ()
) -> list[Stay]:
    """The present and coming stays that the open ``handoffs`` tell of, with names selected.

    ``pieces``: those that may be at a vendor's without any move planned.
    """
    by_piece: dict[int, list[Handoff]] = {}
    for handoff in handoffs:
        by_piece.setdefault(handoff.piece_id, []).append(handoff)
    found: list[Stay] = []
    for rows in by_piece.values():
        rows.sort(key=lambda row: (row.depart_at is None, row.depart_at, row.pk))
        leaving = {row.origin_id: row for row in reversed(rows)}
        first = leaving.get(rows[0].piece.place_id or 0)
        if first is not None and first.origin.vendor is not None:
            due = _day(first, refit)
            found.append(Stay(first.origin.vendor, first.piece, today, due, True))
        for index, row in enumerate(rows):
            vendor = row.destination.vendor
            if vendor is None:
                continue
            onward = next(
                (after for after in rows[index + 1 :] if after.origin_id == row.destination_id),
                None,
            )
            comes = row.arrive_at or row.needed_at
            begins = refit.local(comes).date() if comes is not None else today
            until = _day(onward, refit) if onward is not None else None
            found.append(Stay(vendor, row.piece, max(begins, today), until, False))
    for piece in pieces:
        if piece.pk not in by_piece and piece.place is not None and piece.place.vendor is not None:
            found.append(Stay(piece.place.vendor, piece, today, None, True))
    return found


def _day(handoff: Handoff, refit: Refit) -> date | None:
    """The day on which the piece is promised, agreed or planned to be given back."""
    if handoff.state == HandoffState.READY:
        moment = handoff.depart_at or handoff.ready_at
    else:
        moment = handoff.expected_at or handoff.depart_at
    return refit.local(moment).date() if moment is not None else None


def gaps(found: Iterable[Stay], papers: Iterable[Paper], *, today: date) -> list[Gap]:
    """What is written down and does not last: one for each vendor, kind of cover and end."""
    own: dict[tuple[int, str], list[Paper]] = {}
    for paper in papers:
        own.setdefault((paper.vendor_id, paper.kind), []).append(paper)
    bare: dict[tuple[int, PaperKind, date | None, date | None], list[Stay]] = {}
    for stay in found:
        for kind in COVERS_PIECES:
            rows = own.get((stay.vendor.pk, kind), [])
            day = _first_bare_day(rows, stay.begins, max(stay.until or stay.begins, stay.begins))
            if rows and day is not None:
                ends = [p.valid_until for p in rows if p.valid_until and p.valid_until < day]
                starts = [p.valid_from for p in rows if p.valid_from and p.valid_from > day]
                key = (stay.vendor.pk, kind, max(ends, default=None), min(starts, default=None))
                bare.setdefault(key, []).append(stay)
    return [
        Gap(rows[0].vendor, kind, ends, starts, tuple(rows), today)
        for (_, kind, ends, starts), rows in bare.items()
    ]


def _first_bare_day(papers: list[Paper], first: date, last: date) -> date | None:
    """The earliest day from ``first`` to ``last`` on which none of the papers is valid."""
    day = first
    while day <= last:
        holding = [paper for paper in papers if paper.holds_on(day)]
        if not holding:
            return day
        ends = [paper.valid_until for paper in holding]
        if None in ends:
            return None
        day = max(end for end in ends if end is not None) + timedelta(days=1)
    return None


def say_missing(stay: Stay, papers: Iterable[Paper]) -> str:
    """What is not noted at all about the cover of a keeper, as a sentence; empty if both are."""
    own = {paper.kind for paper in papers if paper.vendor_id == stay.vendor.pk}
    missing = [kind for kind in COVERS_PIECES if kind not in own]
    if not missing:
        return ""
    if len(missing) == len(COVERS_PIECES):
        return f"No insurance of {stay.vendor} is noted."
    return f"No {missing[0].label} of {stay.vendor} is noted."

"""Handoffs follow the moves of the plan, and keep their identity while they do.

A replan is no reason to forget what was agreed about a handoff or to send its calendar entry
anew. So moves are matched to the handoffs there are, and only what is left over is new, revived
or cancelled:

1. the same piece on the same way for the same package;
2. the same piece on the same way, for whatever package;
3. one that was cancelled: the same piece on the same way for the same package.

What a plan made, a plan may cancel; what people entered by hand stays. A handoff that is said to
be ready keeps its state, and only its window follows the plan; one that is under way, received or
cancelled by anybody after it was sent is not touched.

``due_at`` is when the piece shall be ready for collection: the end of the last work on it there,
hold included. It is set only where a vendor holds the piece, follows the plan until the piece has
arrived there, and stands still from then on.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from refit.custody.models import Carrier, Handoff, HandoffState
from refit.scheduling.problem import PlannedMove
from refit.work.models import Refit

from .build import Built
from .models import PlannedMove as MoveRow
from .models import PlanState


@dataclass(frozen=True, slots=True)
class Ids:
    """Primary keys by the names that the document uses."""

    packages: Mapping[str, int]
    pieces: Mapping[str, int]
    places: Mapping[str, int]

    def package(self, code: str | None) -> int | None:
        return None if code is None else self.packages[code]


WINDOW = ["free_at", "depart_at", "arrive_at", "leave_by", "needed_at"]
FIELDS = [
    *WINDOW, "state", "cancelled_at", "due_at", "promised_at", "promise_note",
    "for_package_id", "after_package_id",
]  # fmt: skip


def sync_handoffs(
    *, refit: Refit, built: Built, moves: Sequence[PlannedMove], ids: Ids, now: datetime
) -> list[Handoff]:
    """Bring the handoffs of ``refit`` in line with ``moves``; returns one for each, in order.

    Runs inside the transaction that stores the plan, before the plan before it is set aside. The
    number of queries does not depend on the number of moves, up to what the database takes in one
    statement.
    """
    sync = _Sync(refit, built, ids, now)
    result = sync.match(moves)
    sync.cancel_the_rest()
    Handoff.objects.bulk_create(sync.new)
    changed = [handoff for handoff in sync.rows if sync.has_changed(handoff)]
    if changed:
        Handoff.objects.bulk_update(changed, [field.removesuffix("_id") for field in FIELDS])
    return result


Key = tuple[int, int, int]


class _Sync:
    def __init__(self, refit: Refit, built: Built, ids: Ids, now: datetime) -> None:
        self.refit, self.built, self.ids, self.now = refit, built, ids, now
        self.rows = list(
            Handoff.objects.filter(refit=refit, sent_at=None)
            .exclude(state__in=[HandoffState.RECEIVED, HandoffState.UNDER_WAY])
            .order_by("id")
        )
        self.was = {handoff.pk: self._values(handoff) for handoff in self.rows}
        moves = MoveRow.objects.filter(plan__refit=refit, plan__state=PlanState.CURRENT)
        self.from_plan = set(moves.exclude(handoff=None).values_list("handoff_id", flat=True))
        self.first_plan = not refit.plans.exists()
        self.taken: set[int] = set()
        self.new: list[Handoff] = []

    def match(self, moves: Sequence[PlannedMove]) -> list[Handoff]:
        found: dict[int, Handoff] = {}
        live = [HandoffState.READY, HandoffState.PLANNED]
        for states, same_package in ((live, True), (live, False), ([HandoffState.CANCELLED], True)):
            for index, move in enumerate(moves):
                if index not in found:
                    handoff = self._find(move, states, same_package)
                    if handoff is not None:
                        self.taken.add(handoff.pk)
                        found[index] = handoff
        leaving: set[str] = set()
        result = []
        for index, move in enumerate(moves):
            here = move.piece not in leaving and self.built.is_here(move.piece, move.origin)
            leaving.add(move.piece)
            result.append(self._follow(found.get(index), move, here=here))
        return result

    def _find(self, move: PlannedMove, states: Sequence[str], same_package: bool) -> Handoff | None:
        """Of several the one that is ready, then the one cancelled last, then the oldest."""
        wanted = self.ids.package(move.for_package)
        key = self._key(move)
        candidates = [
            handoff
            for handoff in self.rows
            if handoff.pk not in self.taken
            and handoff.state in states
            and (handoff.piece_id, handoff.origin_id, handoff.destination_id) == key
            and (not same_package or handoff.for_package_id == wanted)
        ]
        if not candidates:
            return None
        if HandoffState.CANCELLED in states:
            return max(candidates, key=lambda handoff: handoff.cancelled_at or self.now)
        return min(candidates, key=lambda h: (list(states).index(h.state), h.pk))

    def _key(self, move: PlannedMove) -> Key:
        places = self.ids.places
        return self.ids.pieces[move.piece], places[move.origin], places[move.destination]

    def _follow(self, handoff: Handoff | None, move: PlannedMove, *, here: bool) -> Handoff:
        """Give the handoff the dates of its move, making or reviving it if need be."""
        piece, origin, destination = self._key(move)
        fresh = handoff is None or handoff.state == HandoffState.CANCELLED
        if handoff is None:
            handoff = Handoff(
                refit=self.refit,
                piece_id=piece,
                origin_id=origin,
                destination_id=destination,
                carrier=Carrier.CREW,
            )
            self.new.append(handoff)
        elif fresh:
            handoff.state, handoff.cancelled_at = HandoffState.PLANNED, None
            handoff.due_at, handoff.promised_at, handoff.promise_note = None, None, ""
        moment = self.built.clock.moment
        handoff.free_at, handoff.depart_at = moment(move.free_at), moment(move.depart)
        handoff.arrive_at = moment(move.arrive)
        handoff.leave_by = None if move.leave_by is None else moment(move.leave_by)
        handoff.needed_at = None if move.needed_at is None else moment(move.needed_at)
        handoff.for_package_id = self.ids.package(move.for_package)
        after = self.ids.package(move.after_package)
        if after is not None or not here:  # else: over by now, and still what it came after
            handoff.after_package_id = after
        self._set_due(handoff, move, here=here, fresh=fresh)
        return handoff

    def _set_due(self, handoff: Handoff, move: PlannedMove, *, here: bool, fresh: bool) -> None:
        if handoff.state != HandoffState.PLANNED:
            return
        if self.built.place_vendors[move.origin] is None:
            return
        if here and not fresh and handoff.due_at is not None:
            return
        if move.after_package is not None:
            handoff.due_at = handoff.free_at
        else:  # nobody works on it there: it is due when it must leave, if it must
            handoff.due_at = handoff.leave_by

    def cancel_the_rest(self) -> None:
        """What the last plan made and this one does not need.

        Before the first plan nobody knows what a plan made: handoffs that belong to a package.
        """
        for handoff in self.rows:
            if handoff.pk in self.taken or handoff.state != HandoffState.PLANNED:
                continue
            for_work = handoff.for_package_id or handoff.after_package_id
            if handoff.pk in self.from_plan or (self.first_plan and for_work):
                handoff.state, handoff.cancelled_at = HandoffState.CANCELLED, self.now

    def has_changed(self, handoff: Handoff) -> bool:
        return self.was[handoff.pk] != self._values(handoff)

    @staticmethod
    def _values(handoff: Handoff) -> tuple[object, ...]:
        return tuple(getattr(handoff, field) for field in FIELDS)

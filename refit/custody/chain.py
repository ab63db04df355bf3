"""The chain of custody of one piece: every stay and every way, one after the other, without a hole.

Pure reckoning over handoffs already read. What the record cannot know (who had a piece before its
first handoff, that a place was corrected by hand) is said, not guessed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from refit.work.models import Piece, Place, Vendor

from .models import Carrier, Handoff, HandoffState
from .services import NOT_RECORDED

OURS = "our crew"


@dataclass(frozen=True)
class Held:
    """One stay (``handoff`` is None) or one way. ``until`` None: it lasts.

    ``condition`` and ``parts`` are those noted when it began; ``note`` says what does not fit.
    """

    where: str
    custodian: str
    since: datetime | None
    until: datetime | None
    condition: str = ""
    parts: int | None = None
    note: str = ""
    handoff: Handoff | None = None


def keeper(place: Place) -> str:
    """Who answers for what stands there."""
    return place.vendor.name if place.vendor is not None else OURS


def carried_by(handoff: Handoff) -> str:
    """Who answers for it on the way."""
    match handoff.carrier:
        case Carrier.CREW:
            return f"{OURS}, driving"
        case Carrier.HAULIER:
            return "a haulier"
        case _:
            ends: tuple[Vendor | None, ...] = (handoff.destination.vendor, handoff.origin.vendor)
            return next((vendor.name for vendor in ends if vendor is not None), OURS)


def chain(piece: Piece, handoffs: Iterable[Handoff]) -> list[Held]:
    """From the first known stay to the one that lasts, the oldest first."""
    went = sorted(
        (row for row in handoffs if row.sent_at is not None), key=lambda row: (row.sent_at, row.pk)
    )
    held: list[Held] = []
    place: Place | None = went[0].origin if went else piece.place
    since = None if went else piece.since
    condition, parts = "", None
    for row in went:
        note = ""
        if place is not None and place.pk != row.origin_id:
            note = f"The record was corrected by hand: it left from {row.origin}."
        where = place or row.origin
        held.append(
            Held(where.name, keeper(where), since, row.sent_at, condition, parts, note=note)
        )
        back = row.cancelled_at is not None
        ended = row.cancelled_at or row.received_at
        said = "Nobody noted when it left." if row.sent_by == NOT_RECORDED else ""
        held.append(
            Held(
                f"{row.origin} → {row.destination}",
                carried_by(row),
                row.sent_at,
                ended,
                row.sent_condition,
                row.sent_parts,
                note="It turned back." if back else row.say_parts() or said,
                handoff=row,
            )
        )
        place, since = (row.origin if back else row.destination), ended
        condition = "" if back else row.received_condition
        parts = None if back else row.received_parts
    if went and went[-1].state == HandoffState.UNDER_WAY:
        return held
    if went and place is not None and piece.place is not None and piece.place_id != place.pk:
        held.append(
            Held(
                place.name, keeper(place), since, piece.since, condition, parts,
                note=f"The record was corrected by hand: it is at {piece.place}.",
            )
        )  # fmt: skip
        place, since, condition, parts = piece.place, piece.since, "", None
    if piece.fitted:
        if went and place is not None:
            held.append(Held(place.name, keeper(place), since, piece.since, condition, parts))
        held.append(Held("on the boat", OURS, piece.since, None))
    elif place is not None:
        held.append(Held(place.name, keeper(place), since, None, condition, parts))
    return held


def say_to_confirm(handoff: Handoff) -> str:
    """Whose word is still missing at which end, as a sentence; empty if nobody's is."""
    leaves, arrives = keeper(handoff.origin), keeper(handoff.destination)
    match handoff.state:
        case HandoffState.PLANNED | HandoffState.READY:
            return (
                f"Still to be confirmed: that it left ({leaves}) and that it arrived ({arrives})."
            )
        case HandoffState.UNDER_WAY:
            return f"Still to be confirmed: that it arrived ({arrives})."
        case HandoffState.RECEIVED if handoff.sent_by == NOT_RECORDED:
            return f"Nobody confirmed that it left {handoff.origin}."
    return ""

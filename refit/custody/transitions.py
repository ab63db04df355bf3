"""The life of a handoff: one table of what may be done in which state, and where that leads.

Only the table and what is said when a move is not in it. What a move does to pieces and packages
is in ``services.py``.
"""

from __future__ import annotations

from enum import StrEnum

from .models import Handoff, HandoffState


class Act(StrEnum):
    """What somebody can do with a handoff."""

    PROMISE = "promise a date"
    SAY_READY = "say that it is ready"
    TAKE_BACK_READY = "take back that it is ready"
    SEND = "send it"
    RECEIVE = "receive it"
    CANCEL = "cancel the handoff"


MOVES: dict[Act, dict[HandoffState, HandoffState]] = {
    Act.PROMISE: {HandoffState.PLANNED: HandoffState.PLANNED},
    Act.SAY_READY: {HandoffState.PLANNED: HandoffState.READY},
    Act.TAKE_BACK_READY: {HandoffState.READY: HandoffState.PLANNED},
    Act.SEND: {
        HandoffState.PLANNED: HandoffState.UNDER_WAY,
        HandoffState.READY: HandoffState.UNDER_WAY,
    },
    # In practice a piece often turns up on the bench and nobody said that it left: received from
    # "planned" and "ready" closes the gap (see services.receive).
    Act.RECEIVE: {
        HandoffState.PLANNED: HandoffState.RECEIVED,
        HandoffState.READY: HandoffState.RECEIVED,
        HandoffState.UNDER_WAY: HandoffState.RECEIVED,
    },
    # Cancelled on the road means that it turned back: the piece is at its origin again.
    Act.CANCEL: {
        HandoffState.PLANNED: HandoffState.CANCELLED,
        HandoffState.READY: HandoffState.CANCELLED,
        HandoffState.UNDER_WAY: HandoffState.CANCELLED,
    },
}


class IllegalMove(Exception):
    """Raised instead of doing something that the table or the record forbids; nothing changed.

    Its text is a sentence for the person who tried.
    """


def allowed(act: Act, state: str) -> bool:
    return state in MOVES[act]


def states_before(act: Act) -> list[HandoffState]:
    return list(MOVES[act])


def say_why_not(act: Act, handoff: Handoff) -> str:
    """Why ``act`` is not possible in the state the handoff is in, as a sentence."""
    name = handoff.piece.name
    match HandoffState(handoff.state):
        case HandoffState.RECEIVED:
            return f"{name} has already been received at {handoff.destination}."
        case HandoffState.CANCELLED:
            return f"This handoff of {name} was cancelled."
        case HandoffState.UNDER_WAY:
            return f"{name} is already under way to {handoff.destination}."
        case HandoffState.READY if act is Act.SAY_READY:
            by = f" by {handoff.ready_by}" if handoff.ready_by else ""
            return f"{name} was already said to be ready{by}."
        case HandoffState.READY:
            return f"{name} is said to be ready. Take that back first, then {act}."
        case HandoffState.PLANNED if act is Act.TAKE_BACK_READY:
            return f"{name} is not marked as ready any more."
    return f"With {name} you cannot {act} now."

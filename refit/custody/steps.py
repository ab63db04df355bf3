"""The steps that the services are made of: lock, check, change one row, put the piece somewhere.

Each expects to run inside the transaction of a service. What belongs together as one act, and the
journal, is in ``services.py``.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from refit.work.models import Piece, Place
from refit.work.services.locks import lock_pieces

from .models import Handoff, HandoffState
from .transitions import MOVES, Act, IllegalMove, allowed, say_why_not


def lock(handoff: Handoff) -> Piece:
    """The piece, locked for this transaction, and ``handoff`` as it is now.

    All pieces of the refit are locked with it: what is done to one may finish a package that holds
    another, so acts on one refit happen one after the other.
    """
    piece = lock_pieces(handoff.refit_id)[handoff.piece_id]
    fresh = Handoff.objects.get(pk=handoff.pk)
    for field in Handoff._meta.concrete_fields:
        setattr(handoff, field.attname, getattr(fresh, field.attname))
    handoff.piece = piece
    return piece


def check_state(handoff: Handoff, act: Act) -> None:
    if not allowed(act, handoff.state):
        raise IllegalMove(say_why_not(act, handoff))


def move(handoff: Handoff, act: Act, **changes: Any) -> None:
    """Take ``handoff`` through the table; the row must still be in the state we read."""
    check_state(handoff, act)
    was = HandoffState(handoff.state)
    changes["state"] = MOVES[act][was]
    if not Handoff.objects.filter(pk=handoff.pk, state=was).update(**changes):
        handoff.refresh_from_db(fields=["state"])
        raise IllegalMove(say_why_not(act, handoff))
    for name, value in changes.items():
        setattr(handoff, name, value)


def check_not_under_way(piece: Piece, handoff: Handoff) -> None:
    other = (
        Handoff.objects.filter(piece=piece, state=HandoffState.UNDER_WAY)
        .exclude(pk=handoff.pk)
        .select_related("destination")
        .first()
    )
    if other is not None:
        raise IllegalMove(
            f"{piece.name} is under way to {other.destination}. "
            "Say first that it arrived there, or that it turned back."
        )


def put(piece: Piece, *, place: Place | None, now: datetime) -> None:
    """The piece is at ``place`` from now on, or under way. What is fitted goes with the boat."""
    moved = Piece.objects.filter(pk=piece.pk)
    moved.update(place=place, since=now, fitted=False)
    piece.place, piece.since, piece.fitted = place, now, False
    if piece.is_boat:
        Piece.objects.filter(refit_id=piece.refit_id, fitted=True).update(place=place, since=now)


def whereabouts(handoff: Handoff, piece: Piece) -> dict[str, Any]:
    return {
        "state": handoff.state,
        "place": str(piece.place) if piece.place else None,
        "fitted": piece.fitted,
    }

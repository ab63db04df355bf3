"""The order in which rows are locked, so that two writers never wait for each other.

Pieces first (all of the refit, by their ids), then packages or handoffs, the refit last: `record`
raises its version. Planning keeps the same order when it stores a plan.
"""

from __future__ import annotations

from refit.work.models import Piece


def lock_pieces(refit_id: int) -> dict[int, Piece]:
    """All pieces of the refit by id, with their places, locked until the transaction ends."""
    rows = Piece.objects.select_for_update(of=("self",)).select_related("place")
    return {piece.pk: piece for piece in rows.filter(refit_id=refit_id).order_by("pk")}

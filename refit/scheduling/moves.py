"""The moves that follow from dates: every way a piece must go, with the window for it."""

from __future__ import annotations

from collections.abc import Mapping

from .problem import Piece, Planned, PlannedMove
from .stated import Stated
from .timelines import Stay, first_stay


def stays_of(stated: Stated, piece: Piece, dates: Mapping[str, Planned]) -> list[Stay]:
    """Where the piece is used from now on, in order; the first is where it is now."""
    facts = [(stated.packages[name], planned) for name, planned in stated.facts.items()]
    uses = [
        Stay(planned.start, planned.finish, package.place, name)
        for name, planned in dates.items()
        if name not in stated.facts
        and piece.id in (package := stated.packages[name]).pieces
        and package.place is not None
    ]
    uses.sort(key=lambda stay: (stay.start, stay.end))
    return [first_stay(piece, facts, stated.now), *uses]


def plan_moves(stated: Stated, dates: Mapping[str, Planned]) -> tuple[PlannedMove, ...]:
    """Moves of all pieces, by departure; at the end each goes home if it has one.

    A piece leaves when the last use at a place is over, even if several shared it there.
    """
    moves: list[PlannedMove] = []
    for piece in stated.pieces.values():
        stays = stays_of(stated, piece, dates)
        last = stays[0]  # of the stays at the place where the piece is: the one that ends last
        for stay in stays[1:]:
            if stay.place != last.place:
                moves.append(_move(stated, piece, last, stay))
                last = stay
            elif stay.end >= last.end:
                last = stay
        if piece.returns_to not in (None, last.place):
            assert piece.returns_to is not None
            depart, arrive = stated.passage(
                last.place, piece.returns_to, last.end, towed=piece.towed
            )
            moves.append(
                PlannedMove(
                    piece=piece.id,
                    origin=last.place,
                    destination=piece.returns_to,
                    free_at=last.end,
                    depart=depart,
                    arrive=arrive,
                    leave_by=None,
                    needed_at=None,
                    after_package=last.package,
                    for_package=None,
                )
            )
    return tuple(sorted(moves, key=lambda move: move.depart))


def _move(stated: Stated, piece: Piece, last: Stay, stay: Stay) -> PlannedMove:
    depart, arrive = stated.passage(last.place, stay.place, last.end, towed=piece.towed)
    leave_by, _ = stated.last_passage(last.place, stay.place, stay.start, towed=piece.towed)
    return PlannedMove(
        piece=piece.id,
        origin=last.place,
        destination=stay.place,
        free_at=last.end,
        depart=depart,
        arrive=arrive,
        leave_by=leave_by,
        needed_at=stay.start,
        after_package=last.package,
        for_package=stay.package,
    )

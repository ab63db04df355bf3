"""The part of `check` that follows each piece: one place at a time, in time at the next one.

It also says which moves must follow from the dates, and compares them with those of the plan.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from .breaches import Breach, Case, Rule, first_way, last_way
from .problem import Minutes, Piece, Plan, PlannedMove


@dataclass(frozen=True, slots=True)
class _Use:
    """A piece is needed at ``place`` during ``[start, end)``."""

    start: Minutes
    end: Minutes
    place: str
    package: str


@dataclass(frozen=True, slots=True)
class _Stay:
    """Uses in a row at one place. The first has no uses if nobody uses the piece now."""

    place: str
    ready: Minutes
    uses: tuple[_Use, ...]

    @property
    def needed(self) -> Minutes:
        return min(use.start for use in self.uses)

    def ending_last(self) -> list[str | None]:
        return [use.package for use in self.uses if use.end == self.ready] or [None]

    def starting_first(self) -> list[str | None]:
        return [use.package for use in self.uses if use.start == self.needed]


def _uses(case: Case, piece: Piece, *, started: bool) -> list[_Use]:
    """Who uses the piece: those that have not started, or those that have and are not over."""
    found = [
        _Use(planned.start, planned.finish, package.place or "", package.id)
        for package, planned in case.packages
        if piece.id in package.pieces
        and (package.progress is not None) == started
        and (not started or planned.finish > case.problem.now)
    ]
    return sorted(found, key=lambda use: (use.start, use.end))


def _now(case: Case, piece: Piece) -> _Stay:
    """Where the piece is: with the begun work that ends last, else where it is said to be."""
    running = _uses(case, piece, started=True)
    if not running:
        return _Stay(piece.place, max(piece.free_from, case.problem.now), ())
    end = max(use.end for use in running)
    last = max((use for use in running if use.end == end), key=lambda use: use.package)
    ready = max(end, piece.free_from)
    return _Stay(last.place, ready, (_Use(last.start, ready, last.place, last.package),))


def _stays(case: Case, piece: Piece) -> list[_Stay]:
    """The piece's places in order, beginning with where it is now."""
    stays = [_now(case, piece)]
    for use in _uses(case, piece, started=False):
        stay = stays[-1]
        if use.place == stay.place:
            stays[-1] = _Stay(use.place, max(stay.ready, use.end), (*stay.uses, use))
        else:
            stays.append(_Stay(use.place, use.end, (use,)))
    return stays


def check_pieces(case: Case) -> Iterator[Breach]:
    for piece in case.problem.pieces:
        yield from _check_uses(case, piece)
        stays = _stays(case, piece)
        for stay, then in pairwise(stays):
            way = first_way(
                case.place_spans(stay.place),
                case.place_spans(then.place),
                _travel(case, piece, stay.place, then.place),
                stay.ready,
            )
            if way is None or way[1] > then.needed:
                yield Breach(
                    Rule.PIECE,
                    tuple(use.package for use in (*stay.uses[-1:], *then.uses[:1])),
                    f"{piece.id}, free at {stay.place} at {stay.ready}, cannot be at {then.place}"
                    f" by {then.needed} for {then.uses[0].package}",
                )


def _check_uses(case: Case, piece: Piece) -> Iterator[Breach]:
    """No use before the piece is there to be used, no two uses that exclude each other."""
    decided = _uses(case, piece, started=False)
    at_now = _now(case, piece)
    free = at_now.ready if at_now.uses else piece.free_from
    for use in decided:
        serves_too = piece.shared and at_now.uses and use.place == at_now.place
        if use.start < free and not serves_too:
            yield Breach(
                Rule.PIECE,
                (use.package,),
                f"{use.package} uses {piece.id} at {use.start}, before it is free at {free}",
            )
    for index, use in enumerate(decided):
        for other in decided[:index]:
            together = piece.shared and use.place == other.place
            same_minute = use.start == other.start and use.place != other.place
            if not together and ((use.start < other.end and other.start < use.end) or same_minute):
                yield Breach(
                    Rule.PIECE,
                    (other.package, use.package),
                    f"{piece.id} is used by {other.package} at {other.place} until {other.end}"
                    f" and by {use.package} at {use.place} from {use.start}",
                )


def _travel(case: Case, piece: Piece, origin: str, destination: str) -> Minutes:
    for travel in case.problem.travels:
        if (travel.origin, travel.destination) == (origin, destination):
            if piece.towed and travel.towed is not None:
                return travel.towed
            return travel.minutes
    raise AssertionError(f"a plan was made without a travel time from {origin} to {destination}")


def check_moves(case: Case, plan: Plan) -> Iterator[Breach]:
    for piece in case.problem.pieces:
        stays = _stays(case, piece)
        home = piece.returns_to
        if home is not None and home != stays[-1].place:
            stays.append(_Stay(home, 0, ()))
        moves = [move for move in plan.moves if move.piece == piece.id]
        moves.sort(key=lambda move: (move.free_at, move.depart))
        places = [stay.place for stay in stays]
        planned = [(move.origin, move.destination) for move in moves]
        if planned != list(pairwise(places)):
            yield Breach(
                Rule.MOVE,
                (),
                f"{piece.id} must go {' - '.join(places)}, but its moves are"
                f" {', '.join(f'{origin} - {there}' for origin, there in planned) or 'none'}",
            )
            continue
        for stay, then, move in zip(stays, stays[1:], moves, strict=False):
            yield from _check_move(case, piece, stay, then, move)
    pieces = {piece.id for piece in case.problem.pieces}
    for move in plan.moves:
        if move.piece not in pieces:
            yield Breach(Rule.MOVE, (), f"a move is planned for the unknown piece {move.piece}")


def _check_move(
    case: Case, piece: Piece, stay: _Stay, then: _Stay, move: PlannedMove
) -> Iterator[Breach]:
    origin, destination = case.place_spans(stay.place), case.place_spans(then.place)
    travel = _travel(case, piece, stay.place, then.place)
    needed = then.needed if then.uses else None
    latest = None if needed is None else last_way(origin, destination, travel, needed)
    expected = {
        "is free": (stay.ready, move.free_at),
        "leaves and arrives": (
            first_way(origin, destination, travel, stay.ready),
            (move.depart, move.arrive),
        ),
        "is needed": (needed, move.needed_at),
        "must leave": (None if latest is None else latest[0], move.leave_by),
    }
    way = f"the move of {move.piece} from {move.origin} to {move.destination}"
    for what, (true, said) in expected.items():
        if true != said:
            yield Breach(Rule.MOVE, (), f"{way}: the piece {what} at {true}, not at {said}")
    if move.after_package not in stay.ending_last():
        yield Breach(Rule.MOVE, (), f"{way} does not follow {move.after_package}")
    if move.for_package not in (then.starting_first() if then.uses else [None]):
        yield Breach(Rule.MOVE, (), f"{way} is not for {move.for_package}")

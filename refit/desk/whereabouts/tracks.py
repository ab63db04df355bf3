"""Packing: which of the things in a lane share a track. Intervals in pixels in, numbers out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

Span = tuple[float, float]


def stack(spans: Sequence[Span]) -> list[int]:
    """The lowest free track for each span, taken in the order given. Touching spans may share."""
    tracks: list[list[Span]] = []
    numbers: list[int] = []
    for span in spans:
        number = next((at for at, taken in enumerate(tracks) if _is_free(taken, span)), len(tracks))
        if number == len(tracks):
            tracks.append([])
        tracks[number].append(span)
        numbers.append(number)
    return numbers


def stack_groups(groups: Iterable[tuple[Span, int]]) -> list[int]:
    """As `stack`, for things that need several tracks one under the other: their first track."""
    tracks: list[list[Span]] = []
    firsts: list[int] = []
    for span, height in groups:
        first = 0
        while not all(
            at >= len(tracks) or _is_free(tracks[at], span) for at in range(first, first + height)
        ):
            first += 1
        while len(tracks) < first + height:
            tracks.append([])
        for at in range(first, first + height):
            tracks[at].append(span)
        firsts.append(first)
    return firsts


def _is_free(taken: Iterable[Span], span: Span) -> bool:
    return all(span[1] <= other[0] or other[1] <= span[0] for other in taken)


@dataclass(slots=True, eq=False)
class Track:
    """One line of a lane while it is filled. ``captions``: rows of text above it, from its line
    upwards; ``taken``: what stands on the line; ``reaches``: spans of the stays that own it."""

    kind: str
    line_height: float
    block_height: float
    most_captions: int
    taken: list[Span] = field(default_factory=list)
    reaches: list[tuple[float, float, int]] = field(default_factory=list)
    captions: list[list[Span]] = field(default_factory=list)
    y: float = 0.0

    def is_free(self, span: Span, stay: int | None) -> bool:
        """Nothing stands there, and no other piece's line runs through."""
        return _is_free(self.taken, span) and all(
            owner == stay or span[1] <= start or end <= span[0]
            for start, end, owner in self.reaches
        )

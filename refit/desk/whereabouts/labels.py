"""Where the words go: no label over another, none over a block, none outside the picture.

A block's label stands inside it if it fits, beside it if there is room on its track, else above
the track with a leader down to the block; failing all that its code does, and failing that too
the reader has the title of the shape and the list below the picture.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from .shapes import Block, Box, Label
from .text import shorten, text_width
from .tracks import Span, Track

SIZE = 11.0
PLATE_SIZE = 10.0
CAPTION_HEIGHT = 13.0
LONGEST = 150.0
"""No label beside or above a block gets wider than this, in pixels."""
SHORTEST = 60.0
AGAIN = 420.0
"""After so many pixels a long line shows its tag again and a long block its title: enlarged, the
picture is wider than the screen."""
PAD = 4.0
LATE_SIGN = "! "


@dataclass(frozen=True, slots=True)
class Plate:
    """The tag of a piece, wanted where one of its lines begins."""

    stay: int
    piece: int
    hue: int
    tag: str
    name: str
    span: Span
    is_first: bool


def plate_width(text: str) -> float:
    """Of a plate around ``text``: its hole, its point and the margins with it."""
    return text_width(text, PLATE_SIZE) + 19


def place_plates(track: Track, plates: Iterable[Plate], width: float) -> list[Label]:
    """After the beginning of the line, on it, or before the beginning, or in the first gap along
    the line; the whole name if there is room, else the tag alone."""
    placed = []
    for plate in plates:
        whole = f"{plate.tag} {shorten(plate.name, 110, PLATE_SIZE)}".strip()
        for text, anywhere in (
            (whole, False),
            (plate.tag, False),
            (whole, True),
            (plate.tag, True),
        ):
            long = plate_width(text)
            spot = _spot(track, plate, long, width, anywhere)
            if spot is not None:
                track.taken.append(spot)
                box = Box(spot[0], track.y - 7, long, 14)
                placed.append(
                    Label(box, text, PLATE_SIZE, "plate", plate.hue, owner=str(plate.piece))
                )
                break
        placed += _plates_again(track, plate, whole, width)
    return placed


def _plates_again(track: Track, plate: Plate, text: str, width: float) -> list[Label]:
    long = plate_width(text)
    placed: list[Label] = []
    x = plate.span[0] + AGAIN
    while x + long + AGAIN / 3 < min(plate.span[1], width):
        if track.is_free((x, x + long), plate.stay):
            track.taken.append((x, x + long))
            box = Box(x, track.y - 7, long, 14)
            placed.append(Label(box, text, PLATE_SIZE, "plate", plate.hue, owner=str(plate.piece)))
            x += AGAIN
        else:
            x += 20
    return placed


def edge_plate(plate: Plate, room: float, y: float) -> Label:
    """The plate of a line in the column of the names, ``room`` pixels wide."""
    text = shorten(f"{plate.tag} {plate.name}".strip(), room - 30, PLATE_SIZE) or plate.tag
    long = plate_width(text)
    box = Box(max(room - long - 2, 0.0), y - 7, long, 14)
    return Label(box, text, PLATE_SIZE, "plate", plate.hue, owner=str(plate.piece))


def _spot(track: Track, plate: Plate, long: float, width: float, anywhere: bool) -> Span | None:
    start, end = plate.span
    if anywhere:
        ends = sorted(taken[1] for taken in track.taken if start < taken[1] < end)
        starts = [after + 5 for after in ends]
    else:
        starts = [start + 6, start - 6 - long]
    for x in starts:
        spot = (x, x + long)
        on_line = x < start or spot[1] <= end - 5
        if on_line and x >= 0 and spot[1] <= width and track.is_free(spot, plate.stay):
            return spot
    return None


def place_texts(
    track: Track, blocks: Sequence[tuple[Block, int | None]], width: float
) -> list[Label]:
    """Labels of the blocks of one track (each with the stay it stands on), at y relative to it."""
    placed: list[Label] = []
    waiting: list[tuple[Block, int | None]] = []
    for block, stay in sorted(blocks, key=lambda each: each[0].box.x):
        inside = _inside(block, _wording(block), track)
        placed += inside
        if inside:
            continue
        label = None
        if track.kind != "boat":
            label = _beside(block, _wording(block), track, stay, width)
        if label is None:
            waiting.append((block, stay))
        else:
            placed.append(label)
    for block, stay in reversed(waiting):
        code = _sign(block) + block.package.code
        label = (
            _above(block, shorten(_wording(block), LONGEST, SIZE), track, width)
            or _above(block, _squeezed(block, track), track, width)
            or _beside(block, _wording(block), track, stay, width)
            or next(iter(_inside(block, code, track)), None)
            or _above(block, code, track, width)
            or _beside(block, code, track, stay, width)
        )
        if label is not None:
            placed.append(label)
    return placed


def _sign(block: Block) -> str:
    return LATE_SIGN if block.package.late else ""


def _wording(block: Block) -> str:
    return _sign(block) + block.package.title


def _inside(block: Block, text: str, track: Track) -> list[Label]:
    """Within the part that has happened or the part that is planned, wherever it fits (words
    half on ink and half on paper cannot be read); several times in a long block."""
    long = text_width(text, SIZE)
    if track.block_height < SIZE + 2:
        return []
    end = block.hold_x
    border = min(max(block.ink, block.box.x), end)
    placed = []
    for start, stop, inked in ((block.box.x, border, True), (border, end, False)):
        x = start + PAD
        while x + long + PAD <= stop:
            box = Box(x, track.y - SIZE / 2 - 1, long, SIZE + 2)
            placed.append(_label(box, text, "inside", block, inked=inked))
            x += max(AGAIN, long + AGAIN / 2)
    return placed


def _beside(block: Block, text: str, track: Track, stay: int | None, width: float) -> Label | None:
    text = shorten(text, LONGEST, SIZE)
    span = (block.box.right + 4, block.box.right + 4 + text_width(text, SIZE))
    if not text or span[1] + 2 > width or not track.is_free((span[0], span[1] + 3), stay):
        return None
    on_line = any(start < span[1] and span[0] < end for start, end, _ in track.reaches)
    track.taken.append(span)
    box = Box(span[0], track.y - SIZE / 2 - 1, span[1] - span[0], SIZE + 2)
    return _label(box, text, "on line" if on_line and track.kind != "beneath" else "beside", block)


def _above(block: Block, text: str, track: Track, width: float) -> Label | None:
    """In the lowest caption row whose leader meets no text. Called from right to left: what is
    already placed begins further right, so a leader need only stay above what it overlaps."""
    x = block.box.x + 4
    span = (x, x + text_width(text, SIZE))
    reach = (block.box.x, span[1] + 6)
    row = 0
    for number, captions in enumerate(track.captions):
        if any(reach[0] < end and start < reach[1] for start, end in captions):
            row = number + 1
    if not text or row >= track.most_captions or span[1] > width:
        return None
    while len(track.captions) <= row:
        track.captions.append([])
    track.captions[row].append((block.box.x, span[1]))
    top = track.y - track.block_height / 2
    box = Box(x, top - 2 - (row + 1) * CAPTION_HEIGHT, span[1] - span[0], CAPTION_HEIGHT)
    leader = (block.box.x + 1, box.y + 2, top)
    return _label(box, text, "above", block, leader=leader)


def _squeezed(block: Block, track: Track) -> str:
    """The title cut to what is free before the next leader on the right; "" if too little."""
    starts = [start for row in track.captions for start, end in row if end > block.box.x]
    room = min(starts, default=block.box.x + LONGEST) - block.box.x - 10
    return shorten(_wording(block), room, SIZE) if room >= SHORTEST else ""


def _label(
    box: Box,
    text: str,
    kind: str,
    block: Block,
    *,
    inked: bool = False,
    leader: tuple[float, float, float] | None = None,
) -> Label:
    return Label(
        box,
        text,
        SIZE,
        kind,
        block.hue,
        inked=inked,
        late=bool(block.package.late),
        owner=block.package.code,
        leader=leader,
    )

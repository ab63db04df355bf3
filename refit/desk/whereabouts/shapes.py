"""What is placed on the paper: shapes in pixels, ready to be drawn. Nothing is decided here."""

from __future__ import annotations

from dataclasses import dataclass

from .rows import LegRow, PackageRow, PieceRow, PlaceRow
from .scale import Scale, Shade, Tick


@dataclass(frozen=True, slots=True)
class Box:
    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        return self.x + self.width

    @property
    def bottom(self) -> float:
        return self.y + self.height

    @property
    def middle(self) -> float:
        return self.y + self.height / 2

    def meets(self, other: Box) -> bool:
        """Shares an area (touching edges do not count)."""
        near = 1e-6
        return (
            self.x < other.right - near
            and other.x < self.right - near
            and self.y < other.bottom - near
            and other.y < self.bottom - near
        )


@dataclass(frozen=True, slots=True)
class Label:
    """A text in its box.

    ``kind``: "inside" a block, "beside" it, "on line" beside it (the line is cut), "above" it with
    a leader, the "plate" of a piece, in the "ruler", on a "flag". ``leader``: x, top and bottom of
    the line to its block. ``owner``: code of the package or id of the piece.
    """

    box: Box
    text: str
    size: float
    kind: str
    hue: int = 0
    inked: bool = False
    late: bool = False
    owner: str = ""
    leader: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class Block:
    """One package. ``ink``: x up to which it has happened; the rest is still a plan."""

    package: PackageRow
    box: Box
    hold_x: float
    ink: float
    hue: int
    piece: int | None

    @property
    def work(self) -> Box:
        return Box(self.box.x, self.box.y, self.hold_x - self.box.x, self.box.height)

    @property
    def hold(self) -> Box | None:
        if self.hold_x >= self.box.right:
            return None
        return Box(self.hold_x, self.box.y, self.box.right - self.hold_x, self.box.height)


@dataclass(frozen=True, slots=True)
class Sleeve:
    """The mark on a further piece that a package needs, tied to the block at ``tie``."""

    package: PackageRow
    box: Box
    tie: tuple[float, float, float]
    hue: int
    piece: int
    ink: float


@dataclass(frozen=True, slots=True)
class Line:
    """A piece waiting or being worked on at one place, from ``x0`` to ``x1`` at ``y``."""

    stay: int
    piece: int
    hue: int
    is_boat: bool
    x0: float
    x1: float
    y: float
    ink: float
    band: Box | None = None


@dataclass(frozen=True, slots=True)
class Slant:
    """A move. An end whose line is not in the picture is a stub (``open``/``filled`` False)."""

    way: LegRow
    number: int
    hue: int
    is_boat: bool
    x0: float
    y0: float
    x1: float
    y1: float
    leaves: bool = True
    arrives: bool = True


@dataclass(frozen=True, slots=True)
class Branch:
    """Where a piece's line leaves the boat's (``off``) or joins it again, at ``x``."""

    stay: int
    piece: int
    hue: int
    x: float
    y_boat: float
    y_piece: float
    off: bool
    inked: bool


@dataclass(frozen=True, slots=True)
class Lane:
    place: PlaceRow
    y: float
    height: float
    shades: tuple[Shade, ...]
    names: tuple[str, ...]
    whose: str
    boat: Label | None = None
    """The boat's plate, in the lane where its line begins."""


@dataclass(frozen=True, slots=True)
class Flag:
    """A pennant on a staff through all lanes: "today", "wanted" or "planned"."""

    kind: str
    x: float
    y: float
    late: bool = False


@dataclass(frozen=True, slots=True)
class Picture:
    scale: Scale
    width: float
    height: float
    head: float
    lanes: tuple[Lane, ...]
    lines: tuple[Line, ...]
    slants: tuple[Slant, ...]
    branches: tuple[Branch, ...]
    blocks: tuple[Block, ...]
    sleeves: tuple[Sleeve, ...]
    labels: tuple[Label, ...]
    flags: tuple[Flag, ...]
    months: tuple[Tick, ...]
    weeks: tuple[Tick, ...]
    pieces: tuple[PieceRow, ...]
    hues: dict[int, int]

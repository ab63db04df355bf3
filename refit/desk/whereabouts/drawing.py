"""Placed shapes to SVG. Colours, weights and dashes are classes, styled by `whereabouts.css`.

Every word from the refit goes through `html.escape`; only this module and `markup` build it by
hand, because four hundred packages are some thousand elements. What a shape says: `words`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape

from django.utils.safestring import SafeString, mark_safe

from refit.work.wording import say_day

from .lanes import RING
from .layout import NAMES
from .markup import element, line, number, rect, title
from .order import HUES, QUIET
from .rows import Rows
from .shapes import Block, Box, Branch, Flag, Label, Lane, Line, Picture, Slant, Sleeve
from .words import say_package, say_way


def colour(hue: int) -> str:
    """Classes of a colour number: the boat's, one of `HUES`, the same with double lines, quiet."""
    if hue == QUIET:
        return f"h{HUES + 1}"
    return f"h{hue}" if hue <= HUES else f"h{hue - HUES} twin"


def patterns() -> SafeString:
    """Hatches in the colour of each piece, and the dots of a closure: once a page."""
    made = [
        f'<pattern id="wa-hatch-h{hue}" class="h{hue}" width="5" height="5" '
        'patternTransform="rotate(45)" patternUnits="userSpaceOnUse">'
        '<rect class="wa-hatch-ground" width="5" height="5"/>'
        '<rect class="wa-hatch-line" width="1.6" height="5"/></pattern>'
        for hue in range(HUES + 2)
    ]
    made.append(
        '<pattern id="wa-dots" width="7" height="7" patternUnits="userSpaceOnUse">'
        '<circle class="wa-dot" cx="2" cy="2" r="1"/>'
        '<circle class="wa-dot" cx="5.5" cy="5.5" r="1"/></pattern>'
    )
    return mark_safe(f"<defs>{''.join(made)}</defs>")


# --- shapes -----------------------------------------------------------------------------------


def draw_block(block: Block, words: str = "") -> str:
    """Work solid as far as it has happened, on paper where it is planned; hold hatched."""
    corner = min(3.0, block.work.width / 2)
    parts = [title(words)] if words else []
    if block.hold is not None:
        parts.append(
            rect(
                "wa-hold",
                block.hold,
                fill=f"url(#wa-hatch-{colour(block.hue).split()[0]})",
                rx=min(3.0, block.hold.width / 2),
            )
        )
    parts.append(rect("wa-plan", block.work, rx=corner))
    inked = min(block.ink, block.hold_x) - block.box.x
    if inked > 0:
        parts.append(
            rect(
                "wa-ink",
                Box(block.box.x, block.box.y, inked, block.box.height),
                rx=min(corner, inked / 2),
            )
        )
    if block.package.drives:
        parts.append(rect("wa-rim", block.box, rx=corner))
    parts.append(rect("wa-focus", _around(block.box, 3), rx=5))
    return "".join(parts)


def _around(box: Box, by: float) -> Box:
    return Box(box.x - by, box.y - by, box.width + 2 * by, box.height + 2 * by)


def draw_sleeve(sleeve: Sleeve) -> str:
    x, top, bottom = sleeve.tie
    return line("wa-tie", x, top, x, bottom) + rect("wa-sleeve", sleeve.box, rx=4)


def draw_line(shape: Line) -> str:
    css = "wa-wait wa-boat" if shape.is_boat else "wa-wait"
    parts = []
    if shape.ink > shape.x0:
        parts.append(line(css, shape.x0, shape.y, shape.ink, shape.y))
    if shape.x1 > shape.ink:
        parts.append(line(f"{css} wa-later", shape.ink, shape.y, shape.x1, shape.y))
    if shape.hue > HUES:
        parts.append(line("wa-core", shape.x0, shape.y, shape.x1, shape.y))
    return "".join(parts)


def draw_slant(slant: Slant) -> str:
    way = slant.way
    css = "wa-move"
    if slant.is_boat:
        css += " wa-boat"
    if not way.recorded:
        css += " wa-guess"
    elif not way.sent:
        css += " wa-later"
    parts = []
    if way.drives:
        casing = "wa-casing wa-boat" if slant.is_boat else "wa-casing"
        parts.append(line(casing, slant.x0, slant.y0, slant.x1, slant.y1))
    parts.append(line(css, slant.x0, slant.y0, slant.x1, slant.y1))
    if slant.hue > HUES:
        parts.append(line("wa-core", slant.x0, slant.y0, slant.x1, slant.y1))
    return "".join(parts)


def draw_rings(slant: Slant) -> str:
    """Open where the piece leaves, filled where it arrives; a sign if it should have left."""
    parts = []
    if slant.leaves:
        parts.append(element("circle", "wa-leaves", cx=slant.x0, cy=slant.y0, r=RING))
    if slant.arrives:
        parts.append(element("circle", "wa-arrives", cx=slant.x1, cy=slant.y1, r=RING))
    if slant.way.late and slant.leaves:
        parts.append(draw_sign(slant.x0, slant.y0 - 10))
    return "".join(parts)


def draw_sign(x: float, y: float) -> str:
    """“!” in a circle: something is late, and no label had room to say so."""
    return (
        element("circle", "wa-sign", cx=x, cy=y, r=5.5)
        + f'<text class="wa-sign-text" x="{number(x)}" y="{number(y + 3.6)}" font-size="10" '
        'text-anchor="middle">!</text>'
    )


def draw_branch(branch: Branch) -> str:
    css = "wa-branch" if branch.inked else "wa-branch wa-later"
    ends = (branch.x, branch.y_boat, branch.x, branch.y_piece)
    return line(css, *ends) + (line("wa-core", *ends) if branch.hue > HUES else "")


def draw_label(label: Label) -> str:
    box = label.box
    baseline = box.middle + label.size * 0.35
    x = box.x
    parts = []
    if label.kind == "plate":
        parts.append(
            element(
                "path",
                "wa-plate",
                d=f"M{number(box.x)} {number(box.middle)}l5 -7H{number(box.right)}v14"
                f"H{number(box.x + 5)}z",
            )
        )
        parts.append(element("circle", "wa-hole", cx=box.x + 6.5, cy=box.middle, r=1.6))
        x = box.x + 12
    if label.leader is not None:
        at, top, bottom = label.leader
        parts.append(line("wa-leader", at, top, at, bottom))
    long = box.width if label.kind != "plate" else box.width - 19 + 2
    if label.kind == "on line":
        parts.append(rect("wa-cut", _around(box, 1)))
    css = f"wa-text wa-in-{label.kind.split()[0]}"
    css += " wa-on-ink" if label.inked else ""
    css += " wa-late" if label.late else ""
    parts.append(
        f'<text class="{css}" x="{number(x)}" y="{number(baseline)}" '
        f'font-size="{number(label.size)}" textLength="{number(long)}" '
        f'lengthAdjust="spacingAndGlyphs">{escape(label.text)}</text>'
    )
    return "".join(parts)


def draw_flag(flag: Flag, bottom: float) -> str:
    """A pennant on a staff: filled for what is planned, hollow for what is wanted."""
    x, y = flag.x, flag.y
    parts = [line(f"wa-staff wa-{flag.kind}", x, y, x, bottom)]
    if flag.kind == "today":
        parts.append(element("circle", "wa-now", cx=x, cy=y + 7, r=4, id="today"))
    else:
        parts.append(
            element(
                "path",
                f"wa-pennant wa-{flag.kind}",
                d=f"M{number(x)} {number(y + 1)}l11 6l-11 6z",
            )
        )
    return "".join(parts)


def draw_lane(lane: Lane, width: float) -> str:
    parts = [rect("wa-lane", Box(0, lane.y, width, lane.height))]
    for shade in lane.shades:
        box = Box(shade.x, lane.y, shade.width, lane.height)
        if not shade.reason:
            parts.append(rect("wa-off", box))
            continue
        days = say_day(shade.first_day)
        if shade.last_day != shade.first_day:
            days += f" to {say_day(shade.last_day)}"
        said = title(f"{lane.place.name} is closed {days}: {shade.reason}")
        parts.append(rect("wa-shut", box, said, fill="url(#wa-dots)"))
    return "".join(parts)


# --- the picture ------------------------------------------------------------------------------


def _content(picture: Picture, rows: Rows) -> Iterator[str]:
    bottom = picture.lanes[-1].y + picture.lanes[-1].height if picture.lanes else picture.head
    for lane in picture.lanes:
        yield draw_lane(lane, picture.width)
    for tick in picture.weeks:
        yield line("wa-week", tick.x, 20, tick.x, bottom)
    for tick in picture.months:
        yield line("wa-month", tick.x, 2, tick.x, bottom)
    for shape in picture.lines:
        if shape.band is not None:
            yield rect("wa-band", shape.band, rx=4)
    for branch in picture.branches:
        yield _of(branch.hue, [branch.piece], draw_branch(branch))
    for slant in picture.slants:
        said = title(say_way(slant.way, rows))
        yield _of(slant.hue, [slant.way.piece], said + draw_slant(slant))
    for shape in picture.lines:
        yield _of(shape.hue, [shape.piece], draw_line(shape))
    for sleeve in picture.sleeves:
        words = title(say_package(sleeve.package, rows))
        yield _of(sleeve.hue, [sleeve.piece], words + draw_sleeve(sleeve))
    for slant in picture.slants:
        said = title(say_way(slant.way, rows))
        yield _of(slant.hue, [slant.way.piece], said + draw_rings(slant))
    spoken = {label.owner for label in picture.labels}
    for block in picture.blocks:
        drawn = draw_block(block, say_package(block.package, rows))
        if block.package.late and block.package.code not in spoken:
            drawn += draw_sign(block.box.x + block.box.width / 2, block.box.middle)
        yield _link(
            block.package.href,
            _of(block.hue, [block.piece, *block.package.pieces], drawn),
            "wa-package",
            f"{block.package.code} {block.package.title}",
        )
    for flag in picture.flags:
        yield draw_flag(flag, bottom)
    yield from _words(picture)


def _words(picture: Picture) -> Iterator[str]:
    hrefs = {str(piece.id): (piece.href, f"{piece.tag} {piece.name}") for piece in picture.pieces}
    pieces = {block.package.code: [block.piece, *block.package.pieces] for block in picture.blocks}
    for label in picture.labels:
        if label.kind == "plate":
            href, name = hrefs[label.owner]
            drawn = _of(label.hue, [int(label.owner)], draw_label(label))
            yield _link(href, drawn, "wa-piece", name, out_of_order=True)
        elif label.owner in pieces:
            yield _of(label.hue, pieces[label.owner], draw_label(label))
        else:
            yield draw_label(label)


def _of(hue: int, pieces: Iterable[int | None], inside: str) -> str:
    known = " ".join(str(piece) for piece in dict.fromkeys(pieces) if piece is not None)
    return f'<g class="{colour(hue)}" data-pieces="{known}">{inside}</g>'


def _link(href: str, inside: str, css: str, words: str, *, out_of_order: bool = False) -> str:
    if not href:
        return inside
    skip = ' tabindex="-1"' if out_of_order else ""
    return f'<a class="{css}" href="{escape(href)}" aria-label="{escape(words)}"{skip}>{inside}</a>'


def _names(picture: Picture) -> Iterator[str]:
    for lane in picture.lanes:
        yield rect("wa-name-lane", Box(0, lane.y, NAMES, lane.height))
        y = lane.y + 19
        for text in lane.names:
            yield (
                f'<text class="wa-name" x="10" y="{number(y)}" font-size="13.5">'
                f"{escape(text)}</text>"
            )
            y += 16
        if lane.boat is not None:
            yield f'<g class="{colour(lane.boat.hue)}">{draw_label(lane.boat)}</g>'
        if lane.whose:
            yield (
                f'<text class="wa-whose" x="10" y="{number(y - 1)}" font-size="11">'
                f"{escape(lane.whose)}</text>"
            )


def draw_names(picture: Picture) -> SafeString:
    """The column of place names, which stays put while the picture is scrolled."""
    return mark_safe(f'<g id="wa-names">{"".join(_names(picture))}</g>')


def draw_picture(picture: Picture, rows: Rows) -> SafeString:
    """Everything but the names: one group, to be shown on screen and again on the print sheet."""
    return mark_safe(f'<g id="wa-all">{"".join(_content(picture, rows))}</g>')


def draw_sheet(picture: Picture, first: float, last: float) -> SafeString:
    """Names and the picture from ``first`` to ``last`` pixels, scaled to one sheet of paper. It
    refers to the groups of `draw_names` and `draw_picture`, which must be on the same page."""
    wide = last - first
    tall = picture.height
    inner = (
        f'<svg x="{number(NAMES)}" y="0" width="{number(wide)}" height="{number(tall)}" '
        f'viewBox="{number(first)} 0 {number(wide)} {number(tall)}"><use href="#wa-all"/></svg>'
    )
    return mark_safe(
        f'<svg class="wa-sheet" viewBox="0 0 {number(NAMES + wide)} {number(tall)}" '
        f'preserveAspectRatio="xMidYMin meet" aria-hidden="true">'
        f'<use href="#wa-names"/>{inner}</svg>'
    )

"""What stands along the time axis: months, weeks, and the flags of today and the launch."""

from __future__ import annotations

from datetime import timedelta

from refit.work.wording import say_count, say_day

from .labels import LATE_SIGN
from .rows import Rows
from .scale import Scale
from .shapes import Box, Flag, Label
from .text import text_width
from .tracks import stack

RULER = 36.0
FLAG_ROW = 19.0
FLAG_SIZE = 11.0
PENNANT = 14.0


def raise_flags(rows: Rows, scale: Scale) -> tuple[tuple[Flag, ...], list[Label], int]:
    """Today, the wanted and the planned launch, each with its day, in as many rows as they need
    (the number returned); the launch says how far it is from the wish."""
    wanted: list[tuple[str, float, str, bool]] = [
        ("today", scale.x(rows.now), f"today, {say_day(rows.today)}", False)
    ]
    if rows.wanted is not None:
        x = scale.x_of_day(rows.wanted + timedelta(days=1))
        wanted.append(("wanted", x, f"launch wanted {say_day(rows.wanted)}", False))
    if rows.launch_at is not None:
        day = rows.day(rows.launch_at)
        days = (day - rows.wanted).days if rows.wanted else 0
        text = f"launch planned {say_day(day)}"
        if days:
            text += f", {say_count(abs(days), 'day')} {'late' if days > 0 else 'early'}"
        wanted.append(("planned", scale.x(rows.launch_at), text, days > 0))
    said = [(LATE_SIGN if late else "") + text for _, _, text, late in wanted]
    spans = []
    for text, (_, x, _, _) in zip(said, wanted, strict=True):
        long = text_width(text, FLAG_SIZE) + PENNANT
        spans.append((x, x + long) if x + long <= scale.width else (x - long, x))
    numbers = stack([(start - PENNANT - 2, end + 6) for start, end in spans])
    flags, labels = [], []
    for (kind, x, _, late), text, span, row in zip(wanted, said, spans, numbers, strict=True):
        y = RULER + row * FLAG_ROW + 2
        flags.append(Flag(kind, x, y, late))
        left = x + PENNANT if span[0] >= x else span[0]
        box = Box(left, y, span[1] - span[0] - PENNANT, 15)
        labels.append(Label(box, text, FLAG_SIZE, "flag", late=late, owner=kind))
    return tuple(flags), labels, max(numbers, default=-1) + 1


def write_ruler(scale: Scale, height: float | None) -> list[Label]:
    """Months and weeks at the top, the weeks again at the bottom of ``height`` pixels (None: not
    there); what has no room before the next is left out."""
    rows = [(scale.month_names(), 3.0, 12.0), (scale.weeks(), 19.0, 10.5)]
    if height is not None:
        rows.append((scale.weeks(), height - 16, 10.5))
    labels = []
    for ticks, y, size in rows:
        for at, tick in enumerate(ticks):
            long = text_width(tick.text, size)
            following = ticks[at + 1].x if at + 1 < len(ticks) else scale.width
            if tick.x + 3 + long + 2 <= following:
                labels.append(Label(Box(tick.x + 3, y, long, 14), tick.text, size, "ruler"))
    return labels

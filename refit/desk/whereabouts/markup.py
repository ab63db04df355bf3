"""Single SVG elements as text. What they stand for is decided in `drawing`."""

from __future__ import annotations

from html import escape

from .shapes import Box


def number(value: float) -> str:
    """At most one decimal: a tenth of a pixel is enough, and keeps the page small."""
    return f"{value:.1f}".removesuffix(".0")


def element(name: str, css: str = "", inside: str = "", **attributes: float | str) -> str:
    """One element; attributes are numbers or trusted words of this module, ``_`` for ``-``."""
    parts = [name]
    if css:
        parts.append(f'class="{css}"')
    for key, value in attributes.items():
        text = value if isinstance(value, str) else number(value)
        parts.append(f'{key.rstrip("_").replace("_", "-")}="{text}"')
    opening = " ".join(parts)
    return f"<{opening}>{inside}</{name}>" if inside else f"<{opening}/>"


def rect(css: str, box: Box, inside: str = "", **attributes: float | str) -> str:
    return element(
        "rect",
        css,
        inside,
        x=box.x,
        y=box.y,
        width=max(box.width, 0.0),
        height=box.height,
        **attributes,
    )


def line(css: str, x0: float, y0: float, x1: float, y1: float) -> str:
    return element("line", css, x1=x0, y1=y0, x2=x1, y2=y1)


def title(text: str) -> str:
    return f"<title>{escape(text)}</title>"

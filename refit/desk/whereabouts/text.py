"""How wide a text is, near enough to place it before a browser has seen it.

Advance widths in 1/1000 of the type size, measured from Liberation Sans Regular 2, which has the
widths of Arial by design; `whereabouts.css` asks for that family. A reader without it still gets
no overlap: every label is drawn with ``textLength`` set to the width reckoned here.
"""

from __future__ import annotations

_WIDTHS = {
    191: "'",
    222: "ijl‘’",
    260: "|",
    278: " !,./:;I[\\]ft·ÍÌÎÏíìîï",
    333: "()-`r²³“”¡",
    334: "{}",
    355: '"',
    389: "*",
    400: "°",
    469: "^",
    500: "Jcksvxyzç",
    549: "±",
    556: "#$0123456789?L_abdeghnopqu–«»äöüåéèêëàâáãñóòôõúùû",
    576: "µ",
    584: "+<=>~×",
    611: "FTZ¿ßø",
    667: "&ABEKPSVXYÄÅÉÈÊËÀÂÁÃ",
    722: "CDHNRUwÜÇÑÚÙÛ",
    778: "GOQÖØÓÒÔÕ",
    833: "Mm",
    834: "½¼¾",
    889: "%æ",
    944: "Wœ",
    1000: "—…ÆŒ→",
    1015: "@",
}
_WIDTH_OF = {character: width for width, characters in _WIDTHS.items() for character in characters}
_UNKNOWN = 1000
"""A character outside the table (another script) is taken to be a full em wide."""


def text_width(text: str, size: float) -> float:
    """Width of one line of ``text`` in pixels at ``size`` pixels."""
    return sum(_WIDTH_OF.get(character, _UNKNOWN) for character in text) * size / 1000


def shorten(text: str, width: float, size: float) -> str:
    """``text`` if it fits into ``width`` pixels, else as many whole words as do, and “…”.

    A first word that is too long is cut; "" if not even that leaves three letters.
    """
    if text_width(text, size) <= width:
        return text
    words = text.split()
    for count in range(len(words) - 1, 0, -1):
        shorter = " ".join(words[:count]).rstrip(",;:–-(") + "…"
        if text_width(shorter, size) <= width:
            return shorter
    word = words[0] if words else ""
    while len(word) > 3:
        word = word[:-1]
        if text_width(word + "…", size) <= width:
            return word + "…"
    return ""


def wrap(text: str, width: float, size: float, lines: int) -> tuple[str, ...]:
    """``text`` in at most ``lines`` lines of ``width`` pixels, the last one shortened."""
    made: list[str] = []
    words = text.split()
    while words and len(made) < lines - 1:
        count = 1
        while count < len(words) and text_width(" ".join(words[: count + 1]), size) <= width:
            count += 1
        made.append(shorten(" ".join(words[:count]), width, size))
        words = words[count:]
    if words:
        made.append(shorten(" ".join(words), width, size))
    return tuple(made)

"""The colours of the picture can be read, by everybody, in light and in dark.

Contrast is that of WCAG 2.2 (W3C Recommendation, definition of contrast ratio): 4.5 for words
(1.4.3), 3 for lines and marks against what they lie on (1.4.11). How far two colours are apart is
measured in CIE 1976 L*a*b*, after simulating the three colour vision deficiencies at full severity
with the matrices of Machado, Oliveira and Fernandes, "A Physiologically-based Model for Simulation
of Color Vision Deficiency", IEEE TVCG 15 (2009), doi 10.1109/TVCG.2009.113. Twenty units are our
own choice: a difference nobody has to look for.
"""

from __future__ import annotations

import math
import re
from itertools import combinations
from pathlib import Path

import pytest
from django.conf import settings

CSS = Path(settings.BASE_DIR) / "refit" / "static" / "css" / "whereabouts.css"


def tokens(dark: bool) -> dict[str, str]:
    roots = re.findall(r":root \{(.*?)\}", CSS.read_text(), re.DOTALL)
    return dict(re.findall(r"--wa-([\w-]+): (#[0-9a-f]{6});", roots[1 if dark else 0]))


Triple = tuple[float, float, float]
VISION: dict[str, tuple[Triple, Triple, Triple]] = {
    "normal": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "protan": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deutan": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritan": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}


def times(matrix: tuple[Triple, Triple, Triple], values: Triple) -> Triple:
    one, two, three = (sum(a * b for a, b in zip(row, values, strict=True)) for row in matrix)
    return one, two, three


def linear(colour: str) -> Triple:
    """Linear light of an sRGB colour (IEC 61966-2-1)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else float(((part + 0.055) / 1.055) ** 2.4)
        for part in parts
    )
    return red, green, blue


def luminance(colour: str) -> float:
    red, green, blue = linear(colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def lab(light: Triple) -> Triple:
    """CIE 1976 L*a*b* of linear sRGB, white D65 (CIE 15)."""
    red, green, blue = (min(max(part, 0.0), 1.0) for part in light)
    to_xyz = ((0.4124, 0.3576, 0.1805), (0.2126, 0.7152, 0.0722), (0.0193, 0.1192, 0.9505))
    x, y, z = (
        value ** (1 / 3) if value > (6 / 29) ** 3 else value * (29 / 6) ** 2 / 3 + 4 / 29
        for value in (
            each / white
            for each, white in zip(
                times(to_xyz, (red, green, blue)), (0.9505, 1.0, 1.089), strict=True
            )
        )
    )
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


@pytest.mark.parametrize("dark", [False, True])
def test_words_on_ink_and_lines_on_their_lane_can_be_read(dark: bool) -> None:
    known = tokens(dark)
    for hue in range(9):
        ink = known[f"c{hue}"]
        assert contrast(ink, known["on"]) >= 4.5, f"words on hue {hue}"
        assert contrast(ink, known["lane"]) >= 3, f"lines of hue {hue}"
    for word in ("ink", "quiet", "rust"):
        assert contrast(known[word], known["lane"]) >= 4.5, word


def test_the_measure_gives_the_known_extremes() -> None:
    assert round(contrast("#000000", "#ffffff"), 2) == 21
    assert contrast("#777777", "#777777") == 1


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("vision", VISION)
def test_no_two_pieces_look_alike_to_anybody(vision: str, dark: bool) -> None:
    known = tokens(dark)
    seen = {hue: lab(times(VISION[vision], linear(known[f"c{hue}"]))) for hue in range(8)}
    for one, other in combinations(seen, 2):
        apart = math.dist(seen[one], seen[other])
        assert apart >= 20, f"hues {one} and {other} are {apart:.1f} apart"


def test_the_lightness_of_white_is_a_hundred() -> None:
    lightness, a, b = lab(linear("#ffffff"))
    assert lightness == pytest.approx(100, abs=0.01)
    assert (a, b) == pytest.approx((0, 0), abs=0.1)

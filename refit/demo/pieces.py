"""The pieces: the boat, and what comes off it. All invented."""

from __future__ import annotations

from refit.interchange.document import PieceRow

from .cast import BOOTH, GLASS, LOFT, MOULD, SHED
from .clock import FRI, MON, THU, TUE, WED, DemoClock


def piece(
    tag: str,
    name: str,
    *,
    place: str | None = SHED,
    since: str | None = None,
    parts: int = 1,
    travels_with: str = "",
    size: tuple[str | None, str | None, str | None] = (None, None, None),
    weight: str | None = None,
    is_boat: bool = False,
    note: str = "",
) -> PieceRow:
    return {
        "tag": tag,
        "name": name,
        "is_boat": is_boat,
        "shared": is_boat,
        "place": place,
        "fitted": False,
        "since": since,
        "returns_to": None if is_boat else SHED,
        "parts": parts,
        "travels_with": travels_with,
        "length_m": size[0],
        "width_m": size[1],
        "height_m": size[2],
        "weight_kg": weight,
        "note": note,
    }


def pieces(clock: DemoClock) -> list[PieceRow]:
    """Where each piece is on Wednesday of week 6; `story` tells how it got there."""
    return [
        piece("ST-01", "Sallow Tern", since=clock.at(0, MON, "09:00"), is_boat=True),
        piece(
            "ST-02",
            "Top frame",
            place=BOOTH,
            since=clock.at(4, TUE, "10:40"),
            travels_with="14 bolts in bag 7",
            size=("2.900", "2.300", "1.100"),
            weight="38.00",
        ),
        piece(
            "ST-03",
            "Bow rail",
            since=clock.at(5, FRI, "14:10"),
            parts=2,
            travels_with="8 feet and screws in bag 4",
            size=("2.400", "0.900", "0.700"),
            weight="11.00",
        ),
        piece(
            "ST-04",
            "Swim platform",
            place=MOULD,
            since=clock.at(2, TUE, "11:00"),
            size=("2.100", "0.650", "0.120"),
            weight="24.00",
        ),
        piece(
            "ST-05",
            "Platform brackets",
            place=BOOTH,
            since=clock.at(4, TUE, "10:40"),
            parts=2,
            travels_with="backing plates in bag 9",
            size=("0.600", "0.350", "0.200"),
            weight="7.50",
        ),
        piece(
            "ST-06",
            "Helm cushions",
            place=LOFT,
            since=clock.at(2, WED, "11:20"),
            parts=2,
            size=("0.700", "0.600", "0.400"),
            weight="6.00",
        ),
        piece(
            "ST-07",
            "Cockpit cushions",
            place=LOFT,
            since=clock.at(2, WED, "11:20"),
            parts=6,
            size=("1.600", "0.600", "0.600"),
            weight="14.00",
        ),
        piece(
            "ST-08",
            "Canvas top",
            place=LOFT,
            since=clock.at(0, TUE, "09:00"),
            size=("2.900", "0.400", "0.400"),
            weight="12.00",
            note="New; made at the loft on the finished frame.",
        ),
        piece(
            "ST-09",
            "Side windows",
            place=GLASS,
            since=clock.at(3, MON, "10:00"),
            parts=4,
            travels_with="inner trims, numbered",
            size=("0.900", "0.500", "0.200"),
            weight="18.00",
        ),
        piece(
            "ST-10",
            "Windscreen",
            place=GLASS,
            since=clock.at(3, MON, "10:00"),
            parts=3,
            size=("1.900", "0.700", "0.200"),
            weight="29.00",
        ),
        piece(
            "ST-11",
            "Rub rail",
            since=clock.at(1, MON, "12:00"),
            parts=4,
            travels_with="inserts, coiled",
            size=("6.000", "0.100", "0.100"),
            weight="16.00",
        ),
        piece(
            "ST-12",
            "Trim tabs",
            since=clock.at(3, THU, "09:30"),
            parts=2,
            travels_with="rams and hoses, boxed",
            size=("0.700", "0.250", "0.200"),
            weight="9.00",
            note="New, bought in.",
        ),
        piece(
            "ST-13",
            "Aft hatch lid",
            place=MOULD,
            since=clock.at(2, TUE, "11:00"),
            travels_with="hinges in bag 2",
            size=("0.900", "0.700", "0.080"),
            weight="13.00",
        ),
        piece(
            "ST-14",
            "Instrument panel",
            since=clock.at(1, TUE, "16:00"),
            travels_with="loom labelled",
            size=("0.900", "0.350", "0.100"),
            weight="8.00",
        ),
    ]

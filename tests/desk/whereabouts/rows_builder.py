"""Rows for the pure tests: a small refit by hand, and any refit at all for the properties."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

from refit.desk.whereabouts.courses import Choice, choose, follow
from refit.desk.whereabouts.layout import lay_out
from refit.desk.whereabouts.rows import (
    Effect,
    LegRow,
    PackageRow,
    PieceRow,
    PlaceRow,
    Rows,
    UseRow,
)
from refit.desk.whereabouts.scale import Scale
from refit.desk.whereabouts.shapes import Picture

MONDAY = datetime(2026, 10, 5, 8, 0, tzinfo=UTC)
NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
SHED, SHOP, LOFT = 1, 2, 3
BOAT, ARCH, HATCH = 1, 2, 3


def day(number: float) -> datetime:
    """So many days after the first Monday, 08:00."""
    return MONDAY + timedelta(days=number)


def package(code: str, start: float, days: float, **fields: Any) -> PackageRow:
    hold = timedelta(days=fields.pop("hold", 0))
    work_finish = day(start) + timedelta(days=days)
    fields.setdefault("title", f"Job {code}")
    fields.setdefault("place", SHED)
    return PackageRow(
        code=code,
        start=day(start),
        work_finish=work_finish,
        finish=work_finish + hold,
        **fields,
    )


def leg(piece: int, origin: int, destination: int, depart: float, **fields: Any) -> LegRow:
    return LegRow(
        piece, origin, destination, day(depart), day(depart) + timedelta(hours=1), **fields
    )


def some_rows(**fields: Any) -> Rows:
    """The arch comes off the boat in the shed, goes to the shop and is fitted again."""
    rows: dict[str, Any] = {
        "now": NOW,
        "zone": ZoneInfo("UTC"),
        "start": date(2026, 10, 5),
        "places": (
            PlaceRow(SHED, "Alder shed", "our own", is_home=True),
            PlaceRow(SHOP, "Gannetry metal shop", "welding"),
            PlaceRow(LOFT, "Brackwater loft", "canvas"),
        ),
        "pieces": (
            PieceRow(BOAT, "ST-01", "Sallow Tern", is_boat=True, place=SHED),
            PieceRow(ARCH, "ST-02", "Arch", place=SHED, fitted=True),
        ),
        "packages": (
            package("A1", 0, 2, uses=(UseRow(BOAT), UseRow(ARCH, Effect.TAKES_OFF))),
            package("B1", 7, 3, place=SHOP, uses=(UseRow(ARCH),)),
            package("C1", 14, 2, uses=(UseRow(BOAT), UseRow(ARCH, Effect.FITS))),
        ),
        "legs": (leg(ARCH, SHED, SHOP, 4), leg(ARCH, SHOP, SHED, 11)),
    }
    return Rows(**(rows | fields))


def picture_of(rows: Rows, choice: Choice | None = None, days: int | None = None) -> Picture:
    courses = follow(rows)
    chosen = choose(rows, courses, choice or Choice())
    return lay_out(rows, courses, chosen, Scale.of(rows, width=1076, days_in_sight=days))


WORDS = st.text(alphabet="abcdefgilmnorstuw WM-é", min_size=1, max_size=50)


@st.composite
def any_rows(draw: st.DrawFn) -> Rows:
    """Anything that a database could hold, consistent or not."""
    places = [
        PlaceRow(n, draw(WORDS), is_home=n == 1, open_weekdays=frozenset(range(draw(st.just(5)))))
        for n in range(1, draw(st.integers(1, 4)) + 1)
    ]
    has_boat = draw(st.booleans())
    pieces = [
        PieceRow(
            n,
            f"ST-{n:02}",
            draw(WORDS),
            is_boat=has_boat and n == 1,
            place=draw(st.sampled_from([None, *(place.id for place in places)])),
            fitted=draw(st.booleans()) and not (has_boat and n == 1),
        )
        for n in range(1, draw(st.integers(1, 6)) + 1)
    ]
    moments = st.integers(0, 24 * 70).map(lambda hours: hours / 24)
    lengths = st.sampled_from([0, 0.01, 0.2, 1, 3, 9, 40])
    packages = []
    for n in range(draw(st.integers(0, 25))):
        used = draw(st.lists(st.sampled_from(pieces), max_size=3, unique_by=lambda piece: piece.id))
        packages.append(
            package(
                f"P{n}",
                draw(moments),
                draw(lengths),
                hold=draw(st.sampled_from([0, 0, 0.5, 4])),
                title=draw(WORDS),
                place=draw(st.sampled_from(places)).id,
                uses=tuple(UseRow(p.id, draw(st.sampled_from(list(Effect)))) for p in used),
                started=draw(st.booleans()),
                drives=draw(st.booleans()),
                late=draw(st.sampled_from([(), ("Too late.",)])),
            )
        )
    legs = []
    for _ in range(draw(st.integers(0, 8)) if len(places) > 1 else 0):
        origin, destination = draw(
            st.lists(st.sampled_from(places), min_size=2, max_size=2, unique_by=lambda p: p.id)
        )
        legs.append(leg(draw(st.sampled_from(pieces)).id, origin.id, destination.id, draw(moments)))
    return some_rows(
        places=tuple(places),
        pieces=tuple(pieces),
        packages=tuple(packages),
        legs=tuple(legs),
        wanted=draw(st.sampled_from([None, date(2026, 11, 25), date(2026, 12, 18)])),
        launch_at=draw(st.sampled_from([None, day(74)])),
    )


ANY_CHOICE = st.builds(
    Choice,
    piece=st.sampled_from([None, None, 1, 2]),
    place=st.sampled_from([None, None, 1, 2]),
    driving=st.sampled_from([False, False, True]),
)

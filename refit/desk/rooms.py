"""The rooms of the desk: what stands in the line at the top, and the pages inside each.

One table; the frame draws it. A page is shown as open when the name of its address begins with one
of its ``stems``. A room with one page has no second line.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Page:
    label: str
    name: str
    """Of its address, without ``desk:``."""
    stems: tuple[str, ...] = ()

    def is_open(self, here: str) -> bool:
        return here.startswith((self.name, *self.stems))


@dataclass(frozen=True)
class Room:
    label: str
    pages: tuple[Page, ...]

    def is_open(self, here: str) -> bool:
        return any(page.is_open(here) for page in self.pages)


ROOMS: tuple[Room, ...] = (
    Room("Today", (Page("Today", "today", ("called",)),)),
    Room("Whereabouts", (Page("Whereabouts", "whereabouts"),)),
    Room(
        "Packages",
        (
            Page("Packages", "packages", ("package", "link-edit")),
            Page("Findings", "findings", ("finding",)),
            Page("Survey", "survey"),
            Page("Processes", "processes", ("process", "surfaces")),
        ),
    ),
    Room("Pieces", (Page("Pieces", "pieces", ("piece", "handoff")),)),
    Room("Trips", (Page("Trips", "trips", ("trip",)), Page("Rigs", "rigs", ("rig",)))),
    Room(
        "Shops",
        (
            Page("Vendors", "vendors", ("vendor", "paper")),
            Page("Places", "places", ("place", "road")),
            Page("Crew", "crew", ("zone",)),
        ),
    ),
    Room(
        "Money",
        (
            Page("Budget", "budget", ("hours",)),
            Page("Quotes", "quotes", ("quote",)),
            Page("Orders", "orders", ("order",)),
            Page("Changes", "changes", ("change",)),
            Page("Payments", "payments", ("payment",)),
            Page("Goods", "goods"),
        ),
    ),
    Room(
        "Quality",
        (
            Page("Readings", "readings", ("quality",)),
            Page("Climate", "climate"),
            Page("Punch list", "punch-list"),
            Page("Close-out", "close-out"),
        ),
    ),
    Room(
        "Plan",
        (
            Page("Baselines", "baselines", ("baseline",)),
            Page("Delay ledger", "ledger"),
            Page("What if", "whatif"),
            Page("Earlier launch", "search"),
            Page("Plan health", "health"),
        ),
    ),
)


@dataclass(frozen=True)
class Frame:
    """What the two lines of the frame need: ``pages`` is empty where one page is all there is."""

    rooms: tuple[tuple[Room, bool], ...]
    pages: tuple[tuple[Page, bool], ...]


def frame(here: str) -> Frame:
    """The frame round the page whose address is called ``here`` (``whatif-try``)."""
    inside = next((room for room in ROOMS if room.is_open(here)), None)
    pages = inside.pages if inside and len(inside.pages) > 1 else ()
    return Frame(
        rooms=tuple((room, room is inside) for room in ROOMS),
        pages=tuple((page, page.is_open(here)) for page in pages),
    )

"""The sheets and their columns: the one declaration that reading, writing, the templates and the
documentation go by.

A column stands for one property of a row of the refit document, or for a part of one: the pieces
of a package take three columns, the opening hours of a place seven, a booking three in the row
of its package. A row with these parts side by side is *flat*.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from . import cells
from .cells import Cell, Habits, Row

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True)
class Column:
    """``fact``: its name in a flat row. ``of``: the property of the document that it belongs to.
    ``like``: an empty cell means the value of this other fact. ``us``: how it reads in a refit
    that shows feet and pounds."""

    name: str
    fact: str
    cell: Cell
    meaning: str
    example: str = ""
    required: bool = False
    of: str = ""
    like: str = ""
    us: tuple[str, Cell] | None = None

    @property
    def belongs_to(self) -> str:
        return self.of or self.fact

    def headings(self, habits: Habits) -> list[tuple[str, Cell]]:
        """What may stand above it, the usual one of this refit first."""
        both = [(self.name, self.cell), *([self.us] if self.us else [])]
        return both[::-1] if habits.units == "us" else both

    @cached_property
    def names(self) -> list[str]:
        return [self.name, *([self.us[0]] if self.us else [])]


@dataclass(frozen=True)
class Sheet:
    """``kind``: the list of the document; ``keys``: the facts by which a row is found again."""

    kind: str
    one: str
    row: str
    keys: tuple[str, ...]
    columns: tuple[Column, ...]
    about: str = ""

    def called(self, row: Row) -> str:
        return " to ".join(str(row[key]) for key in self.keys[:2])


def _length(name: str, fact: str) -> Column:
    return Column(
        f"{name} m",
        fact,
        cells.measure("m"),
        f"{name.capitalize()} in metres; “{name} ft” is read as feet.",
        us=(f"{name} ft", cells.measure("ft")),
    )


PLACES = Sheet(
    "places",
    "place",
    "place",
    ("name",),
    (
        Column("name", "name", cells.TEXT, "Name of the place.", "Home shed", True),
        Column(
            "kind",
            "kind",
            cells.choice("home", "shop", "ramp", "other"),
            "What it is.",
            "home",
            True,
        ),
        Column("vendor", "vendor", cells.a_name("vendor"), "Whose it is; empty: our own.", ""),
        Column("address", "address", cells.TEXT, "Address.", "3 Net Lane, Skerrow Bay"),
        Column("phone", "phone", cells.TEXT, "Telephone.", "01632 960100"),
        Column(
            "latitude",
            "latitude",
            cells.decimal("degrees north: 62.01234", 5, -90, 90),
            "Degrees north; road times are guessed from it.",
            "62.01234",
        ),
        Column(
            "longitude",
            "longitude",
            cells.decimal("degrees east: -6.77181", 5, -180, 180),
            "Degrees east.",
            "-6.77181",
        ),
        Column(
            "bays",
            "bays",
            cells.WHOLE,
            "How many packages that take a bay fit at once; 0: no limit.",
            "1",
        ),
        *(
            Column(
                day,
                f"hours_{number}",
                cells.HOURS,
                f"Opening hours on {day}.",
                "08:00-17:00" if number < 5 else "",
                of="hours",
            )
            for number, day in enumerate(WEEKDAYS)
        ),
        Column(
            "closures",
            "closures",
            cells.DAYS,
            "Days on which it is shut.",
            "2026-12-24 to 2027-01-02 winter closing",
        ),
        Column(
            "holiday country",
            "holiday_country",
            cells.TEXT,
            "Country whose public holidays close it (two letters, ISO 3166).",
            "FO",
        ),
        Column(
            "holiday region",
            "holiday_region",
            cells.TEXT,
            "Region of the holidays, where a country has them.",
        ),
        Column("note", "note", cells.TEXT, "Anything else."),
    ),
)

VENDORS = Sheet(
    "vendors",
    "vendor",
    "vendor",
    ("name",),
    (
        Column("name", "name", cells.TEXT, "Name of the company.", "Skerrow Coatings", True),
        Column("trade", "trade", cells.TEXT, "What it does.", "spray coating"),
        Column("contact", "contact", cells.TEXT, "Person to ask for.", "Maren Dahl"),
        Column("phone", "phone", cells.TEXT, "Telephone.", "01632 960117"),
        Column("email", "email", cells.TEXT, "E-mail address.", "shop@skerrow.example"),
        Column(
            "jobs at once",
            "jobs_at_once",
            cells.WHOLE,
            "How many of our packages it works on at the same time.",
            "1",
        ),
        Column("note", "note", cells.TEXT, "Anything else."),
    ),
)

CREW = Sheet(
    "crew",
    "crew member",
    "crew_member",
    ("name",),
    (
        Column("name", "name", cells.TEXT, "Name.", "Odd Brekke", True),
        Column("skills", "skills", cells.TEXT, "What they are good at.", "gelcoat, wiring"),
        Column("phone", "phone", cells.TEXT, "Telephone.", "01632 960142"),
        Column("email", "email", cells.TEXT, "E-mail address.", "odd@refit.example"),
        Column(
            "days away", "absences", cells.DAYS, "Days away.", "2026-12-07 to 2026-12-11 course"
        ),
    ),
)

ZONES = Sheet(
    "zones",
    "zone",
    "zone",
    ("name",),
    (
        Column(
            "name",
            "name",
            cells.TEXT,
            "A part of the boat that one package at a time takes for itself.",
            "Wheelhouse",
            True,
        ),
    ),
)

PIECES = Sheet(
    "pieces",
    "piece",
    "piece",
    ("tag",),
    (
        Column("tag", "tag", cells.TEXT, "What is written on it.", "ST-03", True),
        Column("name", "name", cells.TEXT, "Name of the piece.", "Canopy frame", True),
        Column(
            "is the boat", "is_boat", cells.YES, "The piece is the boat itself; one at most.", "no"
        ),
        Column("shared", "shared", cells.YES, "Several packages may be done on it at once.", "no"),
        Column("place", "place", cells.a_name("place"), "Where it is now.", "Home shed"),
        Column("on the boat", "fitted", cells.YES, "It is on the boat, wherever that is.", "yes"),
        Column("there since", "since", cells.MOMENT, "Since when it is there.", "2026-10-12 08:00"),
        Column(
            "returns to",
            "returns_to",
            cells.a_name("place"),
            "Where it belongs when nobody works on it any more.",
            "Home shed",
        ),
        Column("parts", "parts", cells.WHOLE, "Count of parts.", "4"),
        Column(
            "travels with",
            "travels_with",
            cells.TEXT,
            "What must travel with it.",
            "bag of fasteners",
        ),
        _length("length", "length_m"),
        _length("width", "width_m"),
        _length("height", "height_m"),
        Column(
            "weight kg",
            "weight_kg",
            cells.measure("kg"),
            "Weight in kilograms; “weight lb” is read as pounds.",
            "18.5",
            us=("weight lb", cells.measure("lb")),
        ),
        Column("note", "note", cells.TEXT, "Anything else."),
    ),
    "A piece that is under way is moved by receiving it, not by a sheet.",
)

PACKAGES = Sheet(
    "packages",
    "package",
    "package",
    ("code",),
    (
        Column("code", "code", cells.TEXT, "Short and unique.", "H04", True),
        Column(
            "title",
            "title",
            cells.TEXT,
            "What is done, in a few words.",
            "Coat the canopy frame",
            True,
        ),
        Column(
            "scope",
            "scope",
            cells.TEXT,
            "What belongs to it and what does not.",
            "Blast, prime, two coats",
        ),
        Column(
            "vendor",
            "vendor",
            cells.a_name("vendor"),
            "Who does it; empty: our own crew.",
            "Skerrow Coatings",
        ),
        Column("place", "place", cells.a_name("place"), "Where it is done.", "Coating booth", True),
        Column("takes a bay", "takes_bay", cells.YES, "It takes a bay of the place.", "yes"),
        Column(
            "crew",
            "people",
            cells.some_names("names of crew members"),
            "Who of the crew does it.",
            "",
        ),
        Column(
            "more hands",
            "helpers",
            cells.WHOLE,
            "How many more hands it needs, whoever of the crew is free.",
            "0",
        ),
        Column(
            "zones",
            "zones",
            cells.some_names("names of zones"),
            "Parts of the boat that it takes for itself.",
            "",
        ),
        Column(
            "pieces",
            "pieces_needs",
            cells.some_names("tags of pieces"),
            "Pieces that it works on and that must be there.",
            "ST-03",
            of="pieces",
        ),
        Column(
            "takes off",
            "pieces_takes off",
            cells.some_names("tags of pieces"),
            "Pieces that it takes off the boat.",
            "",
            of="pieces",
        ),
        Column(
            "fits",
            "pieces_fits",
            cells.some_names("tags of pieces"),
            "Pieces that it fits to the boat.",
            "",
            of="pieces",
        ),
        Column(
            "likely", "likely_minutes", cells.WORKING, "Working time, most likely.", "2 d", True
        ),
        Column(
            "low",
            "low_minutes",
            cells.WORKING,
            "Working time if all goes well; empty: like likely.",
            "1.5 d",
            like="likely_minutes",
        ),
        Column(
            "high",
            "high_minutes",
            cells.WORKING,
            "Working time if much goes wrong; empty: like likely.",
            "3 d",
            like="likely_minutes",
        ),
        Column(
            "hold", "hold_minutes", cells.ELAPSED, "Elapsed time after the work: cure, dry.", "3 d"
        ),
        Column(
            "hold reason",
            "hold_reason",
            cells.TEXT,
            "Why it holds.",
            "topcoat cures (see its data sheet)",
        ),
        Column("budget", "budget", cells.MONEY, "What it may cost.", "900"),
        Column(
            "agreed price", "agreed_price", cells.MONEY, "Price agreed with the vendor.", "862.50"
        ),
        Column(
            "acceptance",
            "acceptance",
            cells.TEXT,
            "How it is judged.",
            "No runs; film thickness in the agreed range",
        ),
        Column(
            "cautions",
            "cautions",
            cells.TEXT,
            "What can hurt people or the boat, and what to do about it.",
            "Solvents: follow the data sheet",
        ),
        Column(
            "is the launch",
            "is_launch",
            cells.YES,
            "This package is the launch; one at most.",
            "no",
        ),
        Column("deadline", "deadline", cells.MOMENT, "It must be finished by then.", ""),
        Column("deadline reason", "deadline_reason", cells.TEXT, "Why.", ""),
        Column(
            "booked start",
            "booked_start",
            cells.MOMENT,
            "Agreed with the shop: it starts then.",
            "2026-12-07 08:00",
            of="booking",
        ),
        Column(
            "not before",
            "not_before",
            cells.MOMENT,
            "Agreed with the shop: it starts no earlier. Instead of a booked start.",
            "",
            of="booking",
        ),
        Column(
            "agreed with",
            "agreed_with",
            cells.TEXT,
            "Who agreed to the booking.",
            "Maren Dahl",
            of="booking",
        ),
        Column(
            "promised",
            "promised",
            cells.MOMENT,
            "End of the work as its vendor last promised it.",
            "",
        ),
        Column("started", "started_at", cells.MOMENT, "Actual start.", ""),
        Column("time left", "remaining_minutes", cells.WORKING, "Working time left.", ""),
        Column("finished", "finished_at", cells.MOMENT, "Actual end of the work.", ""),
    ),
    "Progress typed here moves no pieces: the sheet of pieces says where they are.",
)

DEPENDENCIES = Sheet(
    "dependencies",
    "dependency",
    "dependency",
    ("before", "after", "relation"),
    (
        Column(
            "before",
            "before",
            cells.a_name("package (its code)"),
            "The package that is waited for.",
            "H03",
            True,
        ),
        Column(
            "after",
            "after",
            cells.a_name("package (its code)"),
            "The package that waits.",
            "H04",
            True,
        ),
        Column(
            "relation",
            "relation",
            cells.choice(
                "finish-to-start", "start-to-start", "finish-to-finish", "start-to-finish"
            ),
            "Which end of the second waits for which end of the first; empty: finish-to-start.",
            "finish-to-start",
        ),
        Column(
            "lag in",
            "lag_in",
            cells.choice("elapsed", "working"),
            "Whether lags count on the clock or in open hours; empty: elapsed.",
            "elapsed",
        ),
        Column("minimum lag", "min_lag_minutes", cells.LAG, "At least so long after.", "24 h"),
        Column("maximum lag", "max_lag_minutes", cells.LAG, "At most so long after.", ""),
        Column(
            "reason",
            "reason",
            cells.TEXT,
            "The physical reason.",
            "welds have to be ground first",
            True,
        ),
    ),
)

SHEETS = (PLACES, VENDORS, CREW, ZONES, PIECES, PACKAGES, DEPENDENCIES)
BY_KIND = {sheet.kind: sheet for sheet in SHEETS}

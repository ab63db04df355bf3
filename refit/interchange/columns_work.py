"""The sheets about the work: pieces, packages, what waits for what."""

from __future__ import annotations

from refit.work.measures import FOOT, KILOGRAM, METRE, POUND

from . import cells
from .sheet import Column, Sheet


def _length(name: str, fact: str) -> Column:
    return Column(
        f"{name} m",
        fact,
        cells.measure(METRE),
        f"{name.capitalize()} in metres; “{name} ft” is read as feet.",
        us=(f"{name} ft", cells.measure(FOOT)),
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
            cells.measure(KILOGRAM),
            "Weight in kilograms; “weight lb” is read as pounds.",
            "18.5",
            us=("weight lb", cells.measure(POUND)),
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
            "in one go",
            "unbroken",
            cells.YES,
            "It cannot pause over a night or a closure, like a launch or a coat of paint.",
            "no",
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
        Column("process", "process", cells.TEXT, "Key of the process it follows.", "spray-coating"),
        Column("step", "step", cells.TEXT, "Key of the step of that process.", "topcoat"),
        Column(
            "quantity",
            "quantity",
            cells.decimal("a number of square metres, metres or things", 3, 0),
            "How much of it there is, in its unit.",
            "17.6",
        ),
        Column(
            "unit",
            "unit",
            cells.choice("m2", "m", "count"),
            "Of the quantity.",
            "m2",
        ),
        Column(
            "in the scope",
            "is_agreed",
            cells.YES,
            "It is in the agreed scope; if not, it waits for a change order and is not planned.",
            "yes",
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

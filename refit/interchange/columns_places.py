"""The sheets about who and where: places, the roads between them, vendors, crew, zones."""

from __future__ import annotations

from refit.work.measures import KILOMETRE, MILE
from refit.work.models import PaperKind, Weekday

from . import cells
from .sheet import Column, Sheet

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
                day.label,
                f"hours_{day.value}",
                cells.HOURS,
                f"Opening hours on {day.label}.",
                "08:00-17:00" if day < Weekday.SATURDAY else "",
                of="hours",
            )
            for day in Weekday
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

PAPERS = Sheet(
    "papers",
    "paper",
    "paper",
    ("vendor", "kind", "number"),
    (
        Column(
            "vendor", "vendor", cells.a_name("vendor"), "Whose it is.", "Skerrow Coatings", True
        ),
        Column(
            "kind",
            "kind",
            cells.choice(*PaperKind.values),
            "What it is.",
            "customers' property",
            True,
        ),
        Column("number", "number", cells.TEXT, "Number of the policy.", "BK-20418"),
        Column("issuer", "issuer", cells.TEXT, "Insurer or issuer.", "Harbour Mutual"),
        Column("covers", "covers", cells.MONEY, "Up to how much it covers.", "50000"),
        Column("valid from", "valid_from", cells.DAY, "First day.", "2026-01-01"),
        Column("valid until", "valid_until", cells.DAY, "Last day.", "2026-12-31"),
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

DISTANCES = Sheet(
    "distances",
    "distance",
    "distance",
    ("origin", "destination"),
    (
        Column("origin", "origin", cells.a_name("place"), "From where.", "Home shed", True),
        Column(
            "destination", "destination", cells.a_name("place"), "To where.", "Coating booth", True
        ),
        Column(
            "kilometres",
            "kilometres",
            cells.measure(KILOMETRE),
            "Length of the road; “miles” is read as miles.",
            "38.5",
            us=("miles", cells.measure(MILE)),
        ),
        Column(
            "minutes",
            "minutes",
            cells.WHOLE,
            "Driving time, without loading; empty: from the length of the road.",
            "45",
        ),
    ),
    "The way back is the same unless it has a row of its own. Pairs without a row are reckoned "
    "from the coordinates.",
)

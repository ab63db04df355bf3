"""Who and where: boat, vendors, places, crew, zones. All invented.

Telephone numbers are from a range reserved for fiction (common practice, from memory);
the coordinates lie on a real coast so that distances make sense, the places do not exist.
"""

from __future__ import annotations

from refit.interchange.document import (
    BoatRow,
    CrewRow,
    DistanceRow,
    HoursRow,
    PlaceRow,
    RefitRow,
    VendorRow,
    ZoneRow,
)

from .clock import FRI, MON, SAT, SUN, THU, TIME_ZONE, TUE, WED, DemoClock

SHED = "Alder shed"
METAL = "Gannetry metal shop"
BOOTH = "Scoter coating booth"
LOFT = "Brackwater loft"
GLASS = "Petrelhaven glass shop"
MOULD = "Wrackline mould shop"
RAMP = "Kelpmouth ramp"

GANNETRY = "Gannetry Metalwork"
SCOTER = "Scoter Coating Works"
BRACKWATER = "Brackwater Canvas"
PETRELHAVEN = "Petrelhaven Glazing"
WRACKLINE = "Wrackline Mouldings"
TARBOTTLE = "Tarbottle Marine Electrics"

RUNA, TEO, MIRRE = "Runa Ostlund", "Teo Brandvold", "Mirre Askel"

BOAT: BoatRow = {
    "name": "Sallow Tern",
    "type": "pilothouse motor boat, 27 ft",
    "built": 1988,
    "length_m": "8.230",
    "waterline_m": "7.100",
    "beam_m": "2.500",
    "draft_m": "0.620",
    "freeboard_m": "1.050",
    "height_on_trailer_m": "3.350",
    "weight_kg": "2650.00",
    "trailer_kg": "690.00",
    "tongue_kg": "235.00",
}


def refit_row(clock: DemoClock) -> RefitRow:
    return {
        "name": "Pilothouse refit",
        "slug": "sallow-tern",
        "start": clock.day(0, MON),
        "wanted_launch": clock.day(12, FRI),
        "time_zone": TIME_ZONE,
        "currency": "CAD",
        "units": "metric",
        "hours_a_day": "8.00",
        "road_factor": "1.30",
        "road_speed_kmh": 60,
        "loading_minutes": 30,
        "contingency": "6000.00",
        "crew_rate": "48.00",
        "goods_margin_days": 3,
        "owner_sees": "totals",
        "owner_name": "Ansel Thorvik",
        "owner_email": "owner@sallow-tern.example",
        "owner_phone": "902-555-0142",
        "link_days": 60,
        "closed_at": None,
        "note": "Built 1988, bought by its third owner last summer. Everything comes off once.",
    }


def _vendor(
    name: str, trade: str, contact: str, phone: str, email: str, jobs: int = 1
) -> VendorRow:
    return {
        "name": name,
        "trade": trade,
        "contact": contact,
        "phone": phone,
        "email": email,
        "jobs_at_once": jobs,
        "note": "",
    }


VENDORS: list[VendorRow] = [
    _vendor(
        BRACKWATER,
        "canvas and upholstery",
        "Odile Marrin",
        "902-555-0117",
        "loft@brackwater.example",
        2,
    ),
    _vendor(
        GANNETRY,
        "welding, frames and rails",
        "Isolde Varn",
        "902-555-0131",
        "shop@gannetry.example",
        2,
    ),
    _vendor(
        PETRELHAVEN,
        "windows and glazing",
        "Bram Holloway",
        "902-555-0168",
        "bench@petrelhaven.example",
        2,
    ),
    _vendor(
        SCOTER,
        "blasting and spray coating",
        "Dag Ellery",
        "902-555-0153",
        "booth@scoter.example",
        2,
    ),
    _vendor(
        TARBOTTLE,
        "wiring and electronics",
        "Nuria Skaife",
        "902-555-0179",
        "van@tarbottle.example",
        1,
    ),
    _vendor(
        WRACKLINE,
        "mouldings in glass fibre",
        "Per Quillan",
        "902-555-0126",
        "moulds@wrackline.example",
        2,
    ),
]


def _hours(days: tuple[int, ...], *spans: tuple[str, str]) -> list[HoursRow]:
    return [
        {"weekday": day, "opens": opens, "closes": closes}
        for day in days
        for opens, closes in spans
    ]


_WORKDAYS = (MON, TUE, WED, THU, FRI)


def _place(
    name: str,
    kind: str,
    vendor: str | None,
    address: str,
    where: tuple[str, str],
    hours: list[HoursRow],
    bays: int = 0,
    phone: str = "",
) -> PlaceRow:
    return {
        "name": name,
        "kind": kind,  # type: ignore[typeddict-item]
        "vendor": vendor,
        "address": address,
        "phone": phone,
        "latitude": where[0],
        "longitude": where[1],
        "bays": bays,
        "holiday_country": "" if kind == "ramp" else "CA",
        "holiday_region": "" if kind == "ramp" else "NS",
        "note": "",
        "hours": hours,
        "closures": [],
    }


def places(clock: DemoClock) -> list[PlaceRow]:
    shed = _place(
        SHED,
        "home",
        None,
        "4 Alder Lane, Innerkelp",
        ("44.61200", "-63.61500"),
        _hours(_WORKDAYS, ("08:00", "12:00"), ("12:30", "17:00"))
        + _hours((SAT,), ("09:00", "13:00")),
        bays=1,
    )
    loft = _place(
        LOFT,
        "shop",
        BRACKWATER,
        "Upper floor, 11 Ropewalk, Brackwater",
        ("44.68100", "-63.79000"),
        _hours((TUE, WED, THU, FRI, SAT), ("09:00", "17:30")),
        phone="902-555-0117",
    )
    loft["closures"] = [
        {
            "first_day": clock.day(10, MON),
            "last_day": clock.day(10, SUN),
            "reason": "the loft moves its cutting table",
        }
    ]
    return [
        shed,
        loft,
        _place(
            METAL,
            "shop",
            GANNETRY,
            "Unit 3, Forge Road, Gannetry",
            ("44.70500", "-63.58000"),
            _hours(_WORKDAYS, ("07:30", "16:00")),
            phone="902-555-0131",
        ),
        _place(
            RAMP,
            "ramp",
            None,
            "End of Ferry Street, Kelpmouth",
            ("44.56800", "-63.54600"),
            _hours((MON, TUE, WED, THU, FRI, SAT, SUN), ("07:00", "18:00")),
        ),
        _place(
            GLASS,
            "shop",
            PETRELHAVEN,
            "27 Lens Street, Petrelhaven",
            ("44.73900", "-63.66000"),
            _hours(_WORKDAYS, ("08:00", "16:30")),
            phone="902-555-0168",
        ),
        _place(
            BOOTH,
            "shop",
            SCOTER,
            "Old Cannery, Scoter Point",
            ("44.64900", "-63.47000"),
            _hours((MON, TUE, WED, THU), ("08:00", "17:00")) + _hours((FRI,), ("08:00", "15:00")),
            bays=2,
            phone="902-555-0153",
        ),
        _place(
            MOULD,
            "shop",
            WRACKLINE,
            "Shed B, Wrackline Quay",
            ("44.53300", "-63.70200"),
            _hours(_WORKDAYS, ("08:00", "17:00")),
            phone="902-555-0126",
        ),
    ]


DISTANCES: list[DistanceRow] = [
    {"origin": SHED, "destination": MOULD, "kilometres": "19.00", "minutes": 35},
    {"origin": SHED, "destination": RAMP, "kilometres": "9.50", "minutes": 40},
]


def crew(clock: DemoClock) -> list[CrewRow]:
    away = {
        "first_day": clock.day(9, THU),
        "last_day": clock.day(9, FRI),
        "reason": "a wedding in the family",
    }
    return [
        {
            "name": MIRRE,
            "skills": "paint, gelcoat, polishing",
            "phone": "902-555-0190",
            "email": "mirre@sallow-tern.example",
            "absences": [away],  # type: ignore[list-item]
        },
        {
            "name": RUNA,
            "skills": "sequencing, driving, survey",
            "phone": "902-555-0188",
            "email": "runa@sallow-tern.example",
            "absences": [],
        },
        {
            "name": TEO,
            "skills": "glass fibre, fitting, bedding",
            "phone": "902-555-0189",
            "email": "teo@sallow-tern.example",
            "absences": [],
        },
    ]


PORT, STARBOARD, BOTTOM, TRANSOM = "Topside, port", "Topside, starboard", "Bottom", "Transom"
FOREDECK, COCKPIT, PILOTHOUSE, ENGINE = "Foredeck", "Cockpit", "Pilothouse", "Engine bay"

ZONES: list[ZoneRow] = [
    {"name": name}
    for name in sorted((PORT, STARBOARD, BOTTOM, TRANSOM, FOREDECK, COCKPIT, PILOTHOUSE, ENGINE))
]

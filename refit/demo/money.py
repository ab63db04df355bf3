"""What is asked, agreed, bought and paid by Wednesday of week 6. All names are invented."""

from __future__ import annotations

from refit.interchange.document import PackageRow, VendorRow
from refit.interchange.document_contracts import (
    ContractRows,
    GoodsRow,
    LoggedHoursRow,
    PaymentRow,
    QuoteRow,
    no_contracts,
)

from .cast import COCKPIT, GANNETRY, MIRRE, SCOTER, TEO
from .clock import FRI, MON, THU, TUE, WED, DemoClock
from .jobs import WET_TOOLS, job

MERGANSER, EIDER, SCAUP = "Merganser Hull Care", "Eider and Daughter", "Scaup Finishing"


def vendors() -> list[VendorRow]:
    """Those who were asked to polish the hull; they come to the shed."""
    return [
        {
            "name": name,
            "trade": "hull polishing",
            "contact": contact,
            "phone": phone,
            "email": email,
            "jobs_at_once": 1,
            "note": "",
        }
        for name, contact, phone, email in (
            (EIDER, "Signe Halloran", "902-555-0161", "office@eider.example"),
            (MERGANSER, "Corin Vale", "902-555-0162", "corin@merganser.example"),
            (SCAUP, "Tamsin Roark", "902-555-0163", "hello@scaup.example"),
        )
    ]


def packages() -> list[PackageRow]:
    """The repair of the soft core: outside the agreed scope until the owner says yes."""
    row = job(
        "K1", "Deck: dry and mend the core by the aft hatch", (2, 3, 5), people=(TEO,), boat=True,
        zones=(COCKPIT,), hold_hours=24 * 38, hold_reason="the core dries under lamps",
        scope=(
            "Open the skin, take out what is soft, dry the rest until the meter says so, then core,"
            " glass and fair. Not in it: the colour of the deck."
        ),
        acceptance="Sounds solid under the hammer over the whole patch.",
        cautions=f"{WET_TOOLS} Resin: air, gloves, no flame.",
    )  # fmt: skip
    row["is_agreed"] = False
    return [row]


def _quote(
    clock: DemoClock, vendor: str, price: str, lead: int, ready: tuple[int, int], days: float,
    leaves_out: str, remarks: str,
) -> QuoteRow:  # fmt: skip
    return {
        "inquiry": "Q1",
        "vendor": vendor,
        "place": None,
        "state": "answered",
        "price": price,
        "lead_days": lead,
        "promised_on": clock.day(*ready),
        "work_minutes": round(days * 480),
        "leaves_out": leaves_out,
        "remarks": remarks,
        "valid_until": clock.day(8, FRI),
        "asked_at": clock.at(5, TUE, "10:00"),
        "answered_at": clock.at(5, FRI, "16:00"),
        "answered_by": vendor,
    }


def _paid(
    clock: DemoClock, number: int, package: str, vendor: str, amount: str, day: tuple[int, int]
) -> PaymentRow:
    return {
        "key": f"demo-{number}",
        "paid_on": clock.day(*day),
        "amount": amount,
        "order": None,
        "number": None,
        "goods": None,
        "package": package,
        "vendor": vendor,
        "reference": f"invoice {1040 + number}",
        "note": "",
    }


def _goods(
    code: str, title: str, package: str, price: str, lead: int, supplier: str,
    ordered: str | None = None, promised: str | None = None, arrived: str | None = None,
) -> GoodsRow:  # fmt: skip
    return {
        "code": code,
        "title": title,
        "quantity": "",
        "package": package,
        "supplier": supplier,
        "price": price,
        "lead_days": lead,
        "ordered_on": ordered,
        "promised_on": promised,
        "arrived_on": arrived,
        "note": "",
    }


def _hours(
    clock: DemoClock, number: int, package: str, person: str, day: tuple[int, int], hours: int
) -> LoggedHoursRow:
    return {
        "key": f"demo-{number}",
        "package": package,
        "person": person,
        "vendor": None,
        "worked_on": clock.day(*day),
        "minutes": hours * 60,
        "rate": "48.00",
        "note": "",
    }


def contracts(clock: DemoClock) -> ContractRows:
    rows = no_contracts()
    rows["inquiries"] = [
        {
            "code": "Q1",
            "title": "Hull: compound and polish",
            "packages": ["H4"],
            "scope": "In our shed, on the trailer; power and water are there.",
            "answer_by": clock.day(6, FRI),
            "asked_at": clock.at(5, TUE, "10:00"),
            "closed_at": None,
        }
    ]
    rows["quotes"] = [
        _quote(clock, MERGANSER, "980.00", 12, (9, FRI), 2, "wax; the transom",
               "Two of us, two days."),
        _quote(clock, EIDER, "640.00", 70, (18, FRI), 4, "moving the trailer",
               "We are full until then."),
        _quote(clock, SCAUP, "1420.00", 5, (7, FRI), 1, "", "All sides, with wax."),
    ]  # fmt: skip
    rows["work_orders"] = [
        {
            "code": "WO1",
            "title": "Coating of the frame",
            "vendor": SCOTER,
            "inquiry": None,
            "packages": ["F2"],
            "price": "1180.00",
            "not_before": clock.day(4, WED),
            "due_on": clock.day(6, MON),
            "leaves_out": "masking of threads",
            "terms": "Touch-up within the first season is in the price.",
            "made_at": clock.at(4, MON, "11:00"),
            "made_by": "Runa Ostlund",
            "ended_at": None,
            "ended_why": "",
        }
    ]
    rows["instalments"] = [
        {
            "order": "WO1", "number": 1, "label": "deposit", "basis": "order", "day": None,
            "days_after": 0, "amount": "400.00",
        },
        {
            "order": "WO1", "number": 2, "label": "", "basis": "back", "day": None,
            "days_after": 14, "amount": "780.00",
        },
    ]  # fmt: skip
    rows["change_orders"] = [
        {
            "code": "CO1",
            "title": "Soft core beside the aft hatch",
            "reason": (
                "The deck gives under the thumb at the hinge side: the core is wet from the old"
                " hinge screws. Later the lid has to come off again."
            ),
            "finding": "N1",
            "package": "K1",
            "extra_minutes": None,
            "price": "640.00",
            "price_basis": "our estimate",
            "state": "draft",
            "made_at": clock.at(5, THU, "15:00"),
            "decide_by": clock.at(6, FRI, "17:00"),
            "asked_at": None,
            "launch_before": None,
            "launch_after": None,
            "days": None,
            "bill_before": None,
            "bill_after": None,
        }
    ]
    day = clock.day
    rows["goods"] = [
        _goods("G1", "Antifouling, two cans", "B3", "310.00", 7, "Kelp Street Chandlery",
               day(3, MON), day(4, MON), day(4, TUE)),
        _goods("G2", "Trim tab kit", "T2", "590.00", 21, "Fathom Hydraulics",
               day(4, MON), day(8, WED)),
        _goods("G3", "Bedding compound, twelve tubes", "W3", "148.00", 10,
               "Kelp Street Chandlery"),
    ]  # fmt: skip
    rows["payments"] = [
        _paid(clock, 1, "F1", GANNETRY, "1360.00", (4, FRI)),
        _paid(clock, 2, "R1", GANNETRY, "480.00", (4, FRI)),
        _paid(clock, 3, "P3", SCOTER, "210.00", (5, FRI)),
        {
            **_paid(clock, 4, "B3", SCOTER, "310.00", (4, TUE)),
            "goods": "G1",
            "package": None,
            "vendor": None,
        },
    ]
    rows["logged_hours"] = [
        _hours(clock, 1, "H3", MIRRE, (4, WED), 7),
        _hours(clock, 2, "H3", MIRRE, (4, THU), 8),
        _hours(clock, 3, "H5", TEO, (1, THU), 8),
    ]
    return rows

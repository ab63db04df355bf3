"""What is to be done: fifty packages.

Durations are the founders' own estimates for a boat of this size (common practice, no source);
cure times are of the class the material belongs to and are overridden by its data sheet.
"""

from __future__ import annotations

from typing import Literal

from refit.interchange.document import PackageRow, PieceUseRow

from .cast import (
    BOOTH,
    BOTTOM,
    BRACKWATER,
    COCKPIT,
    ENGINE,
    FOREDECK,
    GANNETRY,
    GLASS,
    LOFT,
    METAL,
    MIRRE,
    MOULD,
    PETRELHAVEN,
    PILOTHOUSE,
    PORT,
    RAMP,
    RUNA,
    SCOTER,
    SHED,
    STARBOARD,
    TARBOTTLE,
    TEO,
    TRANSOM,
    WRACKLINE,
)

BOAT = "ST-01"
SHEET = "The product data sheet, local codes and licensed practice decide."
DUST = (
    "Old antifouling is toxic: sand wet or with a vacuum sander on a sheet, wear a respirator with "
    f"particle and vapour filters, gloves and goggles, collect every scrap. {SHEET}"
)
ISOCYANATES = (
    "Two-part coatings give off isocyanates, which do not warn by smell: supplied air, "
    f"full cover, nobody else in the booth. {SHEET}"
)
WET_TOOLS = "Wet tools only behind a ground-fault device; keep cables out of the water."
HOT_WORK = (
    "Hot work: combustibles away, fire watch afterwards, coating removed from the weld zone first "
    f"(fumes). {SHEET}"
)
SOLVENTS = f"Solvents and resins: air, gloves, no flame; mind rags that can heat up. {SHEET}"
BELOW_WATER = (
    "Holes below the waterline: seal cores, bed with the right sealant, check afloat before "
    f"leaving the boat. {SHEET}"
)
ELECTRICS = (
    "Batteries off and shore power unplugged; fuses sized to the wire; nothing that can spark in a "
    f"petrol bilge. {SHEET}"
)
LIFT_TOW = (
    "Nobody aboard or underneath while it is lifted or towed; tie-downs and lights checked before "
    f"driving and again on the way. {SHEET}"
)


def job(
    code: str,
    title: str,
    days: tuple[float, float, float],
    *,
    people: tuple[str, ...] = (),
    helpers: int = 0,
    vendor: str | None = None,
    place: str = SHED,
    bay: bool = False,
    boat: bool = False,
    zones: tuple[str, ...] = (),
    needs: tuple[str, ...] = (),
    off: tuple[str, ...] = (),
    fits: tuple[str, ...] = (),
    in_one_go: bool = False,
    hold_hours: float = 0,
    hold_reason: str = "",
    budget: int | None = None,
    price: int | None = None,
    scope: str = "",
    acceptance: str = "",
    cautions: str = "",
    launch: bool = False,
) -> PackageRow:
    low, likely, high = (round(8 * 60 * part) for part in days)
    uses: list[PieceUseRow] = [{"piece": BOAT, "effect": "needs"}] if boat else []
    effects: tuple[tuple[tuple[str, ...], Literal["needs", "takes off", "fits"]], ...] = (
        (needs, "needs"),
        (off, "takes off"),
        (fits, "fits"),
    )
    for tags, effect in effects:
        uses += [{"piece": tag, "effect": effect} for tag in tags]
    return {
        "code": code,
        "title": title,
        "scope": scope,
        "vendor": vendor,
        "place": place,
        "takes_bay": bay,
        "people": sorted(people),
        "helpers": helpers,
        "zones": sorted(zones),
        "pieces": sorted(uses, key=lambda use: use["piece"]),
        "low_minutes": low,
        "likely_minutes": likely,
        "high_minutes": high,
        "unbroken": in_one_go,
        "hold_minutes": round(hold_hours * 60),
        "hold_reason": hold_reason,
        "budget": None if budget is None else f"{budget}.00",
        "agreed_price": None if price is None else f"{price}.00",
        "acceptance": acceptance,
        "cautions": cautions,
        "process": "",
        "step": "",
        "quantity": None,
        "unit": "",
        "is_agreed": True,
        "is_launch": launch,
        "deadline": None,
        "deadline_reason": "",
        "promised": None,
        "started_at": None,
        "remaining_minutes": None,
        "finished_at": None,
    }


def packages() -> list[PackageRow]:
    rows = [
        job("A1", "Intake, survey and photographs", (1, 2, 3), people=(RUNA, TEO), boat=True,
             budget=0, scope="Weigh, photograph every side, note readings of hull and wiring."),
        job("A2", "Strip top, rails and hardware", (2, 3, 5), people=(TEO, MIRRE), boat=True,
             zones=(FOREDECK, PILOTHOUSE, PORT, STARBOARD), off=("ST-02", "ST-03", "ST-11"),
             scope="Bag and tag every fastener with the piece it belongs to.",
             cautions=LIFT_TOW),
        job("A3", "Take out cushions", (0.25, 0.5, 1), people=(MIRRE,), boat=True,
             off=("ST-06", "ST-07")),
        job("A4", "Take out windows and panel", (1, 1.5, 3), people=(TEO,), boat=True,
             zones=(PILOTHOUSE,), off=("ST-09", "ST-10", "ST-14"),
             cautions=f"Old panes break: gloves and goggles. {ELECTRICS}"),
        job("A5", "Take off swim platform and brackets", (0.5, 1, 2), people=(TEO,), helpers=1,
             boat=True, zones=(TRANSOM,), off=("ST-04", "ST-05")),
        job("A6", "Lift out aft hatch lid", (0.25, 0.5, 1), people=(MIRRE,), boat=True,
             zones=(COCKPIT,), off=("ST-13",)),
        job("B1", "Bottom: sand back old antifouling", (2, 3, 6), people=(MIRRE,), helpers=1,
             boat=True, zones=(BOTTOM,), bay=True, cautions=DUST, budget=300),
        job("B2", "Bottom: barrier primer", (1, 1.5, 3), people=(MIRRE,), boat=True,
             zones=(BOTTOM,), bay=True, hold_hours=12, hold_reason="dries before overcoating",
             cautions=SOLVENTS, budget=420, acceptance="No sags, no bare spots under a lamp."),
        job("B3", "Bottom: two coats of antifouling", (1, 2, 3), people=(MIRRE,), boat=True,
             zones=(BOTTOM,), bay=True, hold_hours=16, hold_reason="dry before the boat is moved",
             cautions=f"{SOLVENTS} Antifouling is a pesticide; its label is law in many places.",
             budget=560),
        job("B4", "Boot stripe", (0.5, 1, 2), people=(MIRRE,), boat=True, zones=(PORT, STARBOARD),
             hold_hours=24, hold_reason="two-part topcoat: handle after a day", budget=90,
             cautions=ISOCYANATES),
        job("C1", "Canvas: pattern on the frame", (1, 2, 3), vendor=BRACKWATER, place=LOFT,
             needs=("ST-02", "ST-08"), budget=900, price=880,
             acceptance="Pattern taken only on the coated frame with its hardware on."),
        job("C2", "Canvas: cut and sew", (10, 15, 24), vendor=BRACKWATER, place=LOFT,
             needs=("ST-08",), budget=3900, price=3840),
        job("C3", "Canvas: fit on the boat", (0.5, 1, 2), vendor=BRACKWATER, boat=True,
             zones=(PILOTHOUSE, COCKPIT), fits=("ST-08",), budget=400, price=400,
             acceptance="No flutter at trailer speed, zips run with one hand."),
        job("E1", "Wiring: survey and strip out", (1, 2, 4), vendor=TARBOTTLE, boat=True,
             zones=(ENGINE,), budget=700, price=720, cautions=ELECTRICS),
        job("E2", "Wiring: new harness and panel", (4, 6, 12), vendor=TARBOTTLE, boat=True,
             zones=(PILOTHOUSE, ENGINE), fits=("ST-14",), budget=4200, price=4350,
             cautions=ELECTRICS, acceptance="Insulation measured, wiring diagram drawn."),
        job("E3", "Engine bay: clean, hoses, paint", (2, 3, 5), people=(TEO,), boat=True,
             zones=(ENGINE,), hold_hours=24, hold_reason="bilge paint dries",
             budget=380, cautions=f"Fuel hoses: no spark, air first. {SOLVENTS}"),
        job("E4", "Electronics: commission", (0.5, 1, 3), vendor=TARBOTTLE, boat=True,
             zones=(PILOTHOUSE,), budget=600, price=600, cautions=ELECTRICS),
        job("F1", "Frame: weld cracks, new tabs, trial fit", (2, 4, 10), vendor=GANNETRY,
             place=METAL, needs=("ST-02",), budget=1400, price=1360, cautions=HOT_WORK,
             acceptance="All holes and tabs made before coating; drawing signed."),
        job("F2", "Frame: blast and spray coat", (2, 4, 8), vendor=SCOTER, place=BOOTH, bay=True,
             needs=("ST-02",), hold_hours=72, hold_reason="topcoat: light service after 3 days",
             budget=1250, price=1180, cautions=ISOCYANATES,
             acceptance="Film 80 to 120 % of the sheet's value at every spot; no bare edges."),
        job("F3", "Frame: fit hinges and hardware", (0.5, 1, 2), vendor=GANNETRY, place=METAL,
             needs=("ST-02",), budget=300, price=290),
        job("F4", "Fit frame on the boat", (0.5, 1, 2), people=(TEO,), helpers=1, boat=True,
             zones=(PILOTHOUSE,), fits=("ST-02",), hold_hours=48,
             hold_reason="sealant under the feet skins over", cautions=LIFT_TOW),
        job("G1", "Aft hatch lid: new core and skin", (3, 5, 8), vendor=WRACKLINE, place=MOULD,
             needs=("ST-13",), hold_hours=24, hold_reason="laminate cures", budget=650, price=640,
             cautions=SOLVENTS),
        job("G2", "Hang aft hatch lid", (0.25, 0.5, 1), people=(TEO,), boat=True,
             zones=(COCKPIT,), fits=("ST-13",)),
        job("H1", "Hull: fill gouges and crazing", (2, 5, 12), people=(TEO, MIRRE), boat=True,
             zones=(PORT, STARBOARD), hold_hours=24, hold_reason="gelcoat hardens before sanding",
             budget=480, cautions=SOLVENTS),
        job("H2", "Hull: wet-sand port side", (2, 4, 6), people=(MIRRE,), boat=True,
             zones=(PORT,), cautions=WET_TOOLS, budget=160,
             acceptance="Evenly matt, no scratch left of the grit before."),
        job("H3", "Hull: wet-sand starboard side", (2, 4, 6), people=(MIRRE,), boat=True,
             zones=(STARBOARD,), cautions=WET_TOOLS, budget=160,
             acceptance="Evenly matt, no scratch left of the grit before."),
        job("H4", "Hull: compound and polish", (2, 3, 5), people=(MIRRE,), helpers=1, boat=True,
             zones=(PORT, STARBOARD), cautions=WET_TOOLS, budget=140,
             acceptance="Gloss at 60° above 80 on every fixed station, before and after noted."),
        job("H5", "Transom: glass over old holes", (1, 2, 4), people=(TEO,), boat=True,
             zones=(TRANSOM,), hold_hours=24, hold_reason="laminate cures", budget=210,
             cautions=f"{BELOW_WATER} {SOLVENTS}"),
        job("L1", "Name and numbers", (0.25, 0.5, 1), people=(RUNA,), boat=True,
             zones=(PORT, STARBOARD), budget=180),
        job("M1", "Rub rail: bed and fit", (1, 2, 4), people=(TEO,), helpers=1, boat=True,
             zones=(PORT, STARBOARD), fits=("ST-11",), hold_hours=48,
             hold_reason="sealant skins over", budget=350, cautions=SOLVENTS,
             acceptance="Bedded on an unwaxed surface, no gap at the joints."),
        job("P1", "Swim platform: new moulding", (12, 18, 26), vendor=WRACKLINE, place=MOULD,
             needs=("ST-04",), hold_hours=48, hold_reason="laminate cures", budget=2100, price=2050,
             cautions=SOLVENTS),
        job("P2", "Platform brackets: weld", (0.5, 1, 2), vendor=GANNETRY, place=METAL,
             needs=("ST-05",), budget=260, price=240, cautions=HOT_WORK),
        job("P3", "Platform brackets: coat", (1, 1.5, 3), vendor=SCOTER, place=BOOTH, bay=True,
             needs=("ST-05",), hold_hours=72, hold_reason="topcoat: light service after 3 days",
             budget=220, price=210, cautions=ISOCYANATES),
        job("P3-R1", "Rework: platform brackets: coat", (0.25, 0.5, 1), vendor=SCOTER, place=BOOTH,
             needs=("ST-05",), cautions=ISOCYANATES),
        job("P4", "Fit swim platform", (1, 1.5, 3), people=(TEO,), helpers=1, boat=True,
             zones=(TRANSOM,), fits=("ST-04", "ST-05"), hold_hours=120,
             hold_reason="sealant cures before it is loaded", budget=120, cautions=BELOW_WATER),
        job("R1", "Bow rail: straighten and weld", (1, 2, 4), vendor=GANNETRY, place=METAL,
             needs=("ST-03",), budget=520, price=480, cautions=HOT_WORK),
        job("R2", "Bow rail: polish and passivate", (0.5, 1, 2), vendor=GANNETRY, place=METAL,
             needs=("ST-03",), budget=180, price=170,
             cautions=f"Passivating acids: gloves, goggles, air, water at hand. {SHEET}"),
        job("R3", "Fit bow rail", (0.5, 1, 2), people=(TEO,), boat=True, zones=(FOREDECK,),
             fits=("ST-03",), hold_hours=48, hold_reason="sealant skins over"),
        job("T1", "Trim tabs: mark, drill, seal the core", (0.5, 1, 2), people=(TEO,), boat=True,
             zones=(TRANSOM,), hold_hours=24, hold_reason="epoxy in the core cures",
             cautions=BELOW_WATER),
        job("T2", "Trim tabs: bed and connect", (0.5, 1, 2), people=(TEO,), boat=True,
             zones=(TRANSOM,), fits=("ST-12",), hold_hours=120,
             hold_reason="underwater sealant cures", budget=640,
             cautions=f"{BELOW_WATER} {ELECTRICS}"),
        job("U1", "Helm cushions: re-cover", (1, 2, 4), vendor=BRACKWATER, place=LOFT,
             needs=("ST-06",), budget=420, price=400),
        job("U2", "Cockpit cushions: new foam and covers", (8, 12, 20), vendor=BRACKWATER,
             place=LOFT, needs=("ST-07",), budget=1600, price=1540),
        job("U3", "Put cushions in", (0.25, 0.5, 1), people=(RUNA,), boat=True, zones=(COCKPIT,),
             fits=("ST-06", "ST-07")),
        job("V1", "Trailer: bearings, brakes, lights", (1, 1.5, 3), people=(TEO,), budget=450,
             cautions=LIFT_TOW),
        job("W1", "Side windows: new panes in old frames", (3, 6, 10), vendor=PETRELHAVEN,
             place=GLASS, needs=("ST-09",), budget=1500, price=1460),
        job("W2", "Windscreen: new centre pane", (2, 4, 8), vendor=PETRELHAVEN, place=GLASS,
             needs=("ST-10",), budget=900, price=890),
        job("W3", "Bed windows and windscreen", (1, 2, 4), people=(TEO,), helpers=1, boat=True,
             zones=(PILOTHOUSE,), fits=("ST-09", "ST-10"), hold_hours=72,
             hold_reason="bedding cures before hosing", budget=160, cautions=SOLVENTS,
             acceptance="Hosed for ten minutes, dry inside."),
        job("X1", "Clean, grease, load the trailer", (0.5, 1, 2), people=(TEO, MIRRE), boat=True),
        job("X2", "Launch", (0.25, 0.5, 1), people=(RUNA, TEO), place=RAMP, boat=True,
             in_one_go=True, cautions=LIFT_TOW, launch=True,
             acceptance="Every hole below the waterline dry after an hour afloat."),
        job("X3", "Float test and sea trial", (0.5, 1, 2), people=(RUNA, TEO), place=RAMP,
             boat=True, cautions="Life jackets, a second person, somebody ashore who knows."),
        job("X4", "Punch list and close-out", (1, 3, 8), people=(RUNA,), helpers=1, boat=True,
             place=RAMP),
    ]  # fmt: skip
    return sorted(rows, key=lambda row: row["code"])

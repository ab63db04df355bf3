"""What was looked at, measured and noted in the demo: survey, readings, climate, punch list.

The coated brackets fail their gloss at one station, are polished and pass. The numbers are made up;
the limits are common practice, no source.
"""

from __future__ import annotations

from typing import Any

from refit.interchange.document import PackageRow
from refit.interchange.document_quality import (
    BatchRow,
    ClimateEntryRow,
    CriterionRow,
    FittedItemRow,
    InspectionRow,
    ProcessRow,
    PunchItemRow,
    ReadingRow,
    ScaleRow,
    SurfaceRow,
    SurveyItemRow,
    WarrantyRow,
)

from .cast import (
    BOOTH,
    COCKPIT,
    ENGINE,
    MIRRE,
    PORT,
    RUNA,
    SCOTER,
    SHED,
    TEO,
    TRANSOM,
)
from .clock import FRI, MON, THU, TUE, WED, DemoClock

# An empty step: the package does all steps of the process.
STEPS: dict[str, tuple[str, str, str | None, str]] = {
    "B1": ("bottom-paint", "prepare", "22.2", "m2"),
    "B2": ("bottom-paint", "prime", "22.2", "m2"),
    "B3": ("bottom-paint", "antifouling", "22.2", "m2"),
    "B4": ("bottom-paint", "boot-stripe", "22.2", "m2"),
    "C1": ("canvas", "pattern", "1", "count"),
    "C2": ("canvas", "make", "1", "count"),
    "C3": ("canvas", "fit", "1", "count"),
    "E1": ("wiring", "strip-out", "1", "count"),
    "E2": ("wiring", "harness", "1", "count"),
    "E4": ("wiring", "commission", "1", "count"),
    "F1": ("frame-welding", "", "1", "count"),
    "F2": ("spray-coating", "", "1", "count"),
    "H1": ("gelcoat-refinish", "fill", "22.5", "m2"),
    "H2": ("gelcoat-refinish", "wet-sand", "11.3", "m2"),
    "H3": ("gelcoat-refinish", "wet-sand", "11.3", "m2"),
    "H4": ("gelcoat-refinish", "compound-polish", "22.5", "m2"),
    "M1": ("rub-rail", "bed-fit", "16.5", "m"),
    "P3": ("spray-coating", "", "2", "count"),
    "P3-R1": ("spray-coating", "topcoat", None, ""),
    "P4": ("platform", "", "1", "count"),
    "R1": ("bow-rail", "weld", "1", "count"),
    "R2": ("bow-rail", "polish", "1", "count"),
    "T1": ("trim-tabs", "mark-drill", "1", "count"),
    "T2": ("trim-tabs", "bed-connect", "1", "count"),
    "U2": ("upholstery", "make", "1", "count"),
    "W3": ("windows", "bed", "5", "count"),
    "X3": ("sea-trial", "", "1", "count"),
}


def name_processes(packages: list[PackageRow]) -> None:
    """Say of the packages which way of doing them they follow, and how much there is."""
    for row in packages:
        if row["code"] in STEPS:
            row["process"], row["step"], row["quantity"], unit = STEPS[row["code"]]
            row["unit"] = unit  # type: ignore[typeddict-item]


def processes() -> list[ProcessRow]:
    """One of their own, from what they learnt at the bow rail."""

    def step(key: str, title: str, each: list[int], cautions: list[str], **more: Any) -> Any:
        return {
            "key": key,
            "title": title,
            "time": {"setup": [0, 0, 0], "each": each, "standing": "own experience"},
            "cautions": cautions,
        } | more

    before = {"step": "weld", "reason": "polishing goes over the finished weld"}
    return [
        {
            "key": "bow-rail",
            "content": {
                "key": "bow-rail",
                "name": "Bow rail",
                "about": "Straighten, weld, polish and passivate a stainless rail.",
                "quantity": {"unit": "count", "of": "rails", "standing": "own experience"},
                "steps": [
                    step("weld", "Straighten and weld", [480, 960, 1920], ["hot-work"]),
                    step(
                        "polish", "Polish and passivate", [240, 480, 960], ["breathing"],
                        after=[before | {"standing": "own experience"}],
                    ),
                ],
            },
        }
    ]  # fmt: skip


def surfaces() -> list[SurfaceRow]:
    def one(
        name: str, shape: str, first: str, second: str, process: str, third: str | None = None
    ) -> SurfaceRow:
        row: Any = {
            "name": name, "shape": shape, "first": first, "second": second, "third": third,
            "count": 1, "process": process, "note": "",
        }  # fmt: skip
        return row  # type: ignore[no-any-return]

    return [
        one("Port side", "trapezium", "8.2", "7.1", "gelcoat-refinish", "1.05"),
        one("Starboard side", "trapezium", "8.2", "7.1", "gelcoat-refinish", "1.05"),
        one("Transom", "rectangle", "2.3", "0.95", "gelcoat-refinish"),
        one("Side deck, port", "band", "4.6", "0.3", ""),
    ]


def survey_items(clock: DemoClock) -> list[SurveyItemRow]:
    def one(code: str, system: str, title: str, condition: str, **more: object) -> SurveyItemRow:
        row: Any = {
            "code": code, "system": system, "title": title, "condition": condition, "reading": "",
            "piece": None, "zone": None, "process": "", "quantity": None, "price": None,
            "surveyed_at": clock.at(1, MON, "10:00"), "surveyed_by": RUNA, "proposal": "do",
            "package": None, "note": "",
        }  # fmt: skip
        return row | more  # type: ignore[no-any-return]

    return [
        one("S1", "Hull", "Sides dull and chalky", "Chalk comes off on the hand on both sides.",
            reading="gloss 60°: 22 to 31 GU", zone=PORT, process="gelcoat-refinish",
            quantity="22.5", package="H2"),
        one("S2", "Hull", "Gouges along the waterline", "Eleven, the longest a hand wide.",
            zone=PORT, process="gelcoat-refinish", package="H1"),
        one("S3", "Deck", "Soft spot beside the aft hatch", "Gives under the thumb.",
            reading="moisture meter off its scale", zone=COCKPIT, proposal="ask for quotes",
            price="640"),
        one("S4", "Electrics", "Wiring of three generations", "No labels, two splices under water.",
            zone=ENGINE, process="wiring", package="E2"),
        one("S5", "Deck", "Mooring cleats, two weep", "Rust marks below; backing plates thin.",
            process="bedding", quantity="4", price="180"),
        one("S6", "Deck", "Crazing at the windlass", "Fine, in the gelcoat only.",
            proposal="leave", note="Looked at again next winter."),
    ]  # fmt: skip


def scales() -> list[ScaleRow]:
    return [
        {
            "name": "Canvas, seams",
            "steps": [
                "straight, even stitches, no thread end",
                "straight, one or two thread ends",
                "wanders by a stitch width",
                "puckers, or a skipped stitch",
            ],
            "note": "seen from an arm's length in daylight",
        }
    ]


def criteria() -> list[CriterionRow]:
    def one(package: str, name: str, **more: object) -> CriterionRow:
        row: Any = {
            "package": package, "name": name, "method": "gloss", "geometry": "60", "scale": None,
            "rule": "at least", "low": "80", "high": None, "unit": "", "stations": 3,
            "standing": "common practice, no source",
        }  # fmt: skip
        return row | more  # type: ignore[no-any-return]

    return [
        one("H4", "H4 gloss"),
        one("P3", "P3 gloss", low="85", stations=4, standing="agreed with the shop"),
        one("P3", "P3 film", method="film", geometry="", rule="spots", low="100", high="120",
            stations=5, standing="published, read second-hand: SSPC-PA 2; nominal as agreed"),
        one("C2", "C2 seams", method="scale", geometry="", scale="Canvas, seams", rule="at most",
            low=None, high="2", stations=6),
    ]  # fmt: skip


def readings(clock: DemoClock) -> list[ReadingRow]:
    rows: list[ReadingRow] = []

    def read(
        package: str, station: str, values: tuple[str, ...], at: str, *, stage: str = "after",
        method: str = "gloss", geometry: str = "60", piece: str | None = None, by: str = RUNA,
        instrument: str = "gloss meter, 60°", note: str = "",
    ) -> None:  # fmt: skip
        row: Any = {
            "package": package, "piece": piece, "method": method, "geometry": geometry,
            "scale": None, "station": station, "stage": stage, "values": list(values), "unit": "",
            "instrument": instrument, "read_at": at, "read_by": by, "note": note,
        }  # fmt: skip
        rows.append(row)

    first = clock.at(1, MON, "11:00")
    for station, values in (
        ("Port, forward", ("24", "25", "24")), ("Port, midships", ("29", "31", "30")),
        ("Port, aft", ("26", "26", "25")), ("Starboard, forward", ("22", "23", "22")),
        ("Starboard, midships", ("28", "27", "28")), ("Starboard, aft", ("24", "24", "25")),
        ("Port, old name", ("41", "42", "40")),
    ):  # fmt: skip
        read("H4", station, values, first, stage="before", piece="ST-01")
    coated = clock.at(5, MON, "15:00")
    for station, values in (
        ("Left, top", ("90", "91", "89")), ("Left, foot", ("88", "89", "88")),
        ("Right, top", ("91", "90", "91")), ("Right, foot", ("71", "78", "73")),
    ):  # fmt: skip
        read("P3", station, values, coated, piece="ST-05", by=SCOTER)
    read("P3", "Right, foot", ("89", "88", "90"), clock.at(5, THU, "14:00"), piece="ST-05",
         by=SCOTER, note="polished out")  # fmt: skip
    for number, values in enumerate(
        (("104", "106", "103"), ("98", "101", "99"), ("111", "114", "112"), ("92", "95", "94"),
         ("107", "105", "108")), 1
    ):  # fmt: skip
        read("P3", f"Spot {number}", values, coated, method="film", geometry="", piece="ST-05",
             by=SCOTER, instrument="film gauge on aluminium")  # fmt: skip
    return rows


def climate(clock: DemoClock) -> list[ClimateEntryRow]:
    def one(
        place: str, package: str, at: str, air: str, humidity: str, surface: str | None, by: str
    ) -> ClimateEntryRow:
        return {
            "place": place, "package": package, "read_at": at, "air_c": air, "humidity": humidity,
            "surface_c": surface, "read_by": by, "note": "",
        }  # fmt: skip

    return [
        one(SHED, "H1", clock.at(2, MON, "08:00"), "17", "62", "16.5", TEO),
        one(BOOTH, "P3", clock.at(4, THU, "08:10"), "20", "55", "19.5", SCOTER),
        one(BOOTH, "F2", clock.at(5, FRI, "08:20"), "21", "52", "20", SCOTER),
        one(SHED, "B2", clock.at(6, TUE, "08:00"), "12", "84", "10.5", MIRRE),
        one(SHED, "B2", clock.at(6, WED, "08:15"), "14", "68", "13", MIRRE),
    ]


def inspections(clock: DemoClock) -> list[InspectionRow]:
    def one(
        outcome: str, sentence: str, at: str, note: str = "", rework: str | None = None
    ) -> InspectionRow:
        row: Any = {
            "package": "P3", "criterion": "P3 gloss", "outcome": outcome, "sentence": sentence,
            "inspected_at": at, "inspected_by": RUNA, "rework": rework, "note": note,
        }  # fmt: skip
        return row  # type: ignore[no-any-return]

    return [
        one(
            "failed",
            "Failed. 4 stations at 60°: 74 to 90.7 GU, mean 85.8. Wanted: at least 85 GU. "
            "Outside: Right, foot (74).",
            clock.at(5, TUE, "09:00"),
            f"Dry spray at the foot; {SCOTER} polishes it out at no charge.",
            rework="P3-R1",
        ),
        one(
            "passed",
            "Passed. 4 stations at 60°: 88.3 to 90.7 GU, mean 89.5. Wanted: at least 85 GU. "
            "Every station is inside.",
            clock.at(5, THU, "16:00"),
        ),
    ]


def punch_items(clock: DemoClock) -> list[PunchItemRow]:
    def one(code: str, title: str, **more: object) -> PunchItemRow:
        row: Any = {
            "code": code, "title": title, "description": "", "package": None, "piece": None,
            "person": None, "vendor": None, "due": None, "cost": None, "state": "open",
            "found_at": clock.at(5, THU, "16:30"), "done_at": None, "note": "",
        }  # fmt: skip
        return row | more  # type: ignore[no-any-return]

    return [
        one("PL1", "Run in the topcoat behind the left bracket", package="P3", piece="ST-05",
            vendor=SCOTER, due=clock.day(7, FRI), cost="0"),
        one("PL2", "One fastener of the bow rail is missing its cap", piece="ST-03", person=TEO,
            due=clock.day(6, TUE), cost="6.5"),
        one("PL3", "Masking left in the transom drain", package="H5", person=MIRRE,
            state="accepted", done_at=clock.at(5, FRI, "15:00"),
            description=f"Seen at the {TRANSOM}."),
    ]  # fmt: skip


def batches(clock: DemoClock) -> list[BatchRow]:
    return [
        {
            "package": "H1", "material": "gelcoat, off-white", "batch": "G-2231",
            "amount": "1.2 kg",
            "mix": "hardener 2 % by weight", "used_on": clock.day(2, MON), "note": "",
        },
        {
            "package": "P3", "material": "2-part topcoat, black", "batch": "T-0917",
            "amount": "0.4 L",
            "mix": "4 : 1 by volume",
            "used_on": clock.day(4, FRI), "note": "second coat same batch",
        },
    ]  # fmt: skip


def warranties(clock: DemoClock) -> list[WarrantyRow]:
    starts = clock.date(5, FRI)
    return [
        {
            "of": "coating of the platform brackets", "given_by": SCOTER, "package": "P3",
            "starts": starts.isoformat(),
            "ends": starts.replace(year=starts.year + 2, day=min(starts.day, 28)).isoformat(),
            "terms": "flaking and corrosion, not scratches",
        }
    ]  # fmt: skip


def fitted_items() -> list[FittedItemRow]:
    def one(kind: str, label: str, name: str, goes: tuple[str, str], size: str) -> FittedItemRow:
        row: Any = {
            "kind": kind, "label": label, "name": name, "goes_from": goes[0], "goes_to": goes[1],
            "size": size, "package": "E2", "note": "",
        }  # fmt: skip
        return row  # type: ignore[no-any-return]

    return [
        one("wire", "W01", "bilge pump, automatic", ("battery, before the switch", "pump"),
            "2.5 mm², fuse 5 A"),
        one("wire", "W02", "navigation lights", ("panel, row 1", "mast and bow"),
            "2.5 mm², fuse 5 A"),
        one("part", "E-01", "panel, 12 ways", ("pilothouse, starboard", ""), "as drawn"),
    ]  # fmt: skip

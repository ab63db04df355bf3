"""The refit document: one refit as plain data, the way it is exported, imported and planned from.

JSON types only. Rows refer to each other by the names people use: a package by its code, a piece
by its tag, a place, vendor, crew member or zone by its name; each is unique within the refit.
Dates are ``YYYY-MM-DD``; moments are ISO 8601 with an offset, written in UTC (``…+00:00``); times
of day are local ``HH:MM``; durations are whole minutes; money and measures are decimal strings,
metric. The published schema is ``refit.schema.json`` beside this file; the types here mirror it.

One refit has one document: rows are sorted by what they are called, moments are in UTC, decimals
carry no trailing zeros, nothing is left out. `check_document` accepts any order, any offset and
the schema's defaults, and returns that one form; so exporting, importing and exporting again
gives the same document.

Not in the document: accounts, private links, sent mail, pictures, computed plans and trips, the
journal.
"""

from __future__ import annotations

import json
from typing import Any, Literal, TypedDict, cast

from .document_contracts import ORDER_OF_ROWS, ContractRows
from .document_quality import (
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
from .references import reference_problems
from .schema import Problem, in_document_order, settled, shape_problems

FORMAT = "refit-document"
VERSION = 1


class BoatRow(TypedDict):
    name: str
    type: str
    built: int | None
    length_m: str | None
    waterline_m: str | None
    beam_m: str | None
    draft_m: str | None
    freeboard_m: str | None
    height_on_trailer_m: str | None
    weight_kg: str | None
    trailer_kg: str | None
    tongue_kg: str | None


class RefitRow(TypedDict):
    name: str
    slug: str
    start: str
    wanted_launch: str | None
    time_zone: str
    currency: str
    units: Literal["metric", "us"]
    hours_a_day: str
    road_factor: str
    road_speed_kmh: int
    loading_minutes: int
    contingency: str | None
    crew_rate: str | None
    goods_margin_days: int
    owner_sees: Literal["nothing", "totals", "packages"]
    owner_name: str
    owner_email: str
    owner_phone: str
    link_days: int
    closed_at: str | None
    note: str


class VendorRow(TypedDict):
    name: str
    trade: str
    contact: str
    phone: str
    email: str
    jobs_at_once: int
    note: str


class PaperRow(TypedDict):
    """What a vendor showed of its insurance, or what it is certified for."""

    vendor: str
    kind: Literal[
        "liability", "customers' property", "workers' compensation", "certificate", "other"
    ]
    number: str
    issuer: str
    covers: str | None
    valid_from: str | None
    valid_until: str | None
    note: str


class HoursRow(TypedDict):
    """``weekday`` 0 is Monday; ``closes`` "00:00" is midnight at the end of the day."""

    weekday: int
    opens: str
    closes: str


class DaysRow(TypedDict):
    first_day: str
    last_day: str
    reason: str


class PlaceRow(TypedDict):
    name: str
    kind: Literal["home", "shop", "ramp", "other"]
    vendor: str | None
    address: str
    phone: str
    latitude: str | None
    longitude: str | None
    bays: int
    holiday_country: str
    holiday_region: str
    note: str
    hours: list[HoursRow]
    closures: list[DaysRow]


class DistanceRow(TypedDict):
    origin: str
    destination: str
    kilometres: str | None
    minutes: int | None


class RigRow(TypedDict):
    name: str
    tows_boat: bool
    bed_length_m: str | None
    bed_width_m: str | None
    bed_load_kg: str | None
    per_km: str
    tow_limit_kg: str | None
    tongue_limit_kg: str | None
    tongue_low: str
    tongue_high: str
    country: str
    width_limit_m: str | None
    height_limit_m: str | None
    tie_downs_direct: int
    tie_downs_over: int
    tie_limit_kg: str | None
    blocked_forward: bool
    note: str


class DrivingRow(TypedDict):
    """``tow_speed``: with the boat behind, in % of the speed on the road."""

    day_starts: str
    day_ends: str
    saturdays: bool
    drivers: int
    nights: int
    per_hour: str
    per_trip: str
    per_night: str
    tow_speed: int
    weeks: int
    use_float: bool


class CrewRow(TypedDict):
    name: str
    skills: str
    phone: str
    email: str
    absences: list[DaysRow]


class ZoneRow(TypedDict):
    name: str


class PieceRow(TypedDict):
    tag: str
    name: str
    is_boat: bool
    shared: bool
    place: str | None
    fitted: bool
    since: str | None
    returns_to: str | None
    parts: int
    travels_with: str
    length_m: str | None
    width_m: str | None
    height_m: str | None
    weight_kg: str | None
    note: str


class PieceUseRow(TypedDict):
    piece: str
    effect: Literal["needs", "takes off", "fits"]


class PackageRow(TypedDict):
    code: str
    title: str
    scope: str
    vendor: str | None
    place: str
    takes_bay: bool
    people: list[str]
    helpers: int
    zones: list[str]
    pieces: list[PieceUseRow]
    low_minutes: int
    likely_minutes: int
    high_minutes: int
    unbroken: bool
    hold_minutes: int
    hold_reason: str
    budget: str | None
    agreed_price: str | None
    acceptance: str
    cautions: str
    is_agreed: bool
    process: str
    step: str
    quantity: str | None
    unit: Literal["", "m2", "m", "count"]
    is_launch: bool
    deadline: str | None
    deadline_reason: str
    promised: str | None
    started_at: str | None
    remaining_minutes: int | None
    finished_at: str | None


class DependencyRow(TypedDict):
    before: str
    after: str
    relation: Literal["finish-to-start", "start-to-start", "finish-to-finish", "start-to-finish"]
    min_lag_minutes: int
    max_lag_minutes: int | None
    lag_in: Literal["elapsed", "working"]
    reason: str


class BookingRow(TypedDict):
    package: str
    kind: Literal["starts", "not before"]
    at: str
    agreed_with: str
    note: str


class HandoffRow(TypedDict):
    piece: str
    origin: str
    destination: str
    for_package: str | None
    after_package: str | None
    carrier: Literal["crew", "vendor", "haulier"]
    state: Literal["planned", "ready", "under way", "received", "cancelled"]
    free_at: str | None
    depart_at: str | None
    arrive_at: str | None
    leave_by: str | None
    needed_at: str | None
    due_at: str | None
    promised_at: str | None
    promise_note: str
    drive_on: str | None
    drive_with: str | None
    ready_at: str | None
    ready_by: str
    sent_at: str | None
    sent_by: str
    sent_condition: str
    sent_parts: int | None
    received_at: str | None
    received_by: str
    received_condition: str
    received_parts: int | None
    cancelled_at: str | None


class FindingRow(TypedDict):
    code: str
    title: str
    description: str
    severity: Literal["cosmetic", "repair", "safety"]
    found_at: str
    found_in: str | None
    piece: str | None
    zone: str | None
    work_minutes: int | None
    price: str | None
    decide_by: str | None
    decision: Literal["waiting", "fix now", "ask the owner", "watch", "leave"]
    decided_at: str | None
    decided_by: str
    note: str


class WorkRows(TypedDict):
    """The boat, the refit and the work; `RefitDocument` has what is agreed for money as well."""

    format: Literal["refit-document"]
    version: Literal[1]
    boat: BoatRow
    refit: RefitRow
    vendors: list[VendorRow]
    papers: list[PaperRow]
    places: list[PlaceRow]
    distances: list[DistanceRow]
    rigs: list[RigRow]
    driving: DrivingRow
    crew: list[CrewRow]
    zones: list[ZoneRow]
    pieces: list[PieceRow]
    packages: list[PackageRow]
    dependencies: list[DependencyRow]
    bookings: list[BookingRow]
    handoffs: list[HandoffRow]
    findings: list[FindingRow]
    processes: list[ProcessRow]
    surfaces: list[SurfaceRow]
    survey_items: list[SurveyItemRow]
    scales: list[ScaleRow]
    criteria: list[CriterionRow]
    readings: list[ReadingRow]
    climate: list[ClimateEntryRow]
    inspections: list[InspectionRow]
    punch_items: list[PunchItemRow]
    batches: list[BatchRow]
    warranties: list[WarrantyRow]
    fitted_items: list[FittedItemRow]


class RefitDocument(WorkRows, ContractRows):
    """The whole document."""


class DocumentError(ValueError):
    """The data is no refit document, or not one that can be true. ``problems`` are sentences."""

    def __init__(self, problems: list[str]) -> None:
        self.problems = problems
        super().__init__("\n".join(problems))


def check_document(data: Any) -> RefitDocument:
    """``data`` (parsed JSON) as the one document it means.

    Raises `DocumentError` with everything that is wrong, each sentence saying where: what the
    schema forbids, names that are not in the document or there twice, dates and hours out of
    order, a second boat or launch, a package that waits for itself.
    """
    problems = document_problems(data)
    if problems:
        raise DocumentError([one.sentence for one in problems])
    return in_order(cast(RefitDocument, settled(data)))


def document_problems(data: Any) -> list[Problem]:
    """Everything that is wrong with ``data`` as a refit document, in the order of the document."""
    problems, complete = shape_problems(data)
    if complete:
        problems += reference_problems(data, {one.row for one in problems})
    else:
        problems.append(Problem((), "There is more like this; correct these first."))
    return in_document_order(problems)


def read_document(source: bytes | str) -> RefitDocument:
    """The document in a JSON text. Raises `DocumentError` when it is no JSON, or no document."""
    try:
        text = source.decode("utf-8-sig") if isinstance(source, bytes) else source
        data = json.loads(text, parse_constant=_no_such_number)
    except UnicodeDecodeError:
        raise DocumentError(["The file is not UTF-8 text, so it is no JSON document."]) from None
    except json.JSONDecodeError as error:
        raise DocumentError(
            [f"This is not JSON: line {error.lineno}, column {error.colno}: {error.msg}."]
        ) from None
    except RecursionError:
        raise DocumentError(["This JSON is nested too deeply to be a refit."]) from None
    except ValueError as error:
        raise DocumentError([f"This is not JSON: {error}."]) from None
    return check_document(data)


def write_document(document: RefitDocument) -> str:
    """The document as the text of a file: indented, readable, ending in a newline."""
    return json.dumps(document, ensure_ascii=False, indent=2) + "\n"


def _no_such_number(text: str) -> Any:
    raise ValueError(f"{text} is not a number in JSON")


def in_order(document: RefitDocument) -> RefitDocument:
    """The same document with every list sorted, so that equal refits give equal documents."""
    for name in ("vendors", "places", "rigs", "crew", "zones", "surfaces", "scales", "criteria"):
        document[name].sort(key=lambda row: row["name"])
    document["papers"].sort(key=lambda row: (row["vendor"], row["kind"], row["number"]))
    for place in document["places"]:
        place["hours"].sort(key=_by_everything)
        place["closures"].sort(key=_by_everything)
    for member in document["crew"]:
        member["absences"].sort(key=_by_everything)
    document["distances"].sort(key=lambda row: (row["origin"], row["destination"]))
    document["pieces"].sort(key=lambda row: row["tag"])
    document["packages"].sort(key=lambda row: row["code"])
    for package in document["packages"]:
        package["people"].sort()
        package["zones"].sort()
        package["pieces"].sort(key=lambda use: use["piece"])
    document["dependencies"].sort(key=lambda row: (row["before"], row["after"], row["relation"]))
    document["bookings"].sort(key=lambda row: row["package"])
    document["handoffs"].sort(key=lambda row: (row["depart_at"] or "~", _by_everything(row)))
    document["findings"].sort(key=lambda row: row["code"])
    for asked in [*document["inquiries"], *document["work_orders"]]:
        asked["packages"].sort()
    for name, keys in ORDER_OF_ROWS.items():
        rows: list[Any] = document[name]  # type: ignore[literal-required]
        rows.sort(key=lambda row, keys=keys: tuple(row[key] for key in keys))  # type: ignore[misc]
    document["survey_items"].sort(key=lambda row: row["code"])
    document["punch_items"].sort(key=lambda row: row["code"])
    document["processes"].sort(key=lambda row: row["key"])
    document["readings"].sort(key=_by_everything)
    document["climate"].sort(key=_by_everything)
    document["inspections"].sort(key=_by_everything)
    document["batches"].sort(key=_by_everything)
    document["warranties"].sort(key=_by_everything)
    document["fitted_items"].sort(key=_by_everything)
    return document


def _by_everything(row: Any) -> str:
    return json.dumps(row, sort_keys=True, ensure_ascii=False)

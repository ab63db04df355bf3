"""The refit document: one refit as plain data, the way it is exported, imported and planned from.

JSON types only. Rows refer to each other by the names people use: a package by its code, a piece
by its tag, a place, vendor, crew member or zone by its name; each is unique within the refit.
Dates are ``YYYY-MM-DD``; moments are ISO 8601 with an offset, written in UTC (``…+00:00``); times
of day are local ``HH:MM``; durations are whole minutes; money and measures are decimal strings,
metric. The published schema is ``refit.schema.json`` beside this file; the types here mirror it.

Not in the document: accounts, private links, sent mail, pictures, computed plans, the journal.
"""

from __future__ import annotations

from typing import Literal, TypedDict

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
    owner_name: str
    owner_email: str
    owner_phone: str
    note: str


class VendorRow(TypedDict):
    name: str
    trade: str
    contact: str
    phone: str
    email: str
    jobs_at_once: int
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
    hold_minutes: int
    hold_reason: str
    budget: str | None
    agreed_price: str | None
    acceptance: str
    cautions: str
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


class RefitDocument(TypedDict):
    format: Literal["refit-document"]
    version: Literal[1]
    boat: BoatRow
    refit: RefitRow
    vendors: list[VendorRow]
    places: list[PlaceRow]
    distances: list[DistanceRow]
    crew: list[CrewRow]
    zones: list[ZoneRow]
    pieces: list[PieceRow]
    packages: list[PackageRow]
    dependencies: list[DependencyRow]
    bookings: list[BookingRow]
    handoffs: list[HandoffRow]
    findings: list[FindingRow]

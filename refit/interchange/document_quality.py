"""The rows of the refit document about processes, surfaces, survey, quality and handing over.

Part of `refit.interchange.document`, where the notation is explained.
"""

from __future__ import annotations

from typing import Any, Literal, TypedDict


class ProcessRow(TypedDict):
    key: str
    content: dict[str, Any]


class SurfaceRow(TypedDict):
    name: str
    shape: Literal["rectangle", "triangle", "trapezium", "circle", "ellipse", "band", "area"]
    first: str | None
    second: str | None
    third: str | None
    count: int
    process: str
    note: str


class SurveyItemRow(TypedDict):
    code: str
    system: str
    title: str
    condition: str
    reading: str
    piece: str | None
    zone: str | None
    process: str
    quantity: str | None
    price: str | None
    surveyed_at: str
    surveyed_by: str
    proposal: Literal["waiting", "do", "ask for quotes", "leave"]
    package: str | None
    note: str


class ScaleRow(TypedDict):
    name: str
    steps: list[str]
    note: str


class CriterionRow(TypedDict):
    package: str
    name: str
    method: Literal["gloss", "film", "moisture", "torque", "insulation", "scale", "other"]
    geometry: Literal["", "20", "60", "85"]
    scale: str | None
    rule: Literal["at least", "at most", "between", "spots"]
    low: str | None
    high: str | None
    unit: str
    stations: int
    standing: str


class ReadingRow(TypedDict):
    package: str | None
    piece: str | None
    method: Literal["gloss", "film", "moisture", "torque", "insulation", "scale", "other"]
    geometry: Literal["", "20", "60", "85"]
    scale: str | None
    station: str
    stage: Literal["before", "after"]
    values: list[str]
    unit: str
    instrument: str
    read_at: str
    read_by: str
    note: str


class ClimateEntryRow(TypedDict):
    place: str
    package: str | None
    read_at: str
    air_c: str
    humidity: str
    surface_c: str | None
    read_by: str
    note: str


class InspectionRow(TypedDict):
    package: str
    criterion: str | None
    outcome: Literal["passed", "failed"]
    sentence: str
    inspected_at: str
    inspected_by: str
    rework: str | None
    note: str


class PunchItemRow(TypedDict):
    code: str
    title: str
    description: str
    package: str | None
    piece: str | None
    person: str | None
    vendor: str | None
    due: str | None
    cost: str | None
    state: Literal["open", "done", "accepted"]
    found_at: str
    done_at: str | None
    note: str


class BatchRow(TypedDict):
    package: str
    material: str
    batch: str
    amount: str
    mix: str
    used_on: str | None
    note: str


class WarrantyRow(TypedDict):
    of: str
    given_by: str
    package: str | None
    starts: str
    ends: str
    terms: str


class FittedItemRow(TypedDict):
    kind: Literal["wire", "part"]
    label: str
    name: str
    goes_from: str
    goes_to: str
    size: str
    package: str | None
    note: str

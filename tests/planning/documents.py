"""Refit documents for tests of planning: small, plain, every row made by one function."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any, cast

from refit.interchange.document import RefitDocument, check_document
from refit.planning.solve import Solved, solve

ZONE = "Europe/Lisbon"
MONDAY = datetime(2026, 11, 2, 8, 0, tzinfo=UTC)
"""A Monday morning in winter, when local time in Lisbon is UTC."""


def weekdays(opens: str = "08:00", closes: str = "17:00", days: int = 5) -> list[dict[str, Any]]:
    return [{"weekday": day, "opens": opens, "closes": closes} for day in range(days)]


def place(name: str, **fields: Any) -> dict[str, Any]:
    """Open Monday to Friday 08:00–17:00 if nothing else is said."""
    return {
        "name": name, "kind": "shop", "vendor": None, "address": "", "phone": "",
        "latitude": None, "longitude": None, "bays": 0, "holiday_country": "",
        "holiday_region": "", "note": "", "hours": weekdays(), "closures": [],
    } | fields  # fmt: skip


def days_off(first: str, last: str | None = None) -> dict[str, Any]:
    return {"first_day": first, "last_day": last or first, "reason": ""}


def vendor(name: str, jobs: int = 1) -> dict[str, Any]:
    return {
        "name": name, "trade": "", "contact": "", "phone": "", "email": "",
        "jobs_at_once": jobs, "note": "",
    }  # fmt: skip


def crew(name: str, *absences: dict[str, Any]) -> dict[str, Any]:
    return {"name": name, "skills": "", "phone": "", "email": "", "absences": list(absences)}


def piece(tag: str, where: str | None, **fields: Any) -> dict[str, Any]:
    return {
        "tag": tag, "name": f"Piece {tag}", "is_boat": False, "shared": False, "place": where,
        "fitted": False, "since": None, "returns_to": None, "parts": 1, "travels_with": "",
        "length_m": None, "width_m": None, "height_m": None, "weight_kg": None, "note": "",
    } | fields  # fmt: skip


def package(
    code: str,
    minutes: int = 480,
    *,
    at: str = "Shed",
    needs: tuple[str, ...] = (),
    takes_off: tuple[str, ...] = (),
    fits: tuple[str, ...] = (),
    **fields: Any,
) -> dict[str, Any]:
    uses = [
        *({"piece": tag, "effect": "needs"} for tag in needs),
        *({"piece": tag, "effect": "takes off"} for tag in takes_off),
        *({"piece": tag, "effect": "fits"} for tag in fits),
    ]
    return {
        "code": code, "title": f"Job {code}", "scope": "", "vendor": None, "place": at,
        "takes_bay": False, "people": [], "helpers": 0, "zones": [], "pieces": uses,
        "low_minutes": minutes, "likely_minutes": minutes, "high_minutes": minutes,
        "unbroken": False, "hold_minutes": 0, "hold_reason": "", "budget": None,
        "agreed_price": None,
        "acceptance": "", "cautions": "", "is_launch": False, "deadline": None,
        "deadline_reason": "", "promised": None, "started_at": None, "remaining_minutes": None,
        "finished_at": None,
    } | fields  # fmt: skip


def wait(before: str, after: str, **fields: Any) -> dict[str, Any]:
    return {
        "before": before, "after": after, "relation": "finish-to-start", "min_lag_minutes": 0,
        "max_lag_minutes": None, "lag_in": "elapsed", "reason": "one is under the other",
    } | fields  # fmt: skip


def booking(code: str, at: str, kind: str = "starts", agreed_with: str = "") -> dict[str, Any]:
    return {"package": code, "kind": kind, "at": at, "agreed_with": agreed_with, "note": ""}


def handoff(tag: str, origin: str, destination: str, **fields: Any) -> dict[str, Any]:
    return {
        "piece": tag, "origin": origin, "destination": destination, "for_package": None,
        "after_package": None, "carrier": "crew", "state": "planned", "free_at": None,
        "depart_at": None, "arrive_at": None, "leave_by": None, "needed_at": None,
        "due_at": None, "promised_at": None, "promise_note": "", "ready_at": None, "ready_by": "",
        "sent_at": None, "sent_by": "", "sent_condition": "", "sent_parts": None,
        "received_at": None, "received_by": "", "received_condition": "", "received_parts": None,
        "cancelled_at": None,
    } | fields  # fmt: skip


def distance(origin: str, destination: str, minutes: int) -> dict[str, Any]:
    """Minutes on the road; the documents here have no loading time."""
    return {
        "origin": origin, "destination": destination, "kilometres": None, "minutes": minutes,
    }  # fmt: skip


def a_document(*packages: dict[str, Any], **lists: Any) -> RefitDocument:
    """A refit from Monday 2 November 2026 in Lisbon, with one place "Shed" if none is given."""
    refit = {
        "name": "Pilothouse refit", "slug": "pilothouse", "start": "2026-11-02",
        "wanted_launch": None, "time_zone": ZONE, "currency": "EUR", "units": "metric",
        "hours_a_day": "8", "road_factor": "1.3", "road_speed_kmh": 50, "loading_minutes": 0,
        "owner_name": "", "owner_email": "", "owner_phone": "", "note": "",
        "link_days": 60, "closed_at": None,
    } | lists.pop("refit", {})  # fmt: skip
    boat = dict.fromkeys(
        (
            "built", "length_m", "waterline_m", "beam_m", "draft_m", "freeboard_m",
            "height_on_trailer_m", "weight_kg", "trailer_kg", "tongue_kg",
        )
    ) | {"name": "Sallow Tern", "type": ""}  # fmt: skip
    document: dict[str, Any] = {
        "format": "refit-document", "version": 1, "boat": boat, "refit": refit,
        "vendors": [], "places": [place("Shed")], "distances": [], "crew": [], "zones": [],
        "pieces": [], "packages": list(packages), "dependencies": [], "bookings": [],
        "handoffs": [], "findings": [],
    } | lists  # fmt: skip
    return check_document(cast(Any, document))


def dates(solved: Solved, code: str) -> tuple[str, str]:
    """Start and finish in the zone of the refit, as “Mon 08:00”-like strings with the day."""
    planned = solved.answers[code].planned
    clock = solved.built.clock
    return tuple(f"{clock.local(m):%a %d %b %H:%M}" for m in (planned.start, planned.finish))  # type: ignore[return-value]


def solved(document: RefitDocument, now: datetime = MONDAY) -> Solved:
    return solve(document, now)

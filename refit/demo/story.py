"""What has happened by Wednesday morning of week 6: progress, handoffs, findings, bookings."""

from __future__ import annotations

from dataclasses import dataclass

from refit.interchange.document import BookingRow, FindingRow, HandoffRow, PackageRow

from .cast import (
    BOOTH,
    BRACKWATER,
    COCKPIT,
    GANNETRY,
    GLASS,
    LOFT,
    METAL,
    MOULD,
    PETRELHAVEN,
    RUNA,
    SCOTER,
    SHED,
    TARBOTTLE,
    TEO,
    TRANSOM,
    WRACKLINE,
)
from .clock import FRI, MON, SAT, THU, TUE, WED, DemoClock


@dataclass(frozen=True)
class _Done:
    """Actual start and, if over, actual finish; or working minutes left."""

    code: str
    start: tuple[int, int, str]
    finish: tuple[int, int, str] | None = None
    left_hours: float | None = None
    promised: tuple[int, int, str] | None = None


PROGRESS = (
    _Done("A1", (0, MON, "09:00"), (0, TUE, "17:00")),
    _Done("A3", (0, WED, "08:00"), (0, WED, "11:30")),
    _Done("A2", (0, WED, "12:30"), (1, MON, "12:00")),
    _Done("A6", (1, MON, "12:30"), (1, MON, "16:30")),
    _Done("A4", (1, MON, "12:30"), (1, TUE, "16:00")),
    _Done("A5", (1, WED, "08:00"), (1, WED, "16:00")),
    _Done("H5", (1, THU, "08:00"), (1, FRI, "16:30")),
    _Done("H1", (2, MON, "08:00"), (2, SAT, "13:00")),
    _Done("F1", (2, TUE, "07:30"), (3, THU, "15:00")),
    _Done("R1", (2, TUE, "07:30"), (2, THU, "12:00")),
    _Done("P2", (2, THU, "12:30"), (2, FRI, "14:00")),
    _Done("R2", (4, MON, "08:00"), (4, TUE, "10:00")),
    _Done("U1", (2, THU, "09:00"), (3, TUE, "12:00")),
    _Done("E1", (3, MON, "08:00"), (3, TUE, "17:00")),
    _Done("V1", (3, MON, "08:00"), (3, TUE, "12:00")),
    _Done("G1", (2, WED, "08:00"), (3, WED, "15:00")),
    _Done("E3", (3, WED, "08:00"), (3, FRI, "16:00")),
    _Done("B1", (3, MON, "08:00"), (3, THU, "12:00")),
    _Done("T1", (5, MON, "08:00"), (5, MON, "16:30")),
    _Done("P3", (4, THU, "08:00"), (5, MON, "12:00")),
    _Done("P3-R1", (5, WED, "13:00"), (5, THU, "12:00")),
    _Done("H3", (4, TUE, "08:00"), (5, MON, "15:00")),
    _Done("F2", (4, WED, "08:00"), left_hours=10, promised=(6, MON, "16:00")),
    _Done("P1", (2, THU, "08:00"), left_hours=38),
    _Done("U2", (3, WED, "09:00"), left_hours=52),
    _Done("W1", (3, TUE, "08:00"), left_hours=14),
    _Done("W2", (4, MON, "08:00"), left_hours=22),
    _Done("H2", (5, THU, "08:00"), left_hours=9),
    _Done("R3", (6, TUE, "08:00"), left_hours=3),
)


def tell_progress(rows: list[PackageRow], clock: DemoClock) -> None:
    """Write what has happened into the package rows."""
    by_code = {row["code"]: row for row in rows}
    for done in PROGRESS:
        row = by_code[done.code]
        row["started_at"] = clock.at(*done.start)
        if done.finish is not None:
            row["finished_at"] = clock.at(*done.finish)
        if done.left_hours is not None:
            row["remaining_minutes"] = round(done.left_hours * 60)
        if done.promised is not None:
            row["promised"] = clock.at(*done.promised)


Moment = tuple[int, int, str]


def _move(
    clock: DemoClock,
    piece: str,
    origin: str,
    destination: str,
    *,
    after: str | None,
    needed_for: str | None,
    sent: Moment | None = None,
    received: Moment | None = None,
    receiver: str = "",
    sender: str = RUNA,
    parts: int = 1,
    left_in: str = "as photographed",
    came_in: str = "as sent",
    received_parts: int | None = None,
    due: Moment | None = None,
    promised: Moment | None = None,
    promise_note: str = "",
    ready: Moment | None = None,
    ready_by: str = "",
) -> HandoffRow:
    def at(moment: Moment | None) -> str | None:
        return None if moment is None else clock.at(*moment)

    state = "received" if received else "under way" if sent else "ready" if ready else "planned"
    return {
        "piece": piece,
        "origin": origin,
        "destination": destination,
        "for_package": needed_for,
        "after_package": after,
        "carrier": "crew",
        "state": state,  # type: ignore[typeddict-item]
        "free_at": at(sent),
        "depart_at": at(sent),
        "arrive_at": at(received),
        "leave_by": at(sent),
        "needed_at": at(received),
        "due_at": at(due),
        "promised_at": at(promised),
        "promise_note": promise_note,
        "drive_on": None,
        "drive_with": None,
        "ready_at": at(ready),
        "ready_by": ready_by,
        "sent_at": at(sent),
        "sent_by": sender if sent else "",
        "sent_condition": left_in if sent else "",
        "sent_parts": parts if sent else None,
        "received_at": at(received),
        "received_by": receiver if received else "",
        "received_condition": came_in if received else "",
        "received_parts": (received_parts or parts) if received else None,
        "cancelled_at": None,
    }


def handoffs(clock: DemoClock) -> list[HandoffRow]:
    rows = [
        # Monday of week 2: frame, rail and brackets go to the metal shop on one drive
        _move(clock, "ST-02", SHED, METAL, after="A2", needed_for="F1", sent=(2, MON, "13:00"),
              received=(2, MON, "14:00"), receiver=GANNETRY,
              left_in="two cracks at the aft feet, marked with tape"),
        _move(clock, "ST-03", SHED, METAL, after="A2", needed_for="R1", sent=(2, MON, "13:00"),
              received=(2, MON, "14:00"), receiver=GANNETRY, parts=2,
              left_in="starboard leg bent, scratches on both"),
        _move(clock, "ST-05", SHED, METAL, after="A5", needed_for="P2", sent=(2, MON, "13:00"),
              received=(2, MON, "14:00"), receiver=GANNETRY, parts=2),
        _move(clock, "ST-04", SHED, MOULD, after="A5", needed_for="P1", sent=(2, TUE, "10:00"),
              received=(2, TUE, "11:00"), receiver=WRACKLINE, left_in="skin loose, core wet"),
        _move(clock, "ST-13", SHED, MOULD, after="A6", needed_for="G1", sent=(2, TUE, "10:00"),
              received=(2, TUE, "11:00"), receiver=WRACKLINE, left_in="soft in the middle"),
        _move(clock, "ST-06", SHED, LOFT, after="A3", needed_for="U1", sent=(2, WED, "10:20"),
              received=(2, WED, "11:20"), receiver=BRACKWATER, parts=2),
        _move(clock, "ST-07", SHED, LOFT, after="A3", needed_for="U2", sent=(2, WED, "10:20"),
              received=(2, WED, "11:20"), receiver=BRACKWATER, parts=6,
              came_in="one zip missing on the long cushion"),
        _move(clock, "ST-09", SHED, GLASS, after="A4", needed_for="W1", sent=(3, MON, "09:00"),
              received=(3, MON, "10:00"), receiver=PETRELHAVEN, parts=4),
        _move(clock, "ST-10", SHED, GLASS, after="A4", needed_for="W2", sent=(3, MON, "09:00"),
              received=(3, MON, "10:00"), receiver=PETRELHAVEN, parts=3,
              left_in="centre pane crazed, frames sound"),
        _move(clock, "ST-02", METAL, BOOTH, after="F1", needed_for="F2", sent=(4, TUE, "09:30"),
              received=(4, TUE, "10:40"), receiver=SCOTER, ready=(3, THU, "15:10"),
              ready_by=GANNETRY, due=(3, FRI, "16:00"), came_in="all tabs on, six new holes"),
        _move(clock, "ST-05", METAL, BOOTH, after="P2", needed_for="P3", sent=(4, TUE, "09:30"),
              received=(4, TUE, "10:40"), receiver=SCOTER, parts=2, ready=(2, FRI, "14:10"),
              ready_by=GANNETRY, due=(3, FRI, "16:00")),
        _move(clock, "ST-03", METAL, SHED, after="R2", needed_for="R3", sent=(5, FRI, "13:00"),
              received=(5, FRI, "14:10"), receiver=TEO, parts=2, ready=(4, TUE, "10:30"),
              ready_by=GANNETRY, due=(4, THU, "16:00")),
        # still open
        _move(clock, "ST-02", BOOTH, METAL, after="F2", needed_for="F3", due=(6, MON, "16:00"),
              promised=(6, MON, "16:00"), promise_note="second coat on Friday, then it cures"),
        _move(clock, "ST-05", BOOTH, SHED, after="P3-R1", needed_for="P4", ready=(5, FRI, "10:00"),
              ready_by=SCOTER, due=(5, FRI, "15:00")),
        _move(clock, "ST-13", MOULD, SHED, after="G1", needed_for="G2", ready=(4, MON, "09:00"),
              ready_by=WRACKLINE, due=(4, FRI, "17:00")),
        _move(clock, "ST-06", LOFT, SHED, after="U1", needed_for="U3", ready=(3, TUE, "13:00"),
              ready_by=BRACKWATER, due=(4, FRI, "17:00")),
        _move(clock, "ST-09", GLASS, SHED, after="W1", needed_for="W3", due=(6, FRI, "16:00")),
        _move(clock, "ST-10", GLASS, SHED, after="W2", needed_for="W3", due=(7, TUE, "16:00")),
        _move(clock, "ST-04", MOULD, SHED, after="P1", needed_for="P4", due=(7, WED, "16:00")),
        _move(clock, "ST-07", LOFT, SHED, after="U2", needed_for="U3", due=(8, FRI, "17:00")),
    ]  # fmt: skip
    return rows


def bookings(clock: DemoClock) -> list[BookingRow]:
    return [
        {
            "package": "C1",
            "kind": "not before",
            "at": clock.at(7, THU, "09:00"),
            "agreed_with": "Odile Marrin",
            "note": "the big table is free from Thursday",
        },
        {
            "package": "E2",
            "kind": "starts",
            "at": clock.at(7, MON, "08:00"),
            "agreed_with": "Nuria Skaife",
            "note": f"{TARBOTTLE} comes to the shed with the van",
        },
    ]


def findings(clock: DemoClock) -> list[FindingRow]:
    return [
        {
            "code": "N1",
            "title": "Soft core beside the aft hatch",
            "description": (
                "The deck gives under the thumb over two hand-breadths at the hinge side; "
                "moisture from the old hinge screws."
            ),
            "severity": "repair",
            "found_at": clock.at(1, MON, "16:20"),
            "found_in": "A6",
            "piece": "ST-01",
            "zone": COCKPIT,
            "work_minutes": 3 * 480,
            "price": "640.00",
            "decide_by": clock.at(6, FRI, "17:00"),
            "decision": "waiting",
            "decided_at": None,
            "decided_by": "",
            "note": "Best done before the hatch lid is hung.",
        },
        {
            "code": "N2",
            "title": "Pitted drain fitting on the transom",
            "description": "Pink and pitted; sound enough to hold water, not to trust afloat.",
            "severity": "safety",
            "found_at": clock.at(1, THU, "10:05"),
            "found_in": "H5",
            "piece": "ST-01",
            "zone": TRANSOM,
            "work_minutes": 240,
            "price": "110.00",
            "decide_by": clock.at(7, WED, "17:00"),
            "decision": "ask the owner",
            "decided_at": None,
            "decided_by": "",
            "note": "",
        },
    ]

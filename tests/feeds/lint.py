"""A calendar looked at byte by byte, because no reader catches everything.

Knows what our feeds use of RFC 5545, and our invitations of RFC 5546, and nothing more; shares no
code with what writes them.
"""

from __future__ import annotations

import re

ONCE_IN_CALENDAR = ("VERSION", "PRODID")
ONCE_IN_EVENT = ("UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY")
STATUSES = {"CONFIRMED", "CANCELLED", "TENTATIVE"}
DATE = re.compile(r"\d{8}")
LOCAL_TIME = re.compile(r"\d{8}T\d{6}")
# RFC 9253: the temporal relations may have a gap, a duration of RFC 5545.
RELATION = re.compile(
    r"(GAP=-?P(\d+D)?(T(\d+H)?(\d+M)?)?;)?RELTYPE=(FINISH|START)TO(START|FINISH)"
    r"|RELTYPE=DEPENDS-ON"
)
UTC_TIME = re.compile(r"\d{8}T\d{6}Z")
# A TEXT value (3.3.11): no bare comma or semicolon, a backslash only in an escape.
TEXT = re.compile(r"(?:[^\\,;]|\\[\\,;nN])*")
TEXTS = ("SUMMARY", "DESCRIPTION", "LOCATION", "NAME", "X-WR-CALNAME", "PRODID")


def lint(data: bytes, method: str = "") -> list[str]:
    """All faults found, as sentences; empty if there are none. ``method``: of an invitation."""
    faults: list[str] = []
    if not data.endswith(b"\r\n"):
        faults.append("does not end with CRLF")
    lines = data.split(b"\r\n")[:-1] if data.endswith(b"\r\n") else data.split(b"\r\n")
    for number, line in enumerate(lines, 1):
        if b"\n" in line or b"\r" in line:
            faults.append(f"line {number}: bare CR or LF")
        if len(line) > 75:
            faults.append(f"line {number}: longer than 75 octets")
        if not line:
            faults.append(f"line {number}: empty")
        try:
            text = line.decode()
        except UnicodeDecodeError:
            faults.append(f"line {number}: not UTF-8 by itself, folded inside a character")
            continue
        if any((ord(c) < 32 and c != "\t") or ord(c) == 127 for c in text.strip("\r\n")):
            faults.append(f"line {number}: control character")
    unfolded = re.sub(rb"\r\n[ \t]", b"", data).decode(errors="replace")
    return faults + _components([line for line in unfolded.split("\r\n") if line], method)


def _components(lines: list[str], method: str) -> list[str]:
    faults: list[str] = []
    stack: list[str] = []
    seen: list[dict[str, list[tuple[str, str]]]] = []
    uids: set[str] = set()
    used: set[str] = set()
    told: set[str] = set()
    for line in lines:
        head, colon, value = line.partition(":")
        if not colon:
            faults.append(f"no colon: {line}")
            continue
        name, _, parameters = head.partition(";")
        name = name.upper()
        if name == "BEGIN":
            stack.append(value)
            seen.append({})
        elif name == "END":
            if not stack or stack[-1] != value:
                faults.append(f"END:{value} without its BEGIN")
                continue
            stack.pop()
            properties = seen.pop()
            if value == "VCALENDAR":
                faults += _calendar(properties, method)
                faults += [f"zone {zone} is not told" for zone in used - told]
            elif value == "VEVENT":
                faults += _event(properties, uids)
                faults += _invitation(properties, method)
                used |= set(re.findall(r"TZID=([^;:]+)", str(properties["DTSTART"][0][0])))
            elif value == "VTIMEZONE":
                told |= {zone for _parameters, zone in properties.get("TZID", [])}
            elif value in ("STANDARD", "DAYLIGHT"):
                faults += _observance(properties)
            else:
                faults.append(f"component {value} is not ours")
        elif not seen:
            faults.append(f"outside of a calendar: {line}")
        else:
            seen[-1].setdefault(name, []).append((parameters, value))
            if name in TEXTS and not TEXT.fullmatch(value):
                faults.append(f"{name} is not escaped: {value}")
    if stack:
        faults.append(f"not ended: {stack}")
    return faults


Properties = dict[str, list[tuple[str, str]]]


def _calendar(properties: Properties, method: str) -> list[str]:
    faults = [
        f"calendar: {name} not once" for name in ONCE_IN_CALENDAR if _times(properties, name) != 1
    ]
    said = [value for _parameters, value in properties.get("METHOD", [])]
    if said != ([method] if method else []):
        faults.append(f"calendar: METHOD {said}, not {method or 'without one'}")
    return faults


ADDRESS = re.compile(r"mailto:[^@\s]+@[^@\s]+")


def _invitation(properties: Properties, method: str) -> list[str]:
    """RFC 5546, the tables of REQUEST and CANCEL for VEVENT: one ORGANIZER, SEQUENCE, attendees
    with addresses; whoever is asked has not answered yet and is asked to."""
    if not method:
        return [f"event: {n} in a feed" for n in ("ORGANIZER", "ATTENDEE") if n in properties]
    faults = [
        f"event: {n} not once" for n in ("ORGANIZER", "SEQUENCE") if _times(properties, n) != 1
    ]
    people = properties.get("ATTENDEE", [])
    if not people:
        faults.append("event: nobody is asked")
    faults += [
        f"event: {address} is no address"
        for _parameters, address in people + properties.get("ORGANIZER", [])
        if not ADDRESS.fullmatch(address)
    ]
    for parameters, _address in people:
        if method == "REQUEST" and not {"PARTSTAT=NEEDS-ACTION", "RSVP=TRUE"} <= set(
            parameters.split(";")
        ):
            faults.append(f"event: ATTENDEE with {parameters}")
    wanted = "CANCELLED" if method == "CANCEL" else "CONFIRMED"
    if [value for _parameters, value in properties.get("STATUS", [])] != [wanted]:
        faults.append(f"event: STATUS is not {wanted}")
    return faults


def _event(properties: Properties, uids: set[str]) -> list[str]:
    faults = [f"event: {name} not once" for name in ONCE_IN_EVENT if _times(properties, name) != 1]
    if faults:
        return faults
    uid = properties["UID"][0][1]
    if uid in uids:
        faults.append(f"UID {uid} twice")
    uids.add(uid)
    (start_parameters, start), (end_parameters, end) = (
        properties["DTSTART"][0],
        properties["DTEND"][0],
    )
    if start_parameters != end_parameters:
        faults.append(f"{uid}: DTSTART and DTEND of different kinds")
    form = DATE if start_parameters == "VALUE=DATE" else UTC_TIME
    if start_parameters.startswith("TZID="):
        form = LOCAL_TIME
    if not form.fullmatch(start) or not form.fullmatch(end):
        faults.append(f"{uid}: {start} or {end} is neither a date nor a time in UTC")
    elif end <= start:
        faults.append(f"{uid}: DTEND does not come after DTSTART")
    if not UTC_TIME.fullmatch(properties["DTSTAMP"][0][1]):
        faults.append(f"{uid}: DTSTAMP is not a time in UTC")
    for parameters, _other in properties.get("RELATED-TO", []):
        if not RELATION.fullmatch(parameters):
            faults.append(f"{uid}: RELATED-TO with {parameters}")
    for _parameters, status in properties.get("STATUS", []):
        if status not in STATUSES:
            faults.append(f"{uid}: STATUS {status}")
    return faults


def _observance(properties: Properties) -> list[str]:
    """RFC 5545, 3.6.5: onset local and without a zone, both offsets, a yearly rule or none."""
    faults = [
        f"observance: {name} not once"
        for name in ("DTSTART", "TZOFFSETFROM", "TZOFFSETTO")
        if _times(properties, name) != 1
    ]
    if faults:
        return faults
    if not LOCAL_TIME.fullmatch(properties["DTSTART"][0][1]) or properties["DTSTART"][0][0]:
        faults.append("observance: DTSTART is not a local time")
    for name in ("TZOFFSETFROM", "TZOFFSETTO"):
        if not re.fullmatch(r"[+-]\d{4}(\d{2})?", properties[name][0][1]):
            faults.append(f"observance: {name} {properties[name][0][1]}")
    for _parameters, rule in properties.get("RRULE", []):
        if not re.fullmatch(r"FREQ=YEARLY;BYDAY=-?[1-4][A-Z]{2};BYMONTH=\d{1,2}", rule):
            faults.append(f"observance: RRULE {rule}")
    return faults


def _times(properties: Properties, name: str) -> int:
    return len(properties.get(name, []))

"""The lint itself: it must find what is broken, or it proves nothing."""

import pytest

from .lint import lint

GOOD = (
    "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//x//EN\r\n"
    "BEGIN:VEVENT\r\nUID:1@x\r\nDTSTAMP:20261125T090000Z\r\n"
    "DTSTART;VALUE=DATE:20261126\r\nDTEND;VALUE=DATE:20261127\r\n"
    "SUMMARY:Weld\\, then coat\r\nSTATUS:CONFIRMED\r\nEND:VEVENT\r\n"
    "BEGIN:VEVENT\r\nUID:2@x\r\nDTSTAMP:20261125T090000Z\r\n"
    "DTSTART:20261126T080000Z\r\nDTEND:20261126T090000Z\r\n"
    "SUMMARY:Long\r\n er\r\nEND:VEVENT\r\n"
    "END:VCALENDAR\r\n"
)


def test_a_good_calendar_has_no_fault() -> None:
    assert lint(GOOD.encode()) == []


@pytest.mark.parametrize(
    ("good", "broken", "fault"),
    [
        ("\r\nVERSION", "\nVERSION", "bare CR or LF"),
        ("END:VCALENDAR\r\n", "END:VCALENDAR", "does not end with CRLF"),
        ("Long\r\n er", "x" * 70, "longer than 75 octets"),
        ("UID:2@x", "UID:1@x", "twice"),
        ("UID:2@x\r\n", "", "UID not once"),
        ("DTSTAMP:20261125T090000Z\r\nDTSTART;", "DTSTART;", "DTSTAMP not once"),
        ("DTEND;VALUE=DATE:20261127", "DTEND;VALUE=DATE:20261126", "does not come after"),
        ("DTEND:20261126T090000Z", "DTEND:20261126T080000Z", "does not come after"),
        ("DTEND:20261126T090000Z", "DTEND;VALUE=DATE:20261127", "different kinds"),
        ("DTSTART:20261126T080000Z", "DTSTART:20261126T080000", "neither a date nor a time"),
        ("STATUS:CONFIRMED", "STATUS:MAYBE", "STATUS MAYBE"),
        ("Weld\\, then", "Weld, then", "not escaped"),
        ("Weld\\, then", "Weld\\x then", "not escaped"),
        ("Weld", "We\x07ld", "control character"),
        ("VERSION:2.0\r\n", "VERSION:2.0\r\nMETHOD:PUBLISH\r\n", "METHOD"),
        ("PRODID:-//x//EN\r\n", "", "PRODID not once"),
        ("END:VEVENT\r\nEND", "END", "without its BEGIN"),
        ("SUMMARY:Long", "SUMMARY Long", "no colon"),
        ("BEGIN:VEVENT\r\nUID:2", "BEGIN:VTODO\r\nUID:2", "without its BEGIN"),
    ],
)
def test_a_broken_calendar_is_found(good: str, broken: str, fault: str) -> None:
    assert good in GOOD
    faults = lint(GOOD.replace(good, broken, 1).encode())
    assert any(fault in said for said in faults), faults


def test_a_character_cut_by_folding_is_found() -> None:
    cut = GOOD.encode().replace(b"Long\r\n er", b"\xc3\r\n \xa9")
    assert any("not UTF-8" in said for said in lint(cut))


def test_a_character_longer_than_it_looks_counts_in_octets() -> None:
    assert any("75 octets" in said for said in lint(GOOD.replace("Long", "é" * 35).encode()))

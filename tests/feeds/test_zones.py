"""VTIMEZONEs of ours, read by a library that knows nothing of them, against the zone data."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from dateutil.tz import tzical

from refit.feeds.zones import local_time, zone_component

ZONES = [
    "America/Halifax", "America/St_Johns", "Europe/Lisbon", "Europe/Dublin", "Atlantic/Faroe",
    "Australia/Hobart", "Pacific/Auckland", "America/Los_Angeles", "Asia/Kolkata",
    "Atlantic/Reykjavik", "Australia/Lord_Howe",
]  # fmt: skip


def read(component: Any) -> Any:
    """The zone as dateutil reads it from the text."""
    import io

    return tzical(io.StringIO(component.to_ical().decode().replace("\r\n", "\n"))).get()


@pytest.mark.parametrize("name", ZONES)
def test_every_hour_of_three_years_has_the_offset_of_the_zone_data(name: str) -> None:
    zone = ZoneInfo(name)
    component = zone_component(zone, date(2026, 11, 1), date(2028, 12, 31))
    assert component is not None
    theirs = read(component)
    moment = datetime(2026, 10, 1, tzinfo=UTC)
    while moment.year < 2029:
        local = local_time(moment, zone)
        if local is not None:
            naive = local.replace(tzinfo=None)
            assert naive.replace(tzinfo=theirs).utcoffset() == local.utcoffset(), moment
        moment += timedelta(minutes=30)


def test_the_rules_of_halifax_are_those_of_the_law() -> None:
    # Nova Scotia's Time Definition Act and tzdata's rule "Canada" since 2007: second Sunday in
    # March at 02:00 to first Sunday in November at 02:00.
    component = zone_component(ZoneInfo("America/Halifax"), date(2026, 11, 25), date(2027, 3, 1))
    assert component is not None
    lines = component.to_ical().decode().split("\r\n")
    assert "RRULE:FREQ=YEARLY;BYDAY=2SU;BYMONTH=3" in lines
    assert "RRULE:FREQ=YEARLY;BYDAY=1SU;BYMONTH=11" in lines
    assert "DTSTART:20250309T020000" in lines
    assert "TZOFFSETFROM:-0300" in lines
    assert "TZOFFSETTO:-0300" in lines
    assert "TZNAME:ADT" in lines


def test_the_second_of_two_equal_hours_has_no_local_time() -> None:
    zone = ZoneInfo("America/Halifax")
    first = datetime(2027, 11, 7, 4, 30, tzinfo=UTC)
    assert local_time(first, zone) is not None
    assert local_time(first + timedelta(hours=1), zone) is None
    assert local_time(first + timedelta(hours=2), zone) is not None


@pytest.mark.parametrize("name", ["Africa/Casablanca", "Asia/Gaza"])
def test_a_zone_without_a_yearly_rule_gets_none(name: str) -> None:
    # Both follow the moon: no rule by month and weekday tells them.
    assert zone_component(ZoneInfo(name), date(2026, 11, 1), date(2027, 12, 31)) is None

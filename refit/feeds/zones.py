"""A time zone as a VTIMEZONE of RFC 5545, 3.6.5: two observances with a yearly rule each.

Made from the zone data that the rest of refit reckons with, so that a calendar program that knows
no zones, or other ones, shows the same instants. Where the zone cannot be told by yearly rules over
the years that matter, there is none, and times are written in UTC.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from icalendar import Timezone, TimezoneDaylight, TimezoneStandard
from icalendar.prop import vRecur

LOOK_AHEAD = 9
"""Years over which a rule has to hold before it is believed: “fourth” and “last” differ within."""
_EVER = datetime(1970, 1, 1, tzinfo=UTC).replace(tzinfo=None)
WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")


@dataclass(frozen=True)
class Change:
    """The clocks change at ``at``, local time before the change."""

    at: datetime
    before: timedelta
    after: timedelta
    name: str


def zone_component(zone: ZoneInfo, first: date, last: date) -> Timezone | None:
    """The zone for events from ``first`` to ``last``; None if yearly rules do not tell it."""
    years = range(first.year - 1, max(last.year + 2, first.year + LOOK_AHEAD))
    changes = [change for year in years for change in _changes(zone, year)]
    component = Timezone()
    component.add("tzid", zone.key)
    if not changes:
        moment = datetime(first.year, 1, 1, tzinfo=zone)
        offset = moment.utcoffset() or timedelta()
        component.add_component(
            _observance(Change(_EVER, offset, offset, moment.tzname() or zone.key))
        )
        return component
    for kind in sorted({(c.before, c.after, c.name) for c in changes}):
        rows = [c for c in changes if (c.before, c.after, c.name) == kind]
        rule = _rule(rows)
        if len(rows) != len(years) or rule is None:
            return None
        component.add_component(_observance(rows[0], rule))
    return component if len(changes) == 2 * len(years) else None


def local_time(moment: datetime, zone: ZoneInfo) -> datetime | None:
    """``moment`` in the zone; None in the hour that comes twice, the second time round.

    RFC 5545, 3.3.5: a local time that occurs twice means the first of the two.
    """
    local = moment.astimezone(zone).replace(microsecond=0)
    return None if local.fold else local


def _changes(zone: ZoneInfo, year: int) -> list[Change]:
    found = []
    day = datetime(year, 1, 1, tzinfo=UTC)
    while day.year == year:
        following = day + timedelta(days=1)
        if _offset(day, zone) != _offset(following, zone):
            low, high = day, following
            while high - low > timedelta(seconds=1):
                middle = low + (high - low) // 2
                middle = middle.replace(microsecond=0)
                if _offset(middle, zone) == _offset(day, zone):
                    low = middle
                else:
                    high = middle
            before, after = _offset(low, zone), _offset(high, zone)
            name = high.astimezone(zone).tzname() or zone.key
            found.append(Change((high + before).replace(tzinfo=None), before, after, name))
        day = following
    return found


def _offset(moment: datetime, zone: ZoneInfo) -> timedelta:
    return moment.astimezone(zone).utcoffset() or timedelta()


def _rule(rows: list[Change]) -> vRecur | None:
    """“Last Sunday in October”, if that is true of every year."""
    if len({(c.at.month, c.at.weekday(), c.at.time()) for c in rows}) != 1:
        return None
    places = {-1, 1, 2, 3, 4}
    for change in rows:
        is_last = (change.at + timedelta(days=7)).month != change.at.month
        places &= {(change.at.day - 1) // 7 + 1} | ({-1} if is_last else set())
    if len(places) != 1:
        return None
    at = rows[0].at
    day = f"{places.pop()}{WEEKDAYS[at.weekday()]}"
    return vRecur({"FREQ": "YEARLY", "BYMONTH": at.month, "BYDAY": day})


def _observance(change: Change, rule: vRecur | None = None) -> TimezoneStandard | TimezoneDaylight:
    daylight = change.after > change.before
    made = TimezoneDaylight() if daylight else TimezoneStandard()
    made.add("dtstart", change.at)
    made.add("tzoffsetfrom", change.before)
    made.add("tzoffsetto", change.after)
    made.add("tzname", change.name)
    if rule is not None:
        made.add("rrule", rule)
    return made

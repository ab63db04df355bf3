"""How long finished packages really took: open time of their place between start and finish.

Opening hours and closures count; public holidays and a day off of somebody do not, so a rate that
spans one is too high, never too low. A place without hours counts the clock in working days.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from .models import Closure, OpeningHours, Refit, WorkPackage

Span = tuple[int, time, time]


def worked_minutes(packages: Iterable[WorkPackage]) -> dict[int, int]:
    """Minutes by the id of each package that is finished; packages come with their refit."""
    done = [one for one in packages if one.started_at and one.finished_at]
    places = {one.place_id for one in done}
    hours: dict[int, list[Span]] = defaultdict(list)
    for row in OpeningHours.objects.filter(place__in=places):
        hours[row.place_id].append((row.weekday, row.opens, row.closes))
    shut: dict[int, list[tuple[date, date]]] = defaultdict(list)
    for closure in Closure.objects.filter(place__in=places):
        shut[closure.place_id].append((closure.first_day, closure.last_day))
    return {
        one.pk: open_minutes(
            one.started_at, one.finished_at, hours[one.place_id], shut[one.place_id],
            one.refit.zone,
        )
        for one in done
        if one.started_at and one.finished_at
    }  # fmt: skip


def open_minutes(
    start: datetime,
    finish: datetime,
    hours: list[Span],
    shut: list[tuple[date, date]],
    zone: ZoneInfo,
) -> int:
    """Minutes between two moments in which a place with these hours is open."""
    if not hours:
        return round((finish - start).total_seconds() / 60)
    first, last = start.astimezone(zone), finish.astimezone(zone)
    total, day = timedelta(), first.date()
    while day <= last.date():
        if not any(a <= day <= b for a, b in shut):
            for weekday, opens, closes in hours:
                if weekday == day.weekday():
                    end_day = day + timedelta(days=1) if closes == time(0) else day
                    a = max(first, datetime.combine(day, opens, zone))
                    b = min(last, datetime.combine(end_day, closes, zone))
                    total += max(b - a, timedelta())
        day += timedelta(days=1)
    return round(total.total_seconds() / 60)


Rates = dict[tuple[str, str], list[tuple[float, Decimal | None]]]


def past_work(refits: Iterable[Refit]) -> Rates:
    """Minutes and quantity of every finished package of these refits, by process and step."""
    rows = list(
        WorkPackage.objects.filter(refit__in=refits, finished_at__isnull=False)
        .exclude(process="")
        .select_related("refit")
    )
    worked = worked_minutes(rows)
    found: Rates = defaultdict(list)
    for row in rows:
        found[row.process, row.step].append((float(worked[row.pk]), row.quantity))
    return found

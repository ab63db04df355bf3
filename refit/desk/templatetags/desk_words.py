"""Spans, measures and states for the templates of the desk."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django import template
from django.http import HttpRequest
from django.utils import timezone

from refit.desk.rooms import Frame, frame
from refit.work import measures
from refit.work.models import Refit
from refit.work.processes import Limit
from refit.work.wording import say_day

register = template.Library()


@register.filter
def until(start: datetime | None, finish: datetime | None) -> str:
    """``{{ start|until:finish }}`` → “Thu 26 – Fri 27 Nov”, “Thu 26 Nov 08:00–12:00”."""
    if not start or not finish:
        return ""
    one, other = timezone.localtime(start), timezone.localtime(finish)
    today = timezone.localdate()
    if one.date() == other.date():
        times = f"{one:%H:%M}" if one == other else f"{one:%H:%M}–{other:%H:%M}"
        return f"{say_day(one.date(), today)} {times}"
    first = say_day(one.date(), today)
    if (one.year, one.month) == (other.year, other.month):
        first = " ".join(first.split()[:2])
    return f"{first} – {say_day(other.date(), today)}"


@register.filter
def clock(value: datetime | None) -> str:
    """“14:00”."""
    return "" if not value else f"{timezone.localtime(value):%H:%M}"


@register.filter
def in_length(value: Decimal | None, refit: Refit) -> str:
    return measures.length(refit.units).say(value or None)


@register.filter
def in_weight(value: Decimal | None, refit: Refit) -> str:
    return measures.weight(refit.units).say(value or None)


@register.filter
def at(names: dict[str, str], key: str) -> str:
    """What the key is called; the key itself where nobody knows."""
    return names.get(key, key)


@register.filter
def in_area(value: Decimal | None, refit: Refit) -> str:
    return "" if value is None else measures.area(refit.units).say(round(value, 2))


@register.filter
def area_number(value: Decimal, refit: Refit) -> str:
    return measures.area(refit.units).show(round(value, 3))


@register.filter
def say_limit(limit: Limit) -> str:
    """“surface at least 3 °C above the dew point”."""
    unit = "%" if limit.what == "humidity" else "°C"
    spans = [
        f"{word} {value} {unit}"
        for word, value in (("at least", limit.least), ("at most", limit.most))
        if value is not None
    ]
    said = " and ".join(spans)
    return (
        f"surface {said} above the dew point"
        if limit.what == "spread"
        else (f"{limit.what} {said}")
    )


@register.simple_tag
def frame_of(request: HttpRequest) -> Frame:
    """The rooms at the top and the pages of the one that is open."""
    here = request.resolver_match
    return frame(here.url_name or "" if here else "")

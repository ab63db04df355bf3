"""`refit.work.wording` for templates. Moments are shown in the zone that the view activated."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django import template
from django.utils import timezone

from refit.work import wording

register = template.Library()


@register.filter
def day(value: date | datetime | None) -> str:
    """``{{ handoff.due_at|day }}`` → “Mon 23 Nov”."""
    if not value:  # None, or the empty text that a template makes of what is not there
        return ""
    if isinstance(value, datetime):
        value = timezone.localtime(value).date()
    return wording.say_day(value, timezone.localdate())


@register.filter
def moment(value: datetime | None) -> str:
    """``{{ handoff.due_at|moment }}`` → “Mon 23 Nov 16:00”."""
    if not value:  # None, or the empty text that a template makes of what is not there
        return ""
    return wording.say_moment(value, timezone.get_current_timezone(), timezone.localdate())


@register.filter
def near(value: date | datetime | None) -> str:
    """“in 3 days”."""
    if not value:  # None, or the empty text that a template makes of what is not there
        return ""
    if isinstance(value, datetime):
        value = timezone.localtime(value).date()
    return wording.say_near(value, timezone.localdate())


@register.filter
def working_time(minutes: int | None, hours_a_day: Decimal | int = 8) -> str:
    return "" if not isinstance(minutes, int) else wording.say_working_time(minutes, hours_a_day)


@register.filter
def elapsed(minutes: int | None) -> str:
    return "" if not isinstance(minutes, int) else wording.say_elapsed(minutes)


@register.filter
def money(amount: Decimal | None, currency: str) -> str:
    return "" if not isinstance(amount, Decimal) else wording.say_money(amount, currency)

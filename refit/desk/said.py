"""Facts in words, for the journal and for a form that came too late.

Foreign rows are kept in the journal by id; their names are looked up once a page, one query for
each kind that occurs.
"""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from django.db.models import (
    BooleanField,
    DateTimeField,
    DecimalField,
    ForeignKey,
    Model,
)

from refit.work import measures
from refit.work.hours import write_days, write_hours
from refit.work.models import Piece, PieceEffect, Refit, Weekday, WorkPackage
from refit.work.services.facts import PARTS, plain_fields
from refit.work.wording import (
    say_day,
    say_elapsed,
    say_list,
    say_moment,
    say_money,
    say_working_time,
)

_ELAPSED = {"hold_minutes"}
_WORKING = {"low_minutes", "likely_minutes", "high_minutes", "remaining_minutes", "work_minutes"}
_MONEY = {"budget", "agreed_price", "price", "covers"}
NOTHING = "nothing"


def _has_field(model: type[Model], name: str) -> bool:
    """A column or a relation of its own, not one that leads to it from elsewhere."""
    return any(field.name == name and not field.auto_created for field in model._meta.get_fields())


class FactWords:
    """Says facts of one refit. Moments in its zone, measures in its units."""

    def __init__(self, refit: Refit) -> None:
        self.refit = refit
        self._names: dict[type[Model], dict[Any, str]] = {}

    def _name(self, model: type[Model], pk: Any) -> str:
        if model not in self._names:
            rows = model._default_manager.filter(refit=self.refit)
            self._names[model] = {row.pk: str(row) for row in rows}
        return self._names[model].get(pk, "something that is gone")

    def label(self, model: type[Model], name: str) -> str:
        """“Working time, likely”."""
        if name == "put":
            return "Pieces"
        if name in PARTS.get(model, {}):
            said = PARTS[model][name].label
        elif _has_field(model, name):
            said = str(model._meta.get_field(name).verbose_name)  # type: ignore[union-attr]
        else:
            said = name.replace("_", " ")
        return said[:1].upper() + said[1:]

    def say(self, model: type[Model], name: str, value: Any) -> str:
        """One fact; “nothing” for an empty one."""
        if value in (None, "", []):
            return NOTHING
        if name in PARTS.get(model, {}) or name == "put":
            return self._part(name, value)
        if isinstance(value, list) and _has_field(model, name):
            related = model._meta.get_field(name).related_model
            assert isinstance(related, type)
            return say_list([self._name(related, pk) for pk in value])
        return self._plain(model, name, value)

    def can_say(self, model: type[Model], name: str, value: Any) -> bool:
        """There are words for it: other rooms note things that only they read."""
        if name in PARTS.get(model, {}) or name == "put":
            return True
        return _has_field(model, name) or not isinstance(value, dict | list)

    def _plain(self, model: type[Model], name: str, value: Any) -> str:
        field = plain_fields(model).get(name)
        if field is None:
            return str(value)
        if isinstance(field, ForeignKey):
            return self._name(field.related_model, value)
        if isinstance(field, BooleanField):
            return "yes" if value else "no"
        try:
            value = field.to_python(value)
        except (ValueError, TypeError, InvalidOperation):
            return str(value)
        if isinstance(field, DateTimeField):
            return self._moment(value)
        if isinstance(value, date):
            return say_day(value)
        if isinstance(value, int) and name.endswith("_minutes"):
            if name in _WORKING:
                return say_working_time(value, self.refit.hours_a_day)
            return say_elapsed(value)
        if isinstance(field, DecimalField):
            return self._number(name, value)
        if field.choices:
            return str(dict(field.flatchoices).get(value, value))
        return str(value)

    def _number(self, name: str, value: Decimal) -> str:
        if name in _MONEY:
            return say_money(value, self.refit.currency)
        if name.endswith("_m"):
            return measures.length(self.refit.units).say(value)
        if name.endswith("_kg"):
            return measures.weight(self.refit.units).say(value)
        return f"{value.normalize():f}"

    def _moment(self, value: datetime) -> str:
        return say_moment(value, self.refit.zone)

    def _part(self, name: str, value: Any) -> str:
        if name == "booking":
            at = WorkPackage._meta.get_field("deadline").to_python(value["at"])
            return f"{value['kind']} {self._moment(at)}"
        if name == "pieces":
            return say_list(
                [f"{self._name(Piece, pk)} ({PieceEffect(effect).label})" for pk, effect in value]
            )
        if name == "put":
            return say_list(
                [
                    f"{self._name(Piece, pk)} {'on' if on else 'off'} the boat"
                    for pk, on, *_ in value
                ]
            )
        if name == "hours":
            return "; ".join(f"{Weekday(day).label[:3]} {write_hours([s])}" for day, *s in value)
        return "; ".join(write_days(*span) for span in value)

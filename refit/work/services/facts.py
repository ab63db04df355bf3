"""The facts of a row: everything a form can change about it, as JSON values.

Facts are what an edit form carries to notice that somebody else was quicker, what the journal
keeps before and after, and what undo puts back. A fact that lives in rows of its own (the opening
hours of a place, the pieces of a package) is a part: it is read and written as one value.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Field, ForeignKey, ManyToManyField, Model

from refit.work.models import (
    Absence,
    Booking,
    Closure,
    CrewMember,
    OpeningHours,
    PieceUse,
    Place,
    WorkPackage,
)

Facts = dict[str, Any]

_NOT_FACTS = {"id", "refit", "boat", "slug", "user"}


@dataclass(frozen=True)
class Part:
    """One value kept in other rows. ``write`` replaces them; both expect a stored row."""

    label: str
    read: Callable[[Any], Any]
    write: Callable[[Any, Any], None]


def _read_booking(package: WorkPackage) -> Any:
    booking = Booking.objects.filter(package=package).first()
    if booking is None:
        return None
    return {
        "kind": booking.kind,
        "at": booking.at,
        "agreed_with": booking.agreed_with,
        "note": booking.note,
    }


def _write_booking(package: WorkPackage, value: Any) -> None:
    Booking.objects.filter(package=package).delete()
    if value:
        at = Booking._meta.get_field("at").to_python(value["at"])
        booking = Booking(package=package, **{**value, "at": at})
        booking.full_clean()
        booking.save()


def _read_pieces(package: WorkPackage) -> Any:
    return sorted([u.piece_id, u.effect] for u in PieceUse.objects.filter(package=package))


def _write_pieces(package: WorkPackage, value: Any) -> None:
    PieceUse.objects.filter(package=package).delete()
    known = set(package.refit.pieces.values_list("pk", flat=True))
    PieceUse.objects.bulk_create(
        PieceUse(package=package, piece_id=piece, effect=effect)
        for piece, effect in value
        if piece in known
    )


def _read_hours(place: Place) -> Any:
    rows = OpeningHours.objects.filter(place=place).order_by("weekday", "opens")
    return [[h.weekday, f"{h.opens:%H:%M}", f"{h.closes:%H:%M}"] for h in rows]


def _write_hours(place: Place, value: Any) -> None:
    OpeningHours.objects.filter(place=place).delete()
    rows = [OpeningHours(place=place, weekday=d, opens=a, closes=b) for d, a, b in value]
    for row in rows:
        row.full_clean()
        row.save()


def _days(label: str, model: type[Closure] | type[Absence], owner: str) -> Part:
    """Spans of days, each in a row of ``model`` that belongs to ``owner``."""

    def read(one: Model) -> Any:
        rows = model._default_manager.filter(**{owner: one}).order_by("first_day", "id")
        return [[r.first_day.isoformat(), r.last_day.isoformat(), r.reason] for r in rows]

    def write(one: Model, value: Any) -> None:
        model._default_manager.filter(**{owner: one}).delete()
        for first, last, reason in value:
            row = model(**{owner: one}, first_day=first, last_day=last, reason=reason)
            row.full_clean()
            row.save()

    return Part(label, read, write)


PARTS: dict[type[Model], dict[str, Part]] = {
    WorkPackage: {
        "booking": Part("booking", _read_booking, _write_booking),
        "pieces": Part("pieces", _read_pieces, _write_pieces),
    },
    Place: {
        "hours": Part("opening hours", _read_hours, _write_hours),
        "closures": _days("closures", Closure, "place"),
    },
    CrewMember: {"absences": _days("days away", Absence, "member")},
}


def as_json(value: Any) -> Any:
    """The value as it comes back from a JSON column."""
    return json.loads(json.dumps(value, cls=DjangoJSONEncoder))


def plain_fields(model: type[Model]) -> dict[str, Field[Any, Any]]:
    """The columns that are facts, by name."""
    return {
        field.name: field
        for field in model._meta.concrete_fields
        if field.editable and field.name not in _NOT_FACTS
    }


def _links(model: type[Model]) -> dict[str, ManyToManyField[Any, Any]]:
    """Many-to-many facts without a row of their own, by name."""
    return {
        field.name: field
        for field in model._meta.many_to_many
        if field.remote_field.through is not None and field.remote_field.through._meta.auto_created
    }


def facts_of(row: Model) -> Facts:
    """All facts of a stored row."""
    model = type(row)
    facts: Facts = {
        name: field.value_from_object(row) for name, field in plain_fields(model).items()
    }
    for name in _links(model):
        facts[name] = sorted(other.pk for other in getattr(row, name).all())
    for name, part in PARTS.get(model, {}).items():
        facts[name] = part.read(row)
    result: Facts = as_json(facts)
    return result


def put_plain(row: Model, facts: Facts) -> None:
    """Set the columns among ``facts`` on the row, without saving it."""
    fields = plain_fields(type(row))
    for name, value in facts.items():
        if name in fields:
            field = fields[name]
            setattr(row, field.attname, _in_python(field, value))


def put_rest(row: Model, facts: Facts) -> None:
    """Write the facts that live in other rows; the row itself is stored already."""
    model = type(row)
    parts = PARTS.get(model, {})
    links = _links(model)
    for name, value in facts.items():
        if name in links:
            target = links[name].related_model
            getattr(row, name).set(target._default_manager.filter(pk__in=value))
        elif name in parts:
            parts[name].write(row, value)


def _in_python(field: Field[Any, Any], value: Any) -> Any:
    if isinstance(value, Model):
        value = value.pk
    if isinstance(field, ForeignKey):
        return field.target_field.to_python(value)
    return field.to_python(value)


def differing(model: type[Model], one: Facts, other: Facts) -> list[str]:
    """Names of the facts that are in both and do not mean the same ("12" is "12.00")."""
    fields = plain_fields(model)
    names = []
    for name in one:
        if name not in other:
            continue
        a, b = one[name], other[name]
        if name in fields:
            a, b = _in_python(fields[name], as_json(a)), _in_python(fields[name], as_json(b))
        else:
            a, b = as_json(a), as_json(b)
        if a != b:
            names.append(name)
    return names

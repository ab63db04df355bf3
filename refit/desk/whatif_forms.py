"""Small forms, one for each change that can be tried. Each cleans to a change (`whatif_changes`).

The rows that can be chosen are read once for all of them (`Rows`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, ClassVar

from django import forms
from django.utils import timezone

from refit.planning.whatif_changes import Change
from refit.work.models import BookingKind, Piece, Place, Refit, Vendor, WorkPackage
from refit.work.wording import say_count, say_day, say_list, say_moment, say_working_time

from .fields import MomentField, day_field, working_time
from .forms import PlainForm

NONE = ("", "–")


@dataclass(frozen=True)
class Rows:
    """What can be chosen in the forms of one refit, by id."""

    refit: Refit
    packages: dict[int, WorkPackage]
    vendors: dict[int, Vendor]
    places: dict[int, Place]
    pieces: dict[int, Piece]

    @classmethod
    def of(cls, refit: Refit) -> Rows:
        """Four queries."""
        return cls(
            refit,
            {row.pk: row for row in WorkPackage.objects.filter(refit=refit).order_by("code")},
            {row.pk: row for row in Vendor.objects.filter(refit=refit).order_by("name")},
            {row.pk: row for row in Place.objects.filter(refit=refit).order_by("name")},
            {row.pk: row for row in Piece.objects.filter(refit=refit)},
        )

    def unfinished(self, *, begun: bool = True) -> list[tuple[int, str]]:
        return [
            (pk, str(row))
            for pk, row in self.packages.items()
            if not row.is_finished and (begun or not row.is_started)
        ]


def _choice(label: str, choices: list[tuple[int, str]], **options: Any) -> forms.TypedChoiceField:
    return forms.TypedChoiceField(
        label=label,
        choices=[NONE, *choices],
        coerce=int,
        empty_value=None,
        **options,
    )


def _choices(label: str, choices: list[tuple[int, str]], **options: Any) -> Any:
    return forms.TypedMultipleChoiceField(
        label=label,
        choices=choices,
        coerce=int,
        required=False,
        widget=forms.SelectMultiple(attrs={"size": 5}),
        **options,
    )


class ChangeForm(PlainForm):
    """``kind`` as in `whatif_changes`; ``heading`` is what its button and its fold are called."""

    kind: ClassVar[str]
    heading: ClassVar[str]

    def __init__(self, *args: Any, rows: Rows, **options: Any) -> None:
        self.rows = rows
        super().__init__(*args, auto_id=f"{self.kind}_%s", **options)
        for name, field in self.own_fields(rows).items():
            field.template_name = "desk/_field.html"  # type: ignore[attr-defined]
            self.fields[name] = field

    def own_fields(self, rows: Rows) -> dict[str, forms.Field]:
        raise NotImplementedError

    def change(self) -> Change:
        """The change, valid forms only."""
        return {"kind": self.kind, "said": self.said(self.cleaned_data)} | self.values(
            self.cleaned_data
        )

    def said(self, data: dict[str, Any]) -> str:
        raise NotImplementedError

    def values(self, data: dict[str, Any]) -> dict[str, Any]:
        return data

    def working(self, minutes: int) -> str:
        return say_working_time(minutes, self.rows.refit.hours_a_day)

    def moment(self, at: datetime) -> str:
        return say_moment(at, self.rows.refit.zone, timezone.localdate())


class LateForm(ChangeForm):
    kind, heading = "late", "A vendor is late"

    def own_fields(self, rows: Rows) -> dict[str, forms.Field]:
        theirs = [
            (pk, str(row))
            for pk, row in rows.packages.items()
            if row.vendor_id is not None and not row.is_finished
        ]
        return {
            "vendor": _choice("Vendor", [(pk, str(row)) for pk, row in rows.vendors.items()]),
            "package": _choice(
                "With which package",
                theirs,
                required=False,
                help_text="Empty: with all that it has begun, or else with its next one.",
            ),
            "days": forms.IntegerField(
                label="Days late",
                min_value=1,
                max_value=366,
                help_text="Days on which the shop is open, counted from the finish now planned.",
            ),
        }

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        package = self.rows.packages.get(data.get("package") or 0)
        if package is not None and data.get("vendor") not in (None, package.vendor_id):
            self.add_error("package", f"{package} is not done by this vendor.")
        return data

    def said(self, data: dict[str, Any]) -> str:
        vendor = self.rows.vendors[data["vendor"]]
        what = self.rows.packages.get(data["package"] or 0, "what it has in hand")
        return f"{vendor} is {say_count(data['days'], 'day')} late with {what}"


class AddForm(ChangeForm):
    kind, heading = "add", "A package is added"

    def own_fields(self, rows: Rows) -> dict[str, forms.Field]:
        packages = rows.unfinished()
        places = [(pk, str(row)) for pk, row in rows.places.items()]
        return {
            "code": forms.CharField(label="Code", max_length=20),
            "title": forms.CharField(label="Title", max_length=160),
            "place": _choice("Where", places),
            "vendor": _choice(
                "Done by",
                [(pk, str(row)) for pk, row in rows.vendors.items()],
                required=False,
                help_text="Empty: our own crew.",
            ),
            "minutes": working_time(
                rows.refit.hours_a_day, label="Working time", help_text="With its unit: 2 d, 6 h."
            ),
            "helpers": forms.IntegerField(
                label="Hands of ours", min_value=0, max_value=50, required=False
            ),
            "budget": forms.DecimalField(
                label=f"Budget, {rows.refit.currency}",
                min_value=0,
                max_digits=12,
                decimal_places=2,
                required=False,
            ),
            "after": _choices(
                "Starts after", [(pk, str(row)) for pk, row in rows.packages.items()]
            ),
            "before": _choices(
                "Before", packages, help_text="Without anything here it holds nobody up."
            ),
            "pieces": _choices("Pieces that must be there", [
                (pk, str(row)) for pk, row in rows.pieces.items()
            ]),
            "reason": forms.CharField(
                label="Physical reason for the order",
                max_length=240,
                required=False,
                help_text="What goes wrong otherwise.",
            ),
        }  # fmt: skip

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        code = (data.get("code") or "").strip()
        for row in self.rows.packages.values():
            if row.code.lower() == code.lower():
                self.add_error("code", f"{code} is taken by “{row}”. Choose another code.")
        place, vendor = self.rows.places.get(data.get("place") or 0), data.get("vendor")
        if place is not None and vendor and place.vendor_id not in (None, vendor):
            self.add_error("place", f"{place} belongs to another vendor.")
        both = set(data.get("after") or ()) & set(data.get("before") or ())
        if both:
            names = say_list(sorted(str(self.rows.packages[pk]) for pk in both))
            self.add_error("before", f"It cannot come both after and before {names}.")
        if (data.get("after") or data.get("before")) and not data.get("reason"):
            self.add_error("reason", "Say why the order matters: every dependency has its reason.")
        return data

    def said(self, data: dict[str, Any]) -> str:
        place = self.rows.places[data["place"]]
        return (
            f"{data['code']} {data['title']} is added: {self.working(data['minutes'])} at {place}"
        )

    def values(self, data: dict[str, Any]) -> dict[str, Any]:
        budget = data["budget"]
        return data | {
            "helpers": data["helpers"] or 0,
            "budget": None if budget is None else str(budget),
        }


class WorkForm(ChangeForm):
    kind, heading = "work", "A package takes longer, or less"

    def own_fields(self, rows: Rows) -> dict[str, forms.Field]:
        return {
            "package": _choice("Package", rows.unfinished()),
            "minutes": working_time(
                rows.refit.hours_a_day,
                label="Working time",
                help_text="Of the whole; of what is left, once it has begun.",
            ),
        }

    def said(self, data: dict[str, Any]) -> str:
        row = self.rows.packages[data["package"]]
        if row.is_started:
            return f"{row} still takes {self.working(data['minutes'])}"
        was = self.working(row.likely_minutes)
        return f"{row} takes {self.working(data['minutes'])}, not {was}"


class DropForm(ChangeForm):
    kind, heading = "drop", "A package is dropped"

    def own_fields(self, rows: Rows) -> dict[str, forms.Field]:
        return {
            "package": _choice(
                "Package",
                rows.unfinished(begun=False),
                help_text="What waits for it no longer waits for it, nor for what came before it.",
            )
        }

    def said(self, data: dict[str, Any]) -> str:
        return f"{self.rows.packages[data['package']]} is dropped"


class ShutForm(ChangeForm):
    kind, heading = "shut", "A place is shut"

    def own_fields(self, rows: Rows) -> dict[str, forms.Field]:
        return {
            "place": _choice("Place", [(pk, str(row)) for pk, row in rows.places.items()]),
            "first": day_field(label="First day"),
            "last": day_field(label="Last day"),
            "reason": forms.CharField(label="Why", max_length=120, required=False),
        }

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        first, last = data.get("first"), data.get("last")
        if first and last and last < first:
            self.add_error("last", "The last day must not come before the first.")
        elif first and last and (last - first).days > 366:
            self.add_error("last", "That is more than a year.")
        return data

    def said(self, data: dict[str, Any]) -> str:
        place = self.rows.places[data["place"]]
        today = timezone.localdate()
        first, last = say_day(data["first"], today), say_day(data["last"], today)
        return f"{place} is shut {first}" + ("" if first == last else f" to {last}")

    def values(self, data: dict[str, Any]) -> dict[str, Any]:
        first: date = data["first"]
        return data | {"first": first.isoformat(), "last": data["last"].isoformat()}


class HireForm(ChangeForm):
    kind, heading = "hire", "Somebody is hired"

    def own_fields(self, rows: Rows) -> dict[str, forms.Field]:
        return {
            "name": forms.CharField(
                label="Name",
                max_length=120,
                help_text="One more pair of hands for packages that ask for hands of ours.",
            )
        }

    def said(self, data: dict[str, Any]) -> str:
        return f"{data['name']} joins our crew"


class BookForm(ChangeForm):
    kind, heading = "book", "A date with a shop is agreed or moved"

    def own_fields(self, rows: Rows) -> dict[str, forms.Field]:
        return {
            "package": _choice("Package", rows.unfinished(begun=False)),
            "booking": forms.ChoiceField(label="How", choices=BookingKind.choices),
            "at": MomentField(label="Date and time"),
            "agreed_with": forms.CharField(label="Agreed with", max_length=120, required=False),
        }

    def said(self, data: dict[str, Any]) -> str:
        row = self.rows.packages[data["package"]]
        kind = BookingKind(data["booking"])
        how = "starts" if kind == BookingKind.STARTS else "starts not before"
        return f"{row} {how} {self.moment(data['at'])}, as agreed"

    def values(self, data: dict[str, Any]) -> dict[str, Any]:
        return data | {"at": data["at"].isoformat()}


class DeadlineForm(ChangeForm):
    kind, heading = "deadline", "A deadline is set or moved"

    def own_fields(self, rows: Rows) -> dict[str, forms.Field]:
        return {
            "package": _choice("Package", rows.unfinished()),
            "at": MomentField(
                label="Must be finished by", required=False, help_text="Empty: no deadline."
            ),
            "reason": forms.CharField(label="Why by then", max_length=160, required=False),
        }

    def said(self, data: dict[str, Any]) -> str:
        row = self.rows.packages[data["package"]]
        if data["at"] is None:
            return f"{row} has no deadline"
        return f"{row} must be finished by {self.moment(data['at'])}"

    def values(self, data: dict[str, Any]) -> dict[str, Any]:
        at = data["at"]
        return data | {"at": None if at is None else at.isoformat()}


FORMS: dict[str, type[ChangeForm]] = {
    form.kind: form
    for form in (
        LateForm, AddForm, WorkForm, DropForm, ShutForm, HireForm, BookForm, DeadlineForm,
    )
}  # fmt: skip

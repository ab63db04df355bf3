"""Forms about who and where: places, vendors, crew, zones, the refit and its boat."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, ClassVar
from zoneinfo import available_timezones

import holidays
from django import forms
from django.forms import BoundField

from refit.work import measures
from refit.work.models import (
    Boat,
    CrewMember,
    Place,
    Refit,
    Units,
    Vendor,
    Weekday,
    Zone,
)
from refit.work.services import Facts

from .fields import DaysField, HoursField, MeasureField, day_field, write_weekday
from .forms import FactsForm, PlainForm


def use_measures(form: forms.BaseForm, units: str) -> None:
    """Replace the form's metric columns by fields in the refit's units."""
    for name, field in list(form.fields.items()):
        if not name.endswith(("_m", "_kg")):
            continue
        unit = measures.length(units) if name.endswith("_m") else measures.weight(units)
        new = MeasureField(
            measure=unit,
            required=False,
            label=f"{field.label}, {unit.sign}",
            help_text=field.help_text,
        )
        new.initial = form.initial.get(name)
        new.template_name = "desk/_field.html"  # type: ignore[attr-defined]
        form.fields[name] = new


class HoursMixin(forms.Form):
    """Seven lines of opening hours, one a weekday."""

    def add_hours(self, hours: list[list[Any]]) -> None:
        for weekday in Weekday:
            field = HoursField(weekday=weekday.value)
            field.template_name = "desk/_field.html"  # type: ignore[attr-defined]
            name = f"hours_{weekday.value}"
            self.fields[name] = field
            self.initial[name] = write_weekday(hours, weekday.value)

    def hour_fields(self) -> Iterator[BoundField]:
        for weekday in Weekday:
            yield self[f"hours_{weekday.value}"]

    def hours_facts(self) -> list[list[Any]]:
        return [row for weekday in Weekday for row in self.cleaned_data[f"hours_{weekday.value}"]]


class PlaceForm(HoursMixin, FactsForm):
    parts: ClassVar[tuple[str, ...]] = ("hours", "closures")
    unique_name: ClassVar[tuple[str, str]] = ("name", "There is a place of this name already.")
    closures = DaysField(label="Shut on")

    class Meta:
        model = Place
        fields = (
            "name", "kind", "vendor", "address", "phone", "latitude", "longitude", "bays",
            "holiday_country", "holiday_region", "note",
        )  # fmt: skip
        labels: ClassVar[dict[str, str]] = {
            "vendor": "Whose it is",
            "bays": "Bays",
            "holiday_country": "Country of its public holidays",
            "holiday_region": "Region of the holidays",
        }
        help_texts: ClassVar[dict[str, str]] = {
            "bays": "How many jobs that need the bay fit at once. 0: no limit.",
            "holiday_country": "Two letters of ISO 3166, like CA. Empty: open on holidays.",
            "holiday_region": "Where a country has regional holidays: NS.",
            "latitude": "Degrees, north is plus. Road times are guessed from it.",
            "longitude": "Degrees, east is plus.",
        }
        widgets: ClassVar[dict[str, Any]] = {"note": forms.Textarea(attrs={"rows": 2})}

    def __init__(self, *args: Any, refit: Refit, **options: Any) -> None:
        super().__init__(*args, refit=refit, **options)
        vendor = self.fields["vendor"]
        assert isinstance(vendor, forms.ModelChoiceField)
        vendor.empty_label = "our own, or nobody's"
        default = [[day, "08:00", "17:00"] for day in range(5)]
        self.add_hours(self.before["hours"] if self.instance.pk else default)
        self.initial["closures"] = self.before.get("closures", [])

    def clean_holiday_country(self) -> str:
        country: str = self.cleaned_data["holiday_country"].strip().upper()
        if country and country not in holidays.list_supported_countries():
            raise forms.ValidationError(f"No holidays are known for “{country}”.")
        return country

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        country = cleaned.get("holiday_country")
        region = (cleaned.get("holiday_region") or "").strip()
        if region and not country:
            self.add_error("holiday_country", "A region needs its country.")
        elif region and country:
            known = holidays.list_supported_countries()[country]
            if region not in known:
                some = ", ".join(known[:12]) or "none"
                self.add_error("holiday_region", f"“{region}” is not known there. Known: {some}.")
        if (cleaned.get("latitude") is None) != (cleaned.get("longitude") is None):
            missing = "latitude" if cleaned.get("latitude") is None else "longitude"
            if missing not in self.errors:
                self.add_error(missing, "Latitude and longitude go together.")
        return cleaned

    def part_facts(self) -> Facts:
        return {"hours": self.hours_facts(), "closures": self.cleaned_data["closures"]}


class VendorForm(FactsForm):
    unique_name: ClassVar[tuple[str, str]] = ("name", "There is a vendor of this name already.")

    class Meta:
        model = Vendor
        fields = ("name", "trade", "contact", "phone", "email", "jobs_at_once", "note")
        labels: ClassVar[dict[str, str]] = {"jobs_at_once": "Jobs of ours at once"}
        help_texts: ClassVar[dict[str, str]] = {
            "jobs_at_once": "How many of our packages they work on at the same time.",
            "email": "Reminders go there. Empty: none are sent.",
        }
        widgets: ClassVar[dict[str, Any]] = {"note": forms.Textarea(attrs={"rows": 2})}


class CrewForm(FactsForm):
    parts: ClassVar[tuple[str, ...]] = ("absences",)
    unique_name: ClassVar[tuple[str, str]] = ("name", "There is somebody of this name already.")
    absences = DaysField(label="Away on")

    class Meta:
        model = CrewMember
        fields = ("name", "skills", "phone", "email")

    def __init__(self, *args: Any, refit: Refit, **options: Any) -> None:
        super().__init__(*args, refit=refit, **options)
        self.initial["absences"] = self.before.get("absences", [])

    def part_facts(self) -> Facts:
        return {"absences": self.cleaned_data["absences"]}


class ZoneForm(FactsForm):
    unique_name: ClassVar[tuple[str, str]] = ("name", "There is a zone of this name already.")

    class Meta:
        model = Zone
        fields = ("name",)
        help_texts: ClassVar[dict[str, str]] = {
            "name": "A part of the boat that only one job at a time can have: port topside."
        }


def clean_currency(value: str) -> str:
    """Three capital letters of ISO 4217; whether the code is in use is not checked."""
    currency = value.strip().upper()
    if len(currency) != 3 or not (currency.isascii() and currency.isalpha()):
        raise forms.ValidationError("Three letters, like EUR or CAD.")
    return currency


def check_launch(form: forms.BaseForm, cleaned: dict[str, Any]) -> None:
    """Say at the wanted launch that it comes before the first day, if it does."""
    start, wanted = cleaned.get("start"), cleaned.get("wanted_launch")
    if start and wanted and wanted < start:
        form.add_error("wanted_launch", "The launch cannot come before the first day.")


class RefitForm(FactsForm):
    """Settings of the refit."""

    start = day_field(label="First day")
    wanted_launch = day_field(label="Wanted launch date", required=False)

    class Meta:
        model = Refit
        fields = (
            "name", "start", "wanted_launch", "time_zone", "currency", "units", "hours_a_day",
            "road_factor", "road_speed_kmh", "loading_minutes", "owner_name", "owner_email",
            "owner_phone", "link_days", "note",
        )  # fmt: skip
        labels: ClassVar[dict[str, str]] = {
            "owner_name": "Owner",
            "owner_email": "Owner's e-mail",
            "owner_phone": "Owner's phone",
            "link_days": "Private links open after the close-out for, days",
        }
        widgets: ClassVar[dict[str, Any]] = {
            "note": forms.Textarea(attrs={"rows": 2}),
            "time_zone": forms.TextInput(attrs={"list": "zones-of-the-world"}),
        }

    def clean_currency(self) -> str:
        return clean_currency(self.cleaned_data["currency"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        check_launch(self, cleaned)
        return cleaned


class BoatForm(FactsForm):
    class Meta:
        model = Boat
        fields = (
            "name", "type", "built", "length_m", "waterline_m", "beam_m", "draft_m", "freeboard_m",
            "height_on_trailer_m", "weight_kg", "trailer_kg", "tongue_kg",
        )  # fmt: skip

    def __init__(self, *args: Any, refit: Refit, **options: Any) -> None:
        super().__init__(*args, refit=refit, **options)
        use_measures(self, refit.units)


class NewRefitForm(HoursMixin, PlainForm):
    """The first page of an empty installation: enough for a plan, nothing more."""

    boat_name = forms.CharField(max_length=120, label="Name of the boat")
    start = day_field(label="First day of the refit")
    wanted_launch = day_field(label="Wanted launch date", required=False)
    time_zone = forms.CharField(
        max_length=64,
        label="Time zone",
        help_text="Where the boat is: Europe/Lisbon, America/Halifax.",
        widget=forms.TextInput(attrs={"list": "zones-of-the-world"}),
    )
    currency = forms.CharField(max_length=3, label="Currency", help_text="EUR, CAD, GBP.")
    units = forms.ChoiceField(choices=Units.choices, label="Units")
    home_name = forms.CharField(
        max_length=120,
        label="Home of the refit",
        help_text="Your shed or yard: where most is done.",
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.add_hours([[day, "08:00", "17:00"] for day in range(5)])

    def clean_time_zone(self) -> str:
        zone: str = self.cleaned_data["time_zone"].strip()
        if zone not in available_timezones():
            raise forms.ValidationError(
                f"“{zone}” is not a time zone. Write it like Europe/Lisbon."
            )
        return zone

    def clean_currency(self) -> str:
        return clean_currency(self.cleaned_data["currency"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        check_launch(self, cleaned)
        hours = [cleaned.get(f"hours_{day.value}") for day in Weekday]
        if not any(hours) and not any(f"hours_{day.value}" in self.errors for day in Weekday):
            self.add_error("hours_0", "Somewhere in the week the home must be open.")
        return cleaned

    def basics(self) -> dict[str, Any]:
        """What was asked, without the hours."""
        return {n: v for n, v in self.cleaned_data.items() if not n.startswith("hours_")}

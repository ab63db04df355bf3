"""Forms about driving: rigs, how the refit drives, the tick of a stop."""

from __future__ import annotations

from datetime import UTC, datetime, tzinfo
from typing import Any, ClassVar

from django import forms

from refit.trips.models import Trip
from refit.trips.towing import BEFORE_DRIVING
from refit.work.models import Driving, Refit, Rig
from refit.work.wording import say_moment

from .fields import day_field
from .forms import FactsForm, PlainForm
from .forms_places import use_measures


class RigForm(FactsForm):
    unique_name: ClassVar[tuple[str, str]] = ("name", "There is a rig of this name already.")

    class Meta:
        model = Rig
        fields = (
            "name", "tows_boat", "bed_length_m", "bed_width_m", "bed_load_kg", "per_km",
            "tow_limit_kg", "tongue_limit_kg", "tongue_low", "tongue_high", "country",
            "width_limit_m", "height_limit_m", "tie_downs_direct", "tie_downs_over",
            "tie_limit_kg", "blocked_forward", "note",
        )  # fmt: skip
        help_texts: ClassVar[dict[str, str]] = {
            "bed_length_m": "Pieces are laid in it by their two longest sides.",
            "per_km": "Fuel and wear, in the money of the refit, for each kilometre.",
            "tie_downs_direct": "Each counts half its limit.",
            "tie_downs_over": "Each counts its whole limit.",
            "tie_limit_kg": "As marked. Unmarked 2 in webbing: 907 kg (49 CFR 393.108).",
            "width_limit_m": "Empty: the default of the country.",
        }
        widgets: ClassVar[dict[str, Any]] = {"note": forms.Textarea(attrs={"rows": 2})}

    def __init__(self, *args: Any, refit: Refit, **options: Any) -> None:
        super().__init__(*args, refit=refit, **options)
        use_measures(self, refit.units)

    def clean_country(self) -> str:
        country: str = self.cleaned_data["country"].strip().upper()
        if country and not (len(country) == 2 and country.isascii() and country.isalpha()):
            raise forms.ValidationError("Two letters, like US, CA, GB or PT.")
        return country

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        low, high = cleaned.get("tongue_low"), cleaned.get("tongue_high")
        if low is not None and high is not None and high < low:
            self.add_error("tongue_high", "The most cannot be less than the least.")
        return cleaned


class DrivingForm(FactsForm):
    class Meta:
        model = Driving
        fields = (
            "day_starts", "day_ends", "saturdays", "drivers", "nights", "weeks", "tow_speed",
            "per_hour", "per_trip", "per_night", "use_float",
        )  # fmt: skip
        widgets: ClassVar[dict[str, Any]] = {
            "day_starts": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
            "day_ends": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        }

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        start, end = cleaned.get("day_starts"), cleaned.get("day_ends")
        if start and end and end <= start:
            self.add_error("day_ends", "The day must end after it starts.")
        return cleaned


class DayForm(PlainForm):
    """The day on which a move shall be driven; empty: any."""

    day = day_field(label="Drive on", required=False)


class TickForm(PlainForm):
    """``key`` is made on the phone or with the page, so that a tick counts once."""

    key = forms.RegexField(r"^[\w-]{8,64}$", widget=forms.HiddenInput)
    stayed = forms.TypedMultipleChoiceField(
        coerce=int, required=False, label="Stayed behind", widget=forms.CheckboxSelectMultiple
    )
    note = forms.CharField(
        required=False, label="Note", widget=forms.Textarea(attrs={"rows": 2}), max_length=2000
    )
    picture = forms.FileField(required=False, label="Picture")
    at = forms.IntegerField(required=False, widget=forms.HiddenInput, min_value=0)
    """When it was ticked on the phone, in milliseconds of its clock; empty: now."""

    def said(self, now: datetime, zone: tzinfo) -> str:
        """The note; of a tick that was long under way also when it was made."""
        note: str = self.cleaned_data["note"].strip()
        at = self.cleaned_data["at"]
        if at is None or not 300 < now.timestamp() - at / 1000 < 30 * 86400:
            return note
        made = say_moment(datetime.fromtimestamp(at / 1000, UTC), zone, now.date())
        return f"{note} (noted on the phone {made})".strip()

    def __init__(self, *args: Any, loads: list[tuple[int, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        field = self.fields["stayed"]
        assert isinstance(field, forms.TypedMultipleChoiceField)
        field.choices = loads
        if not loads:
            del self.fields["stayed"]


class ChecksForm(PlainForm):
    checks = forms.MultipleChoiceField(
        required=False,
        label="Before driving",
        widget=forms.CheckboxSelectMultiple,
        choices=[(str(n), line) for n, line in enumerate(BEFORE_DRIVING)],
    )

    @classmethod
    def of(cls, trip: Trip) -> ChecksForm:
        return cls(initial={"checks": trip.checked})

"""Forms about quality: criteria, readings, climate, punch list, survey, what is handed over."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError

from refit.quality.models import (
    BatchUse,
    ClimateEntry,
    Criterion,
    FittedItem,
    PunchItem,
    Reading,
    SurveyItem,
    VisualScale,
    Warranty,
)
from refit.work import measures
from refit.work.models import Refit, Shape, Surface
from refit.work.numbers import UnreadableNumber, read_number
from refit.work.processes import library
from refit.work.quantities import Missing, area_of_shape
from refit.work.services import Facts, processes_of

from .fields import MeasureField, MomentField, day_field, working_time
from .forms import FactsForm, PlainForm
from .forms_processes import unit_of


def _use(form: forms.BaseForm, **fields: forms.Field) -> None:
    for name, field in fields.items():
        field.template_name = "desk/_field.html"  # type: ignore[attr-defined]
        form.fields[name] = field


class CriterionForm(FactsForm):
    unique_name: ClassVar[tuple[str, str]] = ("name", "There is a criterion “{value}” already.")

    class Meta:
        model = Criterion
        fields = (
            "package", "name", "method", "geometry", "scale", "rule", "low", "high", "unit",
            "stations", "standing",
        )  # fmt: skip
        labels: ClassVar[dict[str, str]] = {"standing": "Where the limit comes from"}
        help_texts: ClassVar[dict[str, str]] = {
            "geometry": "The angle of the gloss meter. One angle says nothing of another.",
            "low": "The least; for spots the nominal film.",
            "high": "The most; for spots the highest mean that is specified.",
            "unit": "Empty: GU for gloss, µm for film, N·m for torque, MΩ for insulation.",
            "stations": "How many must be read.",
        }


class ScaleForm(FactsForm):
    unique_name: ClassVar[tuple[str, str]] = ("name", "There is a scale “{value}” already.")
    words = forms.CharField(
        label="Steps",
        widget=forms.Textarea(attrs={"rows": 6}),
        help_text="One a line, the best first: what somebody sees. The first is step 1.",
    )
    parts: ClassVar[tuple[str, ...]] = ("steps",)

    class Meta:
        model = VisualScale
        fields = ("name", "note")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if self.instance.pk:
            self.initial["words"] = "\n".join(self.instance.steps)

    def clean_words(self) -> list[str]:
        lines = [line.strip() for line in self.cleaned_data["words"].splitlines() if line.strip()]
        if len(lines) < 2:
            raise ValidationError("Describe at least two steps, one a line, the best first.")
        return lines

    def part_facts(self) -> Facts:
        return {"steps": self.cleaned_data["words"]}


class NumbersField(forms.CharField):
    """Several numbers, separated by blanks or semicolons; cleans to texts with a point."""

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        parts = [one for one in text.replace(";", " ").split() if one]
        try:
            return [f"{read_number(one):f}" for one in parts]
        except UnreadableNumber as error:
            raise ValidationError(str(error)) from None


class ReadingForm(FactsForm):
    read_at = MomentField(label="When")
    numbers = NumbersField(
        label="Numbers", help_text="All that were read there, with blanks between: 81 83 82."
    )
    parts: ClassVar[tuple[str, ...]] = ("values",)

    class Meta:
        model = Reading
        fields = (
            "package", "piece", "method", "geometry", "scale", "station", "stage", "unit",
            "instrument", "read_at", "read_by", "note",
        )  # fmt: skip
        labels: ClassVar[dict[str, str]] = {"stage": "Read", "read_by": "Who", "instrument": "With"}

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if self.instance.pk:
            self.initial["numbers"] = " ".join(str(one) for one in self.instance.values)

    def part_facts(self) -> Facts:
        return {"values": self.cleaned_data["numbers"]}


class ClimateForm(FactsForm):
    read_at = MomentField(label="When")

    class Meta:
        model = ClimateEntry
        fields = (
            "place",
            "package",
            "air_c",
            "humidity",
            "surface_c",
            "read_at",
            "read_by",
            "note",
        )
        labels: ClassVar[dict[str, str]] = {
            "air_c": "Air, °C", "humidity": "Humidity, %", "surface_c": "Surface, °C",
            "package": "For which package", "read_by": "Who",
        }  # fmt: skip
        help_texts: ClassVar[dict[str, str]] = {
            "package": "Its process says what the air must be.",
            "surface_c": "Of what is coated, with a contact or infrared thermometer.",
        }


class PunchForm(FactsForm):
    unique_name: ClassVar[tuple[str, str]] = ("code", "{value} is taken by “{other}”.")
    found_at = MomentField(label="Found")
    done_at = MomentField(label="Done", required=False)
    due = day_field(label="Due", required=False)

    class Meta:
        model = PunchItem
        fields = (
            "code", "title", "description", "package", "piece", "person", "vendor", "due", "cost",
            "state", "found_at", "done_at", "note",
        )  # fmt: skip
        labels: ClassVar[dict[str, str]] = {"person": "One of us", "vendor": "Or a vendor"}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("person") and cleaned.get("vendor"):
            self.add_error("vendor", "Choose one: somebody of ours or a vendor.")
        if cleaned.get("done_at") and cleaned.get("state") == "open":
            self.add_error("state", "It has a day on which it was done, so it is not open.")
        return cleaned


class SurveyForm(FactsForm):
    unique_name: ClassVar[tuple[str, str]] = ("code", "{value} is taken by “{other}”.")
    surveyed_at = MomentField(label="Looked at")

    class Meta:
        model = SurveyItem
        fields = (
            "code", "system", "title", "condition", "reading", "piece", "zone", "process",
            "quantity", "price", "proposal", "package", "surveyed_at", "surveyed_by", "note",
        )  # fmt: skip
        labels: ClassVar[dict[str, str]] = {"surveyed_by": "Who"}

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        choices = [("", "no process"), *((one.key, one.name) for one in library().values())]
        own = [(self.instance.process, self.instance.process)] if self.instance.process else []
        known = {key for key, _ in choices}
        _use(
            self,
            process=forms.ChoiceField(
                label="Would be done as", required=False,
                choices=choices + [one for one in own if one[0] not in known],
            ),
        )  # fmt: skip
        self._use_quantity()

    def _use_quantity(self) -> None:
        """In the unit of the process that is chosen: an area, a length, or so many."""
        chosen = self.data.get("process") if self.is_bound else self.instance.process
        process = processes_of(self.refit).get(chosen or "")
        unit = unit_of(process, self.refit.units) if process else None
        area, length = measures.area(self.refit.units), measures.length(self.refit.units)
        field = MeasureField(
            measure=unit or measures.COUNT, required=False,
            label="How much" + (f", {unit.sign}" if unit else ""),
            help_text=f"{area.sign}, {length.sign} or how many, as the process counts it.",
        )  # fmt: skip
        if chosen == self.instance.process:
            field.initial = self.instance.quantity
        _use(self, quantity=field)


class SurfaceForm(FactsForm):
    unique_name: ClassVar[tuple[str, str]] = ("name", "There is a surface “{value}” already.")

    class Meta:
        model = Surface
        fields = ("name", "shape", "first", "second", "third", "count", "process", "note")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        units = self.refit.units
        length, area = measures.length(units), measures.area(units)
        shape = self.data.get("shape") if self.is_bound else self.instance.shape
        first = area if shape == Shape.AREA else length
        labels = {"first": "First measure", "second": "Second", "third": "Third"}
        for name, label in labels.items():
            unit = first if name == "first" else length
            said = f"{length.sign} or {area.sign}" if name == "first" else length.sign
            help_text = "Length, base or width across; of an area as measured, the area."
            field = MeasureField(
                measure=unit, label=f"{label}, {said}", required=False,
                help_text=help_text if name == "first" else "",
            )  # fmt: skip
            if shape == self.instance.shape:
                # As long as the shape stays, what was not typed anew stays to the last digit.
                field.initial = getattr(self.instance, name)
            _use(self, **{name: field})

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if "shape" in cleaned and not {"first", "second", "third"} & set(self.errors):
            try:
                area_of_shape(
                    cleaned["shape"], cleaned.get("first"), cleaned.get("second"),
                    cleaned.get("third"),
                )  # fmt: skip
            except Missing as error:
                self.add_error("shape", str(error))
        return cleaned


class BatchForm(FactsForm):
    used_on = day_field(label="Used on", required=False)

    class Meta:
        model = BatchUse
        fields = ("package", "material", "batch", "amount", "mix", "used_on", "note")


class WarrantyForm(FactsForm):
    starts = day_field(label="From")
    ends = day_field(label="Until")

    class Meta:
        model = Warranty
        fields = ("of", "given_by", "package", "starts", "ends", "terms")


class FittedForm(FactsForm):
    class Meta:
        model = FittedItem
        fields = ("kind", "label", "name", "goes_from", "goes_to", "size", "package", "note")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        same = FittedItem.objects.filter(
            refit=self.refit, kind=cleaned.get("kind"), label=cleaned.get("label")
        ).exclude(pk=self.instance.pk)
        if same.exists():
            self.add_error("label", "This label is in the list already.")
        return cleaned


class ReworkForm(PlainForm):
    def __init__(self, *args: Any, refit: Refit, **options: Any) -> None:
        super().__init__(*args, **options)
        _use(
            self,
            minutes=working_time(
                refit.hours_a_day, label="Working time to put it right", help_text="4 h, 1 d."
            ),
        )

"""Forms about processes: applying one, and writing one of one's own."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any, ClassVar

from django import forms

from refit.work import measures
from refit.work.models import OwnProcess, Refit
from refit.work.numbers import UnreadableNumber, read_number
from refit.work.processes import Process, ProcessError, read_process
from refit.work.processes.library import cautions
from refit.work.services import Application, Facts, free_codes

from .forms import FactsForm, PlainForm


def unit_of(process: Process, units: str) -> measures.Measure | None:
    """The measure in which people see the quantity; None for counts and for no quantity."""
    if process.quantity is None or process.quantity.unit == "count":
        return None
    return measures.area(units) if process.quantity.unit == "m2" else measures.length(units)


def read_quantity(text: str, process: Process, units: str) -> Decimal:
    """What somebody typed, metric. Raises `UnreadableNumber`, also for nothing or less."""
    unit = unit_of(process, units)
    number = unit.read(text) if unit else read_number(text)
    if number <= 0 or number > 99999:
        raise UnreadableNumber(f"“{text[:40]}” must be more than 0, and less than 100,000.")
    return number


class ApplyForm(PlainForm):
    """Which steps, how much of it, who, where, with which pieces and zones."""

    steps = forms.MultipleChoiceField(
        label="Steps",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one step."},
    )
    prefix_code = forms.CharField(
        label="Codes begin with",
        max_length=12,
        help_text="The packages become this and a number.",
    )

    def __init__(self, *args: Any, refit: Refit, process: Process, **options: Any) -> None:
        super().__init__(*args, **options)
        self.refit, self.process = refit, process
        steps = self.fields["steps"]
        assert isinstance(steps, forms.MultipleChoiceField)
        steps.choices = [(step.key, step.title) for step in process.steps]
        if process.quantity is not None:
            unit = unit_of(process, refit.units)
            self.fields["quantity"] = forms.CharField(
                label="How much" + (f", {unit.sign}" if unit else ""),
                help_text=f"Of {process.quantity.of}. Working time follows from it.",
            )
        self.fields["vendor"] = forms.ModelChoiceField(
            refit.vendors.all(), label="Done by", required=False, empty_label="our own crew"
        )
        self.fields["people"] = forms.ModelMultipleChoiceField(
            refit.crew.all(), label="Our own people", required=False,
            widget=forms.CheckboxSelectMultiple,
        )  # fmt: skip
        self.fields["place"] = forms.ModelChoiceField(
            refit.places.select_related("vendor"), label="Where", empty_label="choose a place"
        )
        self.fields["pieces"] = forms.ModelMultipleChoiceField(
            refit.pieces.all(), label="Pieces that must be there", required=False,
            widget=forms.CheckboxSelectMultiple,
        )  # fmt: skip
        self.fields["zones"] = forms.ModelMultipleChoiceField(
            refit.zones.all(), label="Parts of the boat it takes for itself", required=False,
            widget=forms.CheckboxSelectMultiple,
        )  # fmt: skip
        for field in self.fields.values():
            field.template_name = "desk/_field.html"  # type: ignore[attr-defined]

    def clean_quantity(self) -> Decimal:
        try:
            return read_quantity(self.cleaned_data["quantity"], self.process, self.refit.units)
        except UnreadableNumber as error:
            raise forms.ValidationError(str(error)) from None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        place, vendor = cleaned.get("place"), cleaned.get("vendor")
        if place and vendor and place.vendor_id not in (None, vendor.pk):
            self.add_error("place", f"{place} belongs to another vendor than {vendor}.")
        if vendor and cleaned.get("people"):
            self.add_error("people", "A vendor does it: leave our own people out.")
        return cleaned

    def application(self) -> Application:
        typed = self.cleaned_data
        wanted = [step.key for step in self.process.steps if step.key in typed["steps"]]
        return Application(
            process=self.process,
            codes=free_codes(self.refit, typed["prefix_code"], wanted),
            place=typed["place"],
            vendor=typed["vendor"],
            people=list(typed["people"]),
            pieces=list(typed["pieces"]),
            zones=list(typed["zones"]),
            quantity=typed.get("quantity"),
        )


class ProcessForm(FactsForm):
    """A process of the refit's own, as the text of a process file."""

    text = forms.CharField(
        label="The process",
        widget=forms.Textarea(attrs={"rows": 30, "spellcheck": "false"}),
        help_text=(
            "Change the key and the name, then what is different with you. Say of every value how"
            " far it can be trusted: “own experience” is a good answer."
        ),
    )
    parts: ClassVar[tuple[str, ...]] = ("key", "content")

    class Meta:
        model = OwnProcess
        fields = ()

    def __init__(self, *args: Any, copy_of: Process | None = None, **options: Any) -> None:
        super().__init__(*args, **options)
        data = self.instance.content if self.instance.pk else copy_of and copy_of.data
        if data:
            self.initial["text"] = json.dumps(data, ensure_ascii=False, indent=2)

    def clean_text(self) -> Any:
        try:
            data = json.loads(self.cleaned_data["text"])
            process = read_process(data, cautions=frozenset(cautions()))
        except ProcessError as error:
            raise forms.ValidationError(error.problems) from None
        except RecursionError:
            raise forms.ValidationError("This is nested too deeply to be a process.") from None
        except json.JSONDecodeError as error:
            raise forms.ValidationError(
                f"This cannot be read: line {error.lineno}, {error.msg}."
            ) from None
        taken = OwnProcess.objects.filter(refit=self.refit, key=process.key)
        if taken.exclude(pk=self.instance.pk).exists():
            raise forms.ValidationError(f"You have a process “{process.key}” already.")
        return data

    def part_facts(self) -> Facts:
        data = self.cleaned_data["text"]
        return {"key": data["key"], "content": data}

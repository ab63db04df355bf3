"""Forms about pieces, their handoffs, and findings."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.utils import timezone

from refit.custody.models import Carrier, Handoff
from refit.custody.pictures import ACCEPTED
from refit.portal.forms import MOST_PICTURES, ManyFilesInput, PicturesField
from refit.quality.models import Decision, Finding
from refit.work.models import Piece, Place, Refit
from refit.work.services import Facts

from .fields import MomentField, working_time
from .forms import FactsForm, PlainForm
from .forms_places import use_measures


class PieceForm(FactsForm):
    unique_name: ClassVar[tuple[str, str]] = ("tag", "{value} is written on “{other}” already.")

    class Meta:
        model = Piece
        fields = (
            "tag", "name", "fitted", "place", "returns_to", "parts", "travels_with", "is_boat",
            "shared", "length_m", "width_m", "height_m", "weight_kg", "note",
        )  # fmt: skip
        labels: ClassVar[dict[str, str]] = {
            "tag": "Tag",
            "fitted": "It is on the boat",
            "place": "Where it is",
            "returns_to": "Where it belongs in the end",
            "parts": "Count of parts",
            "travels_with": "Travels with",
        }
        help_texts: ClassVar[dict[str, str]] = {
            "place": "Correct it here only if the record is wrong; a move is a handoff.",
            "parts": "Counted at every handoff: 6 cushions are 6.",
            "travels_with": "What must not be forgotten: bag of fasteners, key.",
        }
        widgets: ClassVar[dict[str, Any]] = {"note": forms.Textarea(attrs={"rows": 2})}

    def __init__(self, *args: Any, refit: Refit, **options: Any) -> None:
        super().__init__(*args, refit=refit, **options)
        use_measures(self, refit.units)
        for name, empty in (("place", "not known"), ("returns_to", "stays where it was last")):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.empty_label = empty

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("is_boat"):
            boats = self.refit.pieces.filter(is_boat=True).exclude(pk=self.instance.pk)
            if other := boats.first():
                self.add_error("is_boat", f"“{other}” is the boat already.")
            if cleaned.get("fitted"):
                self.add_error("fitted", "The boat cannot be on the boat.")
            cleaned["shared"] = True
        return cleaned

    def part_facts(self) -> Facts:
        """Put at another place or taken off by hand, it is there since now."""
        fitted, place = self.cleaned_data["fitted"], self.cleaned_data["place"]
        moved = place is not None and place.pk != self.before.get("place")
        if moved or (self.before and fitted != self.before["fitted"]):
            return {"since": timezone.now()}
        return {}


class MoveForm(PlainForm):
    """A handoff planned by hand."""

    destination = forms.ModelChoiceField(queryset=Place.objects.none(), label="To")
    depart_at = MomentField(label="Leaves", required=False)
    due_at = MomentField(label="Agreed to be ready by", required=False)
    carrier = forms.ChoiceField(choices=Carrier.choices, label="Who carries it")

    def __init__(self, *args: Any, refit: Refit, piece: Piece, **options: Any) -> None:
        super().__init__(*args, **options)
        field = self.fields["destination"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = refit.places.exclude(pk=piece.place_id or 0)
        field.empty_label = "choose a place"


class CountForm(PlainForm):
    """At either end of a move: what was counted and how it looked."""

    parts = forms.IntegerField(required=False, min_value=0, max_value=9999, label="Parts counted")
    condition = forms.CharField(
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
        label="Condition",
        help_text="Scratches, dents, what is missing. Empty: nothing to remark.",
    )
    picture = PicturesField(
        required=False,
        label="Pictures",
        help_text=f"Several at once, at most {MOST_PICTURES}.",
        widget=ManyFilesInput(attrs={"accept": ACCEPTED}),
    )


class AgreeForm(PlainForm):
    """What was agreed about a handoff: when it is due back, and who carries it."""

    due_at = MomentField(required=False, label="Due back")
    carrier = forms.ChoiceField(choices=Carrier.choices, label="Who carries it")

    @classmethod
    def of(cls, handoff: Handoff) -> AgreeForm:
        initial = {"due_at": handoff.due_at, "carrier": handoff.carrier}
        return cls(initial=initial, auto_id="agree_%s")


class PromiseForm(PlainForm):
    """A date somebody promised on the telephone."""

    at = MomentField(label="Ready by")
    note = forms.CharField(required=False, max_length=240, label="What they said")


class CancelForm(PlainForm):
    note = forms.CharField(required=False, max_length=240, label="Why it will not happen")


class FindingForm(FactsForm):
    unique_name: ClassVar[tuple[str, str]] = ("code", "{value} is taken by “{other}”.")
    found_at = MomentField(label="Found")
    decide_by = MomentField(required=False, label="Decide by")

    class Meta:
        model = Finding
        fields = (
            "code", "title", "description", "severity", "found_at", "found_in", "piece", "zone",
            "work_minutes", "price", "decide_by", "note",
        )  # fmt: skip
        labels: ClassVar[dict[str, str]] = {
            "found_in": "Found during",
            "price": "What fixing it costs",
            "severity": "How bad",
        }
        widgets: ClassVar[dict[str, Any]] = {
            "description": forms.Textarea(attrs={"rows": 3}),
            "note": forms.Textarea(attrs={"rows": 2}),
        }

    def __init__(self, *args: Any, refit: Refit, **options: Any) -> None:
        super().__init__(*args, refit=refit, **options)
        field = working_time(
            refit.hours_a_day, label="Working time to fix it", required=False, help_text="1 d, 4 h."
        )
        field.template_name = "desk/_field.html"  # type: ignore[attr-defined]
        self.fields["work_minutes"] = field


class DecisionForm(PlainForm):
    decision = forms.ChoiceField(
        label="Decision",
        choices=[choice for choice in Decision.choices if choice[0] != Decision.WAITING],
    )
    note = forms.CharField(
        required=False, max_length=2000, label="Why", widget=forms.Textarea(attrs={"rows": 2})
    )

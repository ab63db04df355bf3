"""Forms about the road between two places: how long it is, how long it takes."""

from __future__ import annotations

from typing import Any, ClassVar

from refit.work import measures
from refit.work.models import Distance, Refit

from .fields import MeasureField, elapsed_time
from .forms import FactsForm


class RoadForm(FactsForm):
    """Length and driving time of a pair that is known already, in the units of the refit."""

    class Meta:
        model = Distance
        fields: ClassVar[tuple[str, ...]] = ("kilometres", "minutes")

    def __init__(self, *args: Any, refit: Refit, **options: Any) -> None:
        super().__init__(*args, refit=refit, **options)
        unit = measures.distance(refit.units)
        length = MeasureField(
            measure=unit, required=False, label=f"Length of the road, {unit.sign}"
        )
        driving = elapsed_time(
            required=False,
            label="Driving time",
            help_text="Like 35 min or 1 h 20 min; loading comes on top.",
        )
        fields: dict[str, Any] = {"kilometres": length, "minutes": driving}
        for name, field in fields.items():
            field.initial = self.initial.get(name)
            field.template_name = "desk/_field.html"
            self.fields[name] = field

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        nothing = cleaned.get("kilometres") is None and cleaned.get("minutes") is None
        if nothing and not self.errors:
            self.add_error("minutes", "Give the length of the road, the driving time, or both.")
        return cleaned


class NewRoadForm(RoadForm):
    """A pair and what is known about the road from the one to the other."""

    class Meta(RoadForm.Meta):
        fields = ("origin", "destination", "kilometres", "minutes")
        labels: ClassVar[dict[str, str]] = {"origin": "From", "destination": "To"}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        origin, destination = cleaned.get("origin"), cleaned.get("destination")
        if origin is None or destination is None:
            return cleaned
        if origin == destination:
            self.add_error("destination", "From one place to another, not to the same.")
        elif Distance.objects.filter(
            refit=self.refit, origin=origin, destination=destination
        ).exists():
            self.add_error("destination", "This road is in the list already; change it there.")
        return cleaned

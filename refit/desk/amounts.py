"""What an area needs: paint, gelcoat, discs and cloth, worked out on the page, nothing stored.

The formulas are in `refit.work.quantities`; here they are asked with what somebody typed, in the
refit's units, and told in words with their standing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.http import HttpRequest

from refit.work import measures, quantities
from refit.work.models import Refit

from .fields import MeasureField
from .forms import PlainForm

PAINT = "published: paint makers’ guides; the data sheet says the coverage"
FILM = "calculated: one millimetre on one square metre is one litre"
OWN = "calculated from your own figure; how far a disc goes is common practice, no source"
CLOTH = "calculated; the overlap is common practice, no source"
OVERLAP = Decimal("0.05")


@dataclass(frozen=True)
class Amount:
    of: str
    amount: str
    formula: str
    standing: str


class AmountsForm(PlainForm):
    """Every figure can be changed; what is left empty is not worked out."""

    def __init__(self, *args: Any, refit: Refit, **options: Any) -> None:
        super().__init__(*args, **options)
        us = refit.units

        def measured(label: str, unit: measures.Measure, **more: Any) -> MeasureField:
            return MeasureField(measure=unit, label=f"{label}, {unit.sign}", required=False, **more)

        def whole(label: str) -> forms.IntegerField:
            return forms.IntegerField(label=label, required=False, min_value=1, max_value=50)

        given: dict[str, forms.Field] = {
            "area": measured("Area", measures.area(us)),
            "coats": whole("Coats"),
            "coverage": measured(
                "Coverage a coat", measures.coverage(us), help_text="From the data sheet."
            ),
            "extra": MeasureField(
                measure=measures.PERCENT, label="On top for waste, %", required=False
            ),
            "film": measured("Gelcoat film, wet", measures.film(us)),
            "a_disc": measured("One disc lasts for", measures.area(us)),
            "grits": whole("Grits"),
            "layers": whole("Layers of cloth"),
            "roll": measured("Width of the roll", measures.length(us)),
        }
        for name, field in given.items():
            field.template_name = "desk/_field.html"  # type: ignore[attr-defined]
            self.fields[name] = field

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name in ("coverage", "a_disc"):
            if cleaned.get(name) == 0:
                self.add_error(name, "It must be more than 0.")
        if (roll := cleaned.get("roll")) is not None and roll <= OVERLAP:
            self.add_error("roll", "The roll must be wider than the overlap of 5 cm (2 in).")
        return cleaned


USUAL: dict[str, Any] = {
    "coats": 2,
    "coverage": Decimal(10),
    "extra": Decimal(10),
    "film": Decimal("0.5"),
    "a_disc": Decimal("0.5"),
    "grits": 4,
    "layers": 1,
    "roll": Decimal("1.27"),
}
"""To begin with, from memory: the data sheet and one's own work decide."""


def amounts_form(request: HttpRequest, refit: Refit, area: Decimal | None) -> AmountsForm:
    """Filled from the address; the usual figures where nothing was sent yet."""
    start = AmountsForm(refit=refit)
    if "coats" in request.GET:
        return AmountsForm(request.GET, refit=refit)
    first = USUAL | ({"area": area} if area else {})
    shown = {name: start.fields[name].prepare_value(value) for name, value in first.items()}
    if typed := request.GET.get("area"):
        shown["area"] = typed
    return AmountsForm(shown, refit=refit)


def amounts(form: AmountsForm, refit: Refit) -> list[Amount]:
    """A row for everything that the figures give; none while the area is not known."""
    if not form.is_valid():
        return []
    given = form.cleaned_data
    area: Decimal | None = given.get("area")
    if not area:
        return []
    us, rows = refit.units, list[Amount]()

    def add(
        of: str, needs: tuple[str, ...], work: Callable[[], str], formula: str, standing: str
    ) -> None:
        if all(given.get(one) is not None for one in needs):
            rows.append(Amount(of, work(), formula, standing))

    volume = measures.volume(us)
    extra = given.get("extra") or Decimal(0)
    add(
        "Paint", ("coats", "coverage"),
        lambda: volume.say(
            quantities.paint_litres(
                area, coats=given["coats"], coverage=given["coverage"], extra=extra
            )
        ),
        "area × coats ÷ coverage, and the waste on top", PAINT,
    )  # fmt: skip
    add(
        "Gelcoat", ("film",),
        lambda: volume.say(quantities.gelcoat_litres(area, given["film"])),
        "area × wet film", FILM,
    )  # fmt: skip
    add(
        "Discs", ("a_disc", "grits"),
        lambda: str(quantities.discs(area, area_a_disc=given["a_disc"], grits=given["grits"])),
        "area ÷ what one disc lasts for, whole discs, for every grit", OWN,
    )  # fmt: skip
    add(
        "Cloth", ("layers", "roll"),
        lambda: measures.length(us).say(
            quantities.cloth_metres(
                area, layers=given["layers"], roll_width=given["roll"], overlap=OVERLAP
            )
        ),
        "area × layers ÷ (width of the roll − 5 cm of overlap)", CLOTH,
    )  # fmt: skip
    return rows

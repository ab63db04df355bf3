"""The form over one paper of a vendor."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from refit.work.models import Paper, Refit, Vendor
from refit.work.services import Facts

from .fields import day_field
from .forms import FactsForm


class PaperForm(FactsForm):
    """The vendor is given by the page."""

    valid_from = day_field(label="Valid from", required=False)
    valid_until = day_field(
        label="Valid until",
        required=False,
        help_text="The last day on which it counts. Empty: nobody said.",
    )

    class Meta:
        model = Paper
        fields = ("kind", "issuer", "number", "covers", "valid_from", "valid_until", "note")
        labels: ClassVar[dict[str, str]] = {
            "kind": "What it is",
            "issuer": "Insurer or issuer",
            "covers": "Covers up to",
        }
        help_texts: ClassVar[dict[str, str]] = {
            "kind": "Liability insurance often leaves out what stands in the shop itself: ask for "
            "cover for customers' property too.",
            "number": "Of the policy or certificate.",
        }
        widgets: ClassVar[dict[str, Any]] = {"note": forms.Textarea(attrs={"rows": 2})}

    def __init__(self, *args: Any, refit: Refit, vendor: Vendor, **options: Any) -> None:
        super().__init__(*args, refit=refit, **options)
        self.instance.vendor = vendor
        self.fields["covers"].label = f"Covers up to, {refit.currency}"

    def fact_names(self) -> list[str]:
        return [*super().fact_names(), "vendor"]

    def part_facts(self) -> Facts:
        return {"vendor": self.instance.vendor_id}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        first, last = cleaned.get("valid_from"), cleaned.get("valid_until")
        if first and last and last < first:
            self.add_error("valid_until", "The last day must not come before the first.")
        same = Paper.objects.filter(
            vendor=self.instance.vendor,
            kind=cleaned.get("kind", ""),
            number=cleaned.get("number") or "",
        ).exclude(pk=self.instance.pk)
        if same.exists():
            self.add_error(
                "number",
                "This paper is noted already. If it was renewed, change its dates there; "
                "a second paper of this kind needs a number of its own.",
            )
        return cleaned

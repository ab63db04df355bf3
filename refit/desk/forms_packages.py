"""Forms about packages: the package itself, what it waits for, its progress."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any, ClassVar

from django import forms
from django.forms import BoundField
from django.utils import timezone

from refit.work.durations import (
    UnreadableDuration,
    read_elapsed,
    read_working_lag,
    write_elapsed,
    write_working_time,
)
from refit.work.models import (
    BookingKind,
    Dependency,
    LagIn,
    PieceEffect,
    Refit,
    WorkPackage,
)
from refit.work.rings import ring_closed_by, say_ring
from refit.work.services import Facts

from .fields import MomentField, elapsed_time, working_time
from .forms import FactsForm, PlainForm


class PackageForm(FactsForm):
    """One package with its booking and the pieces that must be there."""

    parts: ClassVar[tuple[str, ...]] = ("booking", "pieces")
    unique_name: ClassVar[tuple[str, str]] = (
        "code",
        "{value} is taken by “{other}”. Choose another code.",
    )
    deadline = MomentField(required=False, label="Must be finished by")
    booking_kind = forms.ChoiceField(
        label="A date agreed with the shop",
        required=False,
        choices=[("", "no date agreed"), *BookingKind.choices],
    )
    booking_at = MomentField(required=False, label="Agreed date and time")
    booking_agreed_with = forms.CharField(
        required=False, max_length=120, label="Agreed with", help_text="Who said so."
    )
    booking_note = forms.CharField(required=False, max_length=240, label="Note on the agreement")

    outside_scope = forms.BooleanField(
        required=False,
        label="It is outside the agreed scope",
        help_text="Then it is neither planned nor begun before a change order is approved.",
    )

    class Meta:
        model = WorkPackage
        fields = (
            "code", "title", "scope", "vendor", "people", "helpers", "place", "takes_bay", "zones",
            "low_minutes", "likely_minutes", "high_minutes", "unbroken", "hold_minutes",
            "hold_reason", "deadline", "deadline_reason", "is_launch", "budget", "agreed_price",
            "acceptance", "cautions",
        )  # fmt: skip
        labels: ClassVar[dict[str, str]] = {
            "vendor": "Done by",
            "people": "Our own people",
            "zones": "Parts of the boat it takes for itself",
            "place": "Where",
            "is_launch": "This is the launch",
            "unbroken": "It is done in one go",
            "deadline_reason": "Why by then",
            "hold_reason": "What the hold is for",
            "agreed_price": "Agreed price",
            "acceptance": "Good when",
        }
        help_texts: ClassVar[dict[str, str]] = {
            "helpers": "Whoever is free, beside the people named.",
            "hold_reason": "Cure, dry, set. The product's data sheet says how long.",
            "acceptance": "What is measured, with what, and when it passes.",
            "cautions": "What can hurt somebody. The data sheet and local rules come first.",
            "is_launch": "The date of the whole refit is the finish of this package.",
        }
        widgets: ClassVar[dict[str, Any]] = {
            "scope": forms.Textarea(attrs={"rows": 3}),
            "acceptance": forms.Textarea(attrs={"rows": 2}),
            "cautions": forms.Textarea(attrs={"rows": 2}),
            "people": forms.CheckboxSelectMultiple,
            "zones": forms.CheckboxSelectMultiple,
        }

    def __init__(self, *args: Any, refit: Refit, **options: Any) -> None:
        day = refit.hours_a_day
        super().__init__(*args, refit=refit, **options)
        self._use_own_fields(day)
        if self.instance.pk:  # only a change order brings a package into the scope later
            del self.fields["outside_scope"]
        vendor = self.fields["vendor"]
        assert isinstance(vendor, forms.ModelChoiceField)
        vendor.empty_label = "our own crew"
        booking = self.before.get("booking")
        if booking:
            self.initial["booking_kind"] = booking["kind"]
            self.initial["booking_at"] = MomentField().to_python(
                datetime.fromisoformat(booking["at"])
            )
            self.initial["booking_agreed_with"] = booking["agreed_with"]
            self.initial["booking_note"] = booking["note"]
        self._pieces = list(refit.pieces.all())
        chosen = dict(self.before.get("pieces", []))
        for piece in self._pieces:
            name = f"piece_{piece.pk}"
            self.fields[name] = forms.ChoiceField(
                label=str(piece),
                required=False,
                choices=[("", "not needed"), *PieceEffect.choices],
                template_name="desk/_field.html",  # type: ignore[call-arg]
            )
            if piece.pk in chosen:
                self.initial[name] = chosen[piece.pk]

    def _use_own_fields(self, day: Any) -> None:
        own = {
            "low_minutes": working_time(
                day, label="At best", required=False, help_text="Empty: as likely."
            ),
            "likely_minutes": working_time(
                day,
                label="Working time, most likely",
                help_text="With its unit: 2 d, 6 h, 90 min.",
            ),
            "high_minutes": working_time(
                day, label="At worst", required=False, help_text="Empty: as likely."
            ),
            "hold_minutes": elapsed_time(
                label="Hold after the work",
                required=False,
                help_text="Time on the clock when nobody works and nothing may move: 24 h.",
            ),
        }
        for name, field in own.items():
            field.template_name = "desk/_field.html"  # type: ignore[attr-defined]
            self.fields[name] = field

    def piece_fields(self) -> Iterator[BoundField]:
        for piece in self._pieces:
            yield self[f"piece_{piece.pk}"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self._order_times(cleaned)
        cleaned["hold_minutes"] = cleaned.get("hold_minutes") or 0
        if cleaned.get("booking_kind") and not cleaned.get("booking_at"):
            if "booking_at" not in self.errors:
                self.add_error("booking_at", "Say when: a date was agreed.")
        elif cleaned.get("booking_at") and not cleaned.get("booking_kind"):
            self.add_error("booking_kind", "Say whether it starts then or not before then.")
        self._check_launch(cleaned)
        return cleaned

    def _order_times(self, cleaned: dict[str, Any]) -> None:
        likely = cleaned.get("likely_minutes")
        if likely is None:
            return
        for name in ("low_minutes", "high_minutes"):
            if name not in self.errors and cleaned.get(name) is None:
                cleaned[name] = likely
        if cleaned.get("low_minutes", likely) > likely:
            self.add_error("low_minutes", "At best it cannot take longer than likely.")
        if cleaned.get("high_minutes", likely) < likely:
            self.add_error("high_minutes", "At worst it cannot be quicker than likely.")

    def _check_launch(self, cleaned: dict[str, Any]) -> None:
        if not cleaned.get("is_launch"):
            return
        launches = self.refit.packages.filter(is_launch=True).exclude(pk=self.instance.pk)
        if other := launches.first():
            self.add_error("is_launch", f"“{other}” is the launch. Untick it there first.")

    def part_facts(self) -> Facts:
        cleaned = self.cleaned_data
        booking = None
        if cleaned.get("booking_kind"):
            booking = {
                "kind": cleaned["booking_kind"],
                "at": cleaned["booking_at"],
                "agreed_with": cleaned["booking_agreed_with"],
                "note": cleaned["booking_note"],
            }
        pieces = sorted(
            [piece.pk, cleaned[f"piece_{piece.pk}"]]
            for piece in self._pieces
            if cleaned.get(f"piece_{piece.pk}")
        )
        facts: Facts = {"booking": booking, "pieces": pieces}
        if "outside_scope" in cleaned:
            facts["is_agreed"] = not cleaned["outside_scope"]
        return facts


class LinkForm(FactsForm):
    """What a package waits for. The package itself is given by the page."""

    min_lag = forms.CharField(
        required=False,
        label="At least",
        help_text="Wait so long between: 24 h, 2 d. With a minus they may overlap.",
    )
    max_lag = forms.CharField(
        required=False, label="At most", help_text="Empty: as long as you like."
    )

    class Meta:
        model = Dependency
        fields = ("before", "relation", "lag_in", "reason")
        labels: ClassVar[dict[str, str]] = {
            "before": "Waits for",
            "relation": "How",
            "lag_in": "Counted in",
            "reason": "Physical reason",
        }
        help_texts: ClassVar[dict[str, str]] = {
            "reason": "What goes wrong otherwise: “holes are drilled before the coat”."
        }

    def __init__(
        self, *args: Any, refit: Refit, after: WorkPackage | None = None, **options: Any
    ) -> None:
        super().__init__(*args, refit=refit, **options)
        if after is not None:
            self.instance.after = after
        before = self.fields["before"]
        assert isinstance(before, forms.ModelChoiceField)
        if before.queryset is not None:
            before.queryset = before.queryset.exclude(pk=self.instance.after_id)
        before.empty_label = "choose a package"
        if self.instance.pk:
            link = self.instance
            self.initial["min_lag"] = self._write(link.min_lag_minutes, link.lag_in)
            if link.max_lag_minutes is not None:
                self.initial["max_lag"] = self._write(link.max_lag_minutes, link.lag_in)

    def fact_names(self) -> list[str]:
        return [*super().fact_names(), "after", "min_lag_minutes", "max_lag_minutes"]

    def _write(self, minutes: int, lag_in: str) -> str:
        if lag_in == LagIn.WORKING:
            return write_working_time(minutes, self.refit.hours_a_day)
        return write_elapsed(minutes)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        for name in ("min_lag", "max_lag"):
            text = (cleaned.get(name) or "").strip()
            minutes: int | None = 0 if name == "min_lag" else None
            if text:
                try:
                    if cleaned.get("lag_in") == LagIn.WORKING:
                        minutes = read_working_lag(text, self.refit.hours_a_day)
                    else:
                        minutes = read_elapsed(text, negative=True)
                except UnreadableDuration as error:
                    self.add_error(name, str(error))
            cleaned[f"{name}_minutes"] = minutes
        low, high = cleaned["min_lag_minutes"], cleaned["max_lag_minutes"]
        if high is not None and low is not None and high < low:
            self.add_error("max_lag", "The longest wait must not be shorter than the shortest.")
        before, relation = cleaned.get("before"), cleaned.get("relation")
        if before and relation:
            same = Dependency.objects.filter(
                before=before, after=self.instance.after, relation=relation
            ).exclude(pk=self.instance.pk)
            if same.exists():
                self.add_error("before", f"It waits for {before} in this way already.")
            elif ring := ring_closed_by(before=before, after=self.instance.after):
                self.add_error("before", say_ring(ring))
        return cleaned

    def part_facts(self) -> Facts:
        return {
            "after": self.instance.after_id,
            "min_lag_minutes": self.cleaned_data["min_lag_minutes"],
            "max_lag_minutes": self.cleaned_data["max_lag_minutes"],
        }


class ProgressForm(PlainForm):
    """When something happened: a moment that is not in the future; empty means now."""

    at = MomentField(required=False, label="When", help_text="Empty: now.")

    def clean_at(self) -> datetime:
        now = timezone.now().replace(second=0, microsecond=0)
        at: datetime = self.cleaned_data["at"] or now
        if at > now + timedelta(minutes=1):
            raise forms.ValidationError("This lies in the future.")
        return min(at, now)


class FinishForm(ProgressForm):
    """The end of the work; asks for the start where none was recorded."""

    started_at = MomentField(required=False, label="Started")

    def __init__(self, *args: Any, package: WorkPackage, **options: Any) -> None:
        super().__init__(*args, **options)
        if package.started_at is not None:
            del self.fields["started_at"]
        else:
            self.fields["started_at"].required = True


class RemainingForm(PlainForm):
    """How much working time is left."""

    def __init__(self, *args: Any, refit: Refit, **options: Any) -> None:
        super().__init__(*args, **options)
        field = working_time(
            refit.hours_a_day, label="Working time left", help_text="From now: 1 d, 4 h, 30 min."
        )
        field.template_name = "desk/_field.html"  # type: ignore[attr-defined]
        self.fields["remaining"] = field

"""Form fields that read what people type: durations with a unit, measures, moments, weeks of hours.

Each cleans to what the database stores and prepares the stored value so that sending a form back
untouched changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from refit.work import durations
from refit.work.hours import UnreadableHours, read_days, read_hours, write_days, write_hours
from refit.work.measures import Measure
from refit.work.models import Weekday
from refit.work.numbers import UnreadableNumber
from refit.work.wording import say_typed


class DurationField(forms.CharField):
    """Minutes, typed with a unit. Which reader and writer it uses makes it working or elapsed."""

    def __init__(
        self, *, read: Callable[[str], int], write: Callable[[int], str], **options: Any
    ) -> None:
        self.read = read
        self.write = write
        super().__init__(**options)
        self.widget.attrs.setdefault("autocomplete", "off")

    def prepare_value(self, value: Any) -> Any:
        return self.write(value) if isinstance(value, int) else value

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            return self.read(text)
        except durations.UnreadableDuration as error:
            raise ValidationError(str(error), code="duration") from None


def working_time(hours_a_day: Decimal, **options: Any) -> DurationField:
    """Working time: a day is as long as the refit says."""
    return DurationField(
        read=lambda text: durations.read_working_time(text, hours_a_day),
        write=lambda minutes: durations.write_working_time(minutes, hours_a_day),
        **options,
    )


def elapsed_time(**options: Any) -> DurationField:
    """Time on the clock: a day is 24 hours."""
    return DurationField(read=durations.read_elapsed, write=durations.write_elapsed, **options)


class MomentField(forms.DateTimeField):
    """A date and time in the zone of the refit, typed or picked, kept to the minute."""

    def __init__(self, **options: Any) -> None:
        options.setdefault(
            "widget",
            forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        )
        super().__init__(input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M", "%Y-%m-%d"], **options)
        self.error_messages["invalid"] = (
            "Give a date and time, like 2026-12-04 08:00. (In the hour when the clocks change"
            " choose another minute.)"
        )

    def to_python(self, value: Any) -> datetime | None:
        try:
            return super().to_python(value)
        except ValidationError:
            raise ValidationError(self.error_messages["invalid"], code="invalid") from None

    def prepare_value(self, value: Any) -> Any:
        return timezone.localtime(value) if isinstance(value, datetime) else value


def day_field(**options: Any) -> forms.DateField:
    """A day, picked or typed as 2026-12-04."""
    field = forms.DateField(
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        input_formats=["%Y-%m-%d"],
        **options,
    )
    field.error_messages["invalid"] = "Give a day, like 2026-12-04."
    return field


class MeasureField(forms.CharField):
    """A length or weight in the refit's units; cleans to metric."""

    def __init__(self, *, measure: Measure, **options: Any) -> None:
        self.measure = measure
        super().__init__(**options)
        self.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off"})

    def prepare_value(self, value: Any) -> Any:
        return self.measure.show(value) if isinstance(value, Decimal) else value

    def clean(self, value: Any) -> Any:
        text = super().clean(value).strip()
        if not text:
            return None
        if isinstance(self.initial, Decimal) and (
            text.removesuffix(self.measure.sign).rstrip() == self.measure.show(self.initial)
        ):
            return self.initial
        try:
            stored = self.measure.read(text)
        except UnreadableNumber as error:
            raise ValidationError(str(error), code="number") from None
        if stored > 99999:
            raise ValidationError(f"{say_typed(text)} is far too much.")
        return stored


class HoursField(forms.CharField):
    """The opening hours of one weekday, as one line of spans. Empty: closed all day."""

    def __init__(self, *, weekday: int, **options: Any) -> None:
        super().__init__(required=False, label=Weekday(weekday).label, **options)
        self.weekday = weekday
        self.widget.attrs.update({"placeholder": "closed", "autocomplete": "off"})

    def clean(self, value: Any) -> Any:
        try:
            spans = read_hours(super().clean(value))
        except UnreadableHours as error:
            raise ValidationError(str(error), code="hours") from None
        return [[self.weekday, opens, closes] for opens, closes in spans]


def write_weekday(hours: list[list[Any]], weekday: int) -> str:
    """The line that `HoursField` reads back, from the facts of a place."""
    return write_hours(span for day, *span in hours if day == weekday)


class DaysField(forms.CharField):
    """Days shut or away, one span a line: “2026-12-24 to 2027-01-02 winter closing”."""

    def __init__(self, **options: Any) -> None:
        super().__init__(
            required=False,
            widget=forms.Textarea(
                attrs={"rows": 3, "placeholder": "2026-12-24 to 2027-01-02 winter closing"}
            ),
            help_text="One line each: first day, last day, reason. One day alone is fine.",
            **options,
        )

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, list):
            return value
        return "\n".join(write_days(*span) for span in value)

    def clean(self, value: Any) -> Any:
        rows, wrong = [], []
        for line in super().clean(value).splitlines():
            if not line.strip():
                continue
            try:
                first, last, reason = read_days(line)
            except UnreadableHours as error:
                wrong.append(str(error))
                continue
            if len(reason) > 120:
                wrong.append(f"The reason of {first} is longer than 120 characters.")
            rows.append([first, last, reason])
        if wrong:
            raise ValidationError(wrong)
        return sorted(rows)

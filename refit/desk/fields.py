"""Form fields that read what people type: durations with a unit, measures, moments, weeks of hours.

Each cleans to what the database stores and prepares the stored value so that sending a form back
untouched changes nothing.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable
from datetime import date, datetime, time
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from refit.work import durations
from refit.work.models import Weekday

from .measures import Measure


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
        text = super().clean(value).strip().removesuffix(self.measure.sign).strip()
        if not text:
            return None
        if isinstance(self.initial, Decimal) and text == self.measure.show(self.initial):
            return self.initial
        try:
            number = Decimal(text.replace(",", "."))
        except InvalidOperation:
            raise ValidationError(f"“{text}” is not a number of {self.measure.sign}.") from None
        if not number.is_finite() or number < 0:
            raise ValidationError("Give a number that is not less than nothing.")
        if number > 99999:
            raise ValidationError(f"{text} {self.measure.sign} is more than any boat.")
        return self.measure.store(number)


_SPAN = re.compile(r"(\d{1,2})(?:[:.]([0-5]\d))?\s*(?:-|–|to)\s*(\d{1,2})(?:[:.]([0-5]\d))?")


def read_spans(text: str) -> list[tuple[time, time]]:
    """“8:00–12:00, 13–17” to spans; 24 and 0 at the end mean midnight. ValidationError else."""
    spans: list[tuple[time, time]] = []
    for word in re.split(r"[,;]|\band\b", text):
        if not word.strip():
            continue
        match = _SPAN.fullmatch(word.strip())
        if match is None:
            raise ValidationError(f"“{word.strip()}” is not a span of hours. Write 8:00–17:00.")
        opens = int(match[1]) * 60 + int(match[2] or 0)
        closes = int(match[3]) * 60 + int(match[4] or 0) or 1440
        if opens >= 1440 or closes > 1440:
            raise ValidationError(f"“{word.strip()}”: a day ends at 24:00.")
        if closes <= opens:
            raise ValidationError(f"“{word.strip()}” closes before it opens.")
        spans.append((time(*divmod(opens, 60)), time(*divmod(closes % 1440, 60))))
    spans.sort()
    for (_, closes_at), (opens_at, _) in itertools.pairwise(spans):
        if closes_at == time(0) or opens_at < closes_at:
            raise ValidationError("Two spans of this day overlap.")
    return spans


class HoursField(forms.CharField):
    """The opening hours of one weekday, as one line of spans. Empty: closed all day."""

    def __init__(self, *, weekday: int, **options: Any) -> None:
        super().__init__(required=False, label=Weekday(weekday).label, **options)
        self.weekday = weekday
        self.widget.attrs.update({"placeholder": "closed", "autocomplete": "off"})

    def clean(self, value: Any) -> Any:
        return [
            [self.weekday, f"{opens:%H:%M}", f"{closes:%H:%M}"]
            for opens, closes in read_spans(super().clean(value))
        ]


def write_spans(hours: list[list[Any]], weekday: int) -> str:
    """The line that `HoursField` reads back, from the facts of a place."""
    return ", ".join(
        f"{opens}–{'24:00' if closes == '00:00' else closes}"
        for day, opens, closes in hours
        if day == weekday
    )


class DaysField(forms.CharField):
    """Days shut or away, one span a line: “2026-12-24 to 2027-01-02 winter closing”."""

    _LINE = re.compile(
        r"(\d{4}-\d{2}-\d{2})(?:\s*(?:to|–|until)\s*(\d{4}-\d{2}-\d{2}))?[\s,:]*(.*)"
    )

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
        return "\n".join(
            " ".join(filter(None, [first if first == last else f"{first} to {last}", reason]))
            for first, last, reason in value
        )

    def clean(self, value: Any) -> Any:
        rows, wrong = [], []
        for line in super().clean(value).splitlines():
            if not line.strip():
                continue
            match = self._LINE.fullmatch(line.strip())
            try:
                if match is None:
                    raise ValueError
                first = date.fromisoformat(match[1])
                last = date.fromisoformat(match[2] or match[1])
            except ValueError:
                wrong.append(f"“{line.strip()}” is not like “2026-12-24 to 2027-01-02 reason”.")
                continue
            if last < first:
                wrong.append(f"“{line.strip()}” ends before it begins.")
            elif len(match[3]) > 120:
                wrong.append(f"The reason of {match[1]} is longer than 120 characters.")
            else:
                rows.append([first.isoformat(), last.isoformat(), match[3].strip()])
        if wrong:
            raise ValidationError(wrong)
        return sorted(rows)

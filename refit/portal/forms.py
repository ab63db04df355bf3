"""What a vendor types, in gloves: a date, a count, a word, a photo."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict

from refit.custody.models import Handoff
from refit.custody.pictures import ACCEPTED
from refit.quality.models import Criterion
from refit.work.models import Refit
from refit.work.numbers import UnreadableNumber, read_number
from refit.work.wording import say_day

MOST_PICTURES = 6
FURTHEST = timedelta(days=730)


class PromiseForm(forms.Form):
    """A day; the moment meant is the end of the shop's hours on it."""

    day = forms.DateField(
        label="Ready to collect on",
        widget=forms.DateInput(attrs={"type": "date"}),
        error_messages={
            "required": "Choose the day on which it will be ready.",
            "invalid": "Write the day like 2026-12-04.",
        },
    )
    note = forms.CharField(
        label="Why (if you like)",
        max_length=240,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(
        self, data: QueryDict | None = None, *, handoff: Handoff, refit: Refit, now: datetime
    ) -> None:
        super().__init__(data, prefix=f"promise-{handoff.pk}")
        self.handoff, self.refit, self.now = handoff, refit, now
        self.fields["day"].widget.attrs["min"] = refit.today(now).isoformat()

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"]
        today = self.refit.today(self.now)
        if day < today:
            raise ValidationError(f"{say_day(day, today)} is past. Choose today or a later day.")
        if day > today + FURTHEST:
            raise ValidationError("That is more than two years ahead: is the year right?")
        if self.handoff.origin.closing_moment(day) <= self.now:
            raise ValidationError("Your day is over. Choose tomorrow or a later day.")
        return day

    @property
    def moment(self) -> datetime:
        return self.handoff.origin.closing_moment(self.cleaned_data["day"])


class ManyFilesInput(forms.ClearableFileInput):
    allow_multiple_selected = True


class PicturesField(forms.FileField):
    """Several uploads; whether each is a picture is judged where it is stored."""

    def clean(self, data: Any, initial: Any = None) -> list[UploadedFile[Any]]:
        files = [one for one in (data if isinstance(data, list | tuple) else [data]) if one]
        if len(files) > MOST_PICTURES:
            raise ValidationError(f"Send at most {MOST_PICTURES} photos at once.")
        return [one for one in (forms.FileField.clean(self, file) for file in files) if one]


class ReadingForm(forms.Form):
    """One reading by the shop, for a criterion of one of its packages."""

    station = forms.CharField(label="Where", max_length=80, help_text="The same names each time.")
    numbers = forms.CharField(
        label="Numbers",
        max_length=240,
        help_text="All that were read there, with blanks between.",
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    instrument = forms.CharField(label="Read with (if you like)", max_length=120, required=False)

    def __init__(self, data: QueryDict | None = None, *, criterion: Criterion) -> None:
        super().__init__(data, prefix=f"reading-{criterion.pk}")
        self.criterion = criterion

    def clean_numbers(self) -> list[str]:
        parts = self.cleaned_data["numbers"].replace(";", " ").split()
        try:
            return [f"{read_number(one):f}" for one in parts]
        except UnreadableNumber as error:
            raise ValidationError(str(error)) from None


class ReceiptForm(forms.Form):
    parts = forms.IntegerField(
        label="Parts counted",
        min_value=0,
        max_value=9999,
        required=False,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
        error_messages={"invalid": "Write the count as a whole number."},
    )
    condition = forms.CharField(
        label="Condition",
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    pictures = PicturesField(
        label="Photos",
        required=False,
        widget=ManyFilesInput(attrs={"accept": ACCEPTED}),
    )

    def __init__(
        self,
        data: QueryDict | None = None,
        files: MultiValueDict[str, Any] | None = None,
        *,
        handoff: Handoff,
    ) -> None:
        super().__init__(data, files, prefix=f"receipt-{handoff.pk}")
        self.handoff = handoff
        self.fields["parts"].help_text = f"We count {handoff.parts_expected}."


class LeavingForm(ReceiptForm):
    """The same at the other end: the piece leaves the shop."""

    def __init__(
        self,
        data: QueryDict | None = None,
        files: MultiValueDict[str, Any] | None = None,
        *,
        handoff: Handoff,
    ) -> None:
        super().__init__(data, files, handoff=handoff)
        self.prefix = f"leaving-{handoff.pk}"

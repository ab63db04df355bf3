"""What a person types about being told."""

from __future__ import annotations

from datetime import datetime, time
from typing import Any

from django import forms

from refit.work.dates import LANGUAGES, USUAL, example
from refit.work.models import Refit

from .models import How, NoticeKind, Side
from .moments import QuietHours
from .wishes import KINDS_OF, Wishes, wish_for_dates, wish_for_hours, wish_for_kinds

EARLIEST_END, LATEST_START = time(4), time(23, 30)


class WishesForm(forms.Form):
    """One choice a kind, the quiet hours, the language of dates."""

    starts = forms.TimeField(label="Nothing after", widget=forms.TimeInput(attrs={"type": "time"}))
    ends = forms.TimeField(
        label="and before",
        widget=forms.TimeInput(attrs={"type": "time"}),
        help_text="Then the letter of the day comes.",
    )

    dates = forms.ChoiceField(
        label="Dates in letters",
        required=False,
        choices=[(USUAL, "as on the pages: Wed 25 Nov 14:30")]
        + [(code, example(code)) for code in LANGUAGES],
    )

    def __init__(self, *args: Any, refit: Refit, side: Side, person: str, **kwargs: Any) -> None:
        self.refit, self.person, self.kinds = refit, person, KINDS_OF[side]
        wishes = Wishes.of(refit)
        hours = wishes.quiet(person)
        initial: dict[str, Any] = {
            "starts": f"{hours.starts:%H:%M}",
            "ends": f"{hours.ends:%H:%M}",
            "dates": wishes.language(person),
        }
        super().__init__(*args, **{"initial": initial, **kwargs})
        for kind in self.kinds:
            self.fields[_name(kind)] = forms.ChoiceField(
                label=kind.label.capitalize(),
                choices=How.choices,
                initial=wishes.how(person, kind),
            )

    @property
    def kind_fields(self) -> list[forms.BoundField]:
        return [self[_name(kind)] for kind in self.kinds]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        starts, ends = typed.get("starts"), typed.get("ends")
        if starts and ends:
            if starts <= ends:
                self.add_error("starts", "This must be in the evening, later than the morning.")
            elif starts > LATEST_START:
                self.add_error("starts", f"Not later than {LATEST_START:%H:%M}.")
            elif ends < EARLIEST_END:
                self.add_error("ends", f"Not earlier than {EARLIEST_END:%H:%M}.")
        return typed

    def save(self, *, now: datetime) -> None:
        typed = self.cleaned_data
        wish_for_kinds(
            refit=self.refit,
            person=self.person,
            wishes={kind: How(typed[_name(kind)]) for kind in self.kinds},
            now=now,
        )
        wish_for_hours(
            refit=self.refit,
            person=self.person,
            hours=QuietHours(typed["starts"], typed["ends"]),
        )
        wish_for_dates(refit=self.refit, person=self.person, language=typed["dates"])


def _name(kind: NoticeKind) -> str:
    return f"kind-{kind.value.replace(' ', '-')}"

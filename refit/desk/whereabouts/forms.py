"""What the reader may ask of the picture, as a form that is sent with GET."""

from __future__ import annotations

from typing import Any

from django import forms

from .courses import Choice
from .rows import Rows

ZOOMS = {"": None, "8": 56, "3": 21}
"""Days that fill the width of the screen, by the value of ``weeks``; None: the whole refit."""


class LookForm(forms.Form):
    """One piece, one place, the driving chain, and how close to look."""

    piece = forms.TypedChoiceField(coerce=int, empty_value=None, required=False)
    place = forms.TypedChoiceField(coerce=int, empty_value=None, required=False)
    driving = forms.BooleanField(required=False, label="Only the driving chain")
    weeks = forms.ChoiceField(
        required=False,
        choices=[("", "the whole refit"), ("8", "8 weeks"), ("3", "3 weeks")],
        label="In sight",
    )

    def __init__(self, data: Any, rows: Rows) -> None:
        super().__init__(data)
        pieces = [(str(piece.id), f"{piece.tag} {piece.name}") for piece in rows.pieces]
        places = [(str(place.id), place.name) for place in rows.places]
        self.fields["piece"].choices = [("", "all pieces"), *pieces]  # type: ignore[attr-defined]
        self.fields["place"].choices = [("", "all places"), *places]  # type: ignore[attr-defined]
        for name in ("piece", "place"):
            self.fields[name].error_messages["invalid_choice"] = (
                f"There is no such {name} in this refit; choose one of the list."
            )

    def choice(self) -> Choice:
        """What was asked for; a field that cannot be read counts as not set."""
        self.is_valid()
        cleaned = self.cleaned_data
        return Choice(cleaned.get("piece"), cleaned.get("place"), cleaned.get("driving") or False)

    def days_in_sight(self) -> int | None:
        self.is_valid()
        return ZOOMS[self.cleaned_data.get("weeks") or ""]

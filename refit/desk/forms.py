"""The form of the desk: over the facts of one row, safe against two people editing at once.

It carries, signed, the facts as they were when it was opened. If they are different when it
comes back, nothing is written: the form shows what is different, and only sending it once more
puts the user's values over it. Forms of each subject stand in ``forms_<subject>`` modules.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, ClassVar

from django import forms
from django.core import signing
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import IntegrityError
from django.db.models import Model
from django.http import QueryDict

from refit.work.models import Actor, Refit
from refit.work.services import Facts, Refused, Stale, add_row, change_row, facts_of

from .said import FactWords

if TYPE_CHECKING:
    _ModelForm = forms.ModelForm[Any]
else:  # generic for the type checker only
    _ModelForm = forms.ModelForm

_SALT = "refit.desk.opened"


class PlainForm(forms.Form):
    """Any form of the desk that is not over a row."""

    def __init__(self, *args: Any, **options: Any) -> None:
        options.setdefault("label_suffix", "")
        super().__init__(*args, **options)
        for field in self.fields.values():
            field.template_name = "desk/_field.html"  # type: ignore[attr-defined]


@dataclass(frozen=True)
class Difference:
    """One fact that somebody else changed: what it was, what it is, what this form says."""

    label: str
    was: str
    is_now: str
    yours: str


class FactsForm(_ModelForm):
    """``parts``: facts that live in other rows; subclasses set them in `part_facts`."""

    opened = forms.CharField(required=False, widget=forms.HiddenInput)
    parts: ClassVar[tuple[str, ...]] = ()
    unique_name: ClassVar[tuple[str, str]] = ("", "")
    """The field that is unique in a refit, and what to say when it is taken."""

    def __init__(
        self, *args: Any, refit: Refit, instance: Model | None = None, **options: Any
    ) -> None:
        options.setdefault("label_suffix", "")
        # A copy: what somebody typed wrongly must not show in the rest of the page.
        options["instance"] = copy(instance)
        super().__init__(*args, **options)
        self.refit = refit
        self.stale: list[Difference] = []
        if self.instance.pk is None and hasattr(self.instance, "refit_id"):
            self.instance.refit = refit
        self.before: Facts = facts_of(self.instance) if self.instance.pk else {}
        for name, field in self.fields.items():
            field.template_name = "desk/_field.html"  # type: ignore[attr-defined]
            if isinstance(field, forms.ModelChoiceField) and field.queryset is not None:
                field.queryset = field.queryset.filter(refit=refit)
            if name in self.initial:
                field.initial = self.initial[name]
        if self.instance.pk:
            self.initial["opened"] = self._sealed(self.before)

    def fact_names(self) -> list[str]:
        return [name for name in self._meta.fields or () if name in self.fields] + list(self.parts)

    def _sealed(self, facts: Facts) -> str:
        kept = {name: facts[name] for name in self.fact_names() if name in facts}
        return signing.dumps(kept, salt=_SALT, compress=True)

    def _get_validation_exclusions(self) -> set[str]:
        # The refit is fixed, not excluded: uniqueness within it must be checked.
        return set(super()._get_validation_exclusions()) - {"refit"}  # type: ignore[misc]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        name, sentence = self.unique_name
        value = cleaned.get(name)
        if name and value:
            others = type(self.instance)._default_manager.filter(
                **{"refit": self.refit, f"{name}__iexact": value}
            )
            if other := others.exclude(pk=self.instance.pk).first():
                self.add_error(name, sentence.format(value=value, other=other))
        return cleaned

    def part_facts(self) -> Facts:
        """The facts of ``parts``, from the cleaned data."""
        return {}

    def facts(self) -> Facts:
        """What the form sets, valid forms only."""
        facts: Facts = {}
        for name in self._meta.fields or ():
            if name not in self.fields:
                continue
            value = self.cleaned_data[name]
            if isinstance(value, Model):
                value = value.pk
            elif isinstance(self.fields[name], forms.ModelMultipleChoiceField):
                value = sorted(row.pk for row in value)
            facts[name] = value
        return facts | self.part_facts()

    def save_facts(self, *, actor: Actor, now: datetime, note: str = "") -> bool:
        """Store the row. False: the form now shows why not, and nothing is stored."""
        if not self.is_valid():
            return False
        row = self.instance
        try:
            if row.pk is None:
                add_row(
                    refit=self.refit, row=row, facts=self.facts(), actor=actor, now=now, note=note
                )
            else:
                change_row(
                    refit=self.refit, row=row, facts=self.facts(), opened=self._opened(),
                    actor=actor, now=now, note=note,
                )  # fmt: skip
        except Stale as stale:
            self._show_stale(stale)
            return False
        except Refused as refused:
            self.add_error(None, str(refused))
            return False
        except ValidationError as error:
            self._show_errors(error)
            return False
        except IntegrityError:
            # Two people at the same moment: the second is stopped by the database itself.
            self.add_error(None, "Somebody else has just saved the same. Look, then try again.")
            return False
        return True

    def _opened(self) -> Facts | None:
        try:
            opened: Facts = signing.loads(self.cleaned_data["opened"], salt=_SALT)
        except signing.BadSignature:
            raise ValidationError(
                "This form has lost its memory of what it was opened with. Open it again."
            ) from None
        return opened

    def _show_stale(self, stale: Stale) -> None:
        words = FactWords(self.refit)
        model = type(self.instance)
        yours = self.facts()
        self.stale = [
            Difference(
                label=words.label(model, name),
                was=words.say(model, name, stale.opened.get(name)),
                is_now=words.say(model, name, stale.now.get(name)),
                yours=words.say(model, name, yours.get(name)),
            )
            for name in stale.names
        ]
        sent = QueryDict(mutable=True)
        sent.update(self.data)
        sent[self.add_prefix("opened")] = self._sealed(stale.now)
        self.data = sent
        self.add_error(
            None,
            "Somebody changed this while you had it open; nothing is saved yet. Look at what is"
            " different, then save again to keep what stands in the form.",
        )

    def _show_errors(self, error: ValidationError) -> None:
        if not hasattr(error, "error_dict"):
            self.add_error(None, error)
            return
        for name, errors in error.error_dict.items():
            known = name in self.fields and name != NON_FIELD_ERRORS
            for one in errors:
                self.add_error(name if known else None, one)

"""Forms about quotes, orders, change orders, goods and payments."""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.forms import BoundField

from refit.contracts.models import Basis, ConsentWay, Goods, Quote
from refit.contracts.services import Answer, Part, Terms
from refit.work.models import CrewMember, Place, Refit, Vendor, WorkPackage
from refit.work.services import Facts

from .fields import MomentField, day_field, working_time
from .forms import FactsForm, PlainForm


def amount(label: str, *, below_zero: bool = False, **options: Any) -> forms.DecimalField:
    """An amount in the currency of the refit."""
    low = None if below_zero else Decimal(0)
    return forms.DecimalField(
        label=label, max_digits=12, decimal_places=2, min_value=low,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}), **options,
    )  # fmt: skip


def _own(form: forms.Form, name: str, rows: Any, empty: str | None = None) -> None:
    """Offer only these rows."""
    field = form.fields[name]
    assert isinstance(field, forms.ModelChoiceField)
    field.queryset = rows
    if empty is not None:
        field.empty_label = empty


class MoneyTermsForm(FactsForm):
    """What holds for the money of the whole refit."""

    class Meta:
        model = Refit
        fields = ("contingency", "crew_rate", "goods_margin_days", "owner_sees")


class InquiryForm(PlainForm):
    title = forms.CharField(max_length=160, label="What you ask for")
    packages = forms.ModelMultipleChoiceField(
        queryset=WorkPackage.objects.none(), widget=forms.CheckboxSelectMultiple, label="Packages",
        error_messages={"required": "Choose at least one package."},
    )  # fmt: skip
    vendors = forms.ModelMultipleChoiceField(
        queryset=Vendor.objects.none(), widget=forms.CheckboxSelectMultiple, label="Whom you ask",
        error_messages={"required": "Choose at least one vendor."},
    )  # fmt: skip
    scope = forms.CharField(
        required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 3}),
        label="What they should know", help_text="The scope of each package is shown to them.",
    )  # fmt: skip
    answer_by = day_field(required=False, label="Please answer by")

    def __init__(self, *args: Any, refit: Refit, **options: Any) -> None:
        super().__init__(*args, **options)
        _own(self, "packages", refit.packages.filter(started_at=None, is_launch=False))
        _own(self, "vendors", refit.vendors.all())


class AnswerForm(PlainForm):
    """What a vendor answers, typed by the manager or by the vendor."""

    price = amount("Price for all of it")
    lead_days = forms.IntegerField(
        required=False, min_value=0, max_value=1000, label="Lead time in days",
        help_text="From the order to the first day of work, on the calendar.",
    )  # fmt: skip
    promised_on = day_field(required=False, label="Ready to collect on")
    work_minutes = forms.CharField(required=False)
    leaves_out = forms.CharField(
        required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2}),
        label="What the price leaves out",
    )  # fmt: skip
    valid_until = day_field(required=False, label="The price holds until")
    remarks = forms.CharField(
        required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2}),
        label="Anything else",
    )  # fmt: skip
    place = forms.ModelChoiceField(queryset=Place.objects.none(), required=False, label="Where")

    def __init__(
        self, *args: Any, refit: Refit, quote: Quote, by_vendor: bool = False, **options: Any
    ) -> None:
        self.refit, self.quote = refit, quote
        names = ("price", "lead_days", "promised_on", "work_minutes", "leaves_out",
                 "valid_until", "remarks", "place")  # fmt: skip
        options.setdefault("initial", {name: getattr(quote, name) for name in names})
        super().__init__(*args, **options)
        self.fields["work_minutes"] = working_time(
            refit.hours_a_day, required=False, label="Working time",
            help_text="If you say one: 6 d, 40 h.",
        )  # fmt: skip
        if by_vendor:
            del self.fields["place"]
        else:
            _own(self, "place", refit.places.filter(vendor=quote.vendor), "as the package says")
        for field in self.fields.values():
            field.template_name = "desk/_field.html"  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        promised, until = cleaned.get("promised_on"), cleaned.get("valid_until")
        asked = self.refit.local(self.quote.asked_at).date()
        if promised is not None and promised < asked:
            self.add_error("promised_on", "That is before the question was asked.")
        if until is not None and until < asked:
            self.add_error("valid_until", "That is before the question was asked.")
        return cleaned

    def answer(self) -> Answer:
        names = (
            "price", "lead_days", "promised_on", "work_minutes", "leaves_out", "remarks",
            "valid_until",
        )  # fmt: skip
        values = {name: self.cleaned_data[name] for name in names}
        return Answer(**values, place=self.cleaned_data.get("place"))


PARTS = ((Basis.ORDER, "deposit"), (Basis.START, ""), (Basis.BACK, ""))


class TermsForm(PlainForm):
    """What is paid when; whatever is left of the price is due by ``rest``."""

    order = amount("Deposit, when the order is agreed", required=False)
    start = amount("When the work begins", required=False)
    back = amount("When everything is back", required=False)
    rest = forms.ChoiceField(
        choices=[(Basis.FINISH, "when the work is finished"), (Basis.BACK, Basis.BACK.label)],
        label="The rest",
    )
    days_after = forms.IntegerField(
        required=False, min_value=0, max_value=365, initial=0, label="Days to pay in"
    )
    terms = forms.CharField(
        required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 3}),
        label="What else is agreed",
    )  # fmt: skip

    def __init__(self, *args: Any, price: Decimal, **options: Any) -> None:
        super().__init__(*args, **options)
        self.price = price

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        paid = sum((cleaned.get(basis) or Decimal(0) for basis, _ in PARTS), Decimal(0))
        if paid > self.price:
            self.add_error(None, f"Together that is {paid}, more than the price, {self.price}.")
        return cleaned

    def result(self) -> Terms:
        days = self.cleaned_data["days_after"] or 0
        parts = [
            Part(str(basis), self.cleaned_data[basis], label, 0 if basis == Basis.ORDER else days)
            for basis, label in PARTS
            if self.cleaned_data.get(basis)
        ]
        left = self.price - sum((part.amount for part in parts), Decimal(0))
        if left:
            parts.append(Part(self.cleaned_data["rest"], left, "", days))
        return Terms(parts, terms=self.cleaned_data["terms"])


class NotedForm(PlainForm):
    """A yes that came another way than by the private page."""

    name = forms.CharField(max_length=120, label="Who agreed")
    note = forms.CharField(max_length=240, label="How", help_text="In writing, on the telephone …")


class ChangeForm(PlainForm):
    title = forms.CharField(max_length=160, label="What changes")
    reason = forms.CharField(max_length=4000, widget=forms.Textarea(attrs={"rows": 3}), label="Why")
    package = forms.ModelChoiceField(
        queryset=WorkPackage.objects.none(), label="Package",
        help_text="One outside the agreed scope comes into it; one inside takes longer.",
    )  # fmt: skip
    extra_minutes = forms.CharField(required=False)
    price = amount("What it costs", below_zero=True, help_text="Below zero if less is done.")
    price_basis = forms.CharField(
        required=False, max_length=160, label="Where the price comes from",
        help_text="Our estimate, or whose quote.",
    )  # fmt: skip
    decide_by = MomentField(required=False, label="Decide by")

    def __init__(self, *args: Any, refit: Refit, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["extra_minutes"] = working_time(
            refit.hours_a_day, required=False, label="How much longer it takes",
            help_text="Only for a package of the agreed scope: 1 d, 4 h.",
        )  # fmt: skip
        self.fields["extra_minutes"].template_name = "desk/_field.html"  # type: ignore[attr-defined]
        _own(self, "package", refit.packages.filter(finished_at=None), "choose a package")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        package = cleaned.get("package")
        if package is not None and package.is_agreed and not cleaned.get("extra_minutes"):
            self.add_error("extra_minutes", "Say how much longer the package takes.")
        return cleaned


class WordForm(PlainForm):
    """The owner's word as it was heard: what boat repair law in some States asks to be noted."""

    is_yes = forms.ChoiceField(
        choices=[("yes", "yes, do it"), ("no", "no, leave it")], label="The owner said"
    )
    way = forms.ChoiceField(
        choices=[choice for choice in ConsentWay.choices if choice[0] != ConsentWay.PAGE],
        label="How",
    )
    name = forms.CharField(max_length=120, label="Who said it")
    phone = forms.CharField(required=False, max_length=40, label="Number called")
    at = MomentField(label="When")
    note = forms.CharField(
        required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2}),
        label="What was said",
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("way") == ConsentWay.TELEPHONE and not cleaned.get("phone"):
            self.add_error("phone", "Say which number was called.")
        return cleaned


class GoodsForm(FactsForm):
    unique_name: ClassVar[tuple[str, str]] = ("code", "{value} is taken by “{other}”.")
    ordered_on = day_field(required=False, label="Ordered")
    promised_on = day_field(required=False, label="Promised for")
    arrived_on = day_field(required=False, label="Arrived")

    class Meta:
        model = Goods
        fields = (
            "code", "title", "quantity", "package", "supplier", "price", "lead_days",
            "ordered_on", "promised_on", "arrived_on", "note",
        )  # fmt: skip
        labels: ClassVar[dict[str, str]] = {"title": "What", "package": "Needed for"}
        widgets: ClassVar[dict[str, Any]] = {"note": forms.Textarea(attrs={"rows": 2})}

    def facts(self) -> Facts:
        return super().facts()


class OnceForm(PlainForm):
    """A form that does its work once, however often it is sent."""

    key = forms.CharField(widget=forms.HiddenInput, max_length=40)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["key"].initial = secrets.token_hex(16)

    @property
    def shown(self) -> Iterator[BoundField]:
        return (field for field in self if not field.is_hidden)


class PaymentForm(OnceForm):
    """A payment for a package: those of instalments and goods have their own button."""

    package = forms.ModelChoiceField(queryset=WorkPackage.objects.none(), label="For")
    vendor = forms.ModelChoiceField(queryset=Vendor.objects.none(), required=False, label="Paid to")
    amount = amount("Amount")
    paid_on = day_field(label="Day")
    reference = forms.CharField(required=False, max_length=80, label="Invoice or receipt")
    note = forms.CharField(required=False, max_length=240, label="Note")

    def __init__(self, *args: Any, refit: Refit, **options: Any) -> None:
        super().__init__(*args, **options)
        _own(self, "package", refit.packages.all(), "choose a package")
        _own(self, "vendor", refit.vendors.all(), "its vendor")


class PayForm(OnceForm):
    """What is known to be due, paid."""

    paid_on = day_field(label="Day")
    reference = forms.CharField(required=False, max_length=80, label="Invoice or receipt")


class HoursForm(OnceForm):
    package = forms.ModelChoiceField(queryset=WorkPackage.objects.none(), label="For")
    person = forms.ModelChoiceField(
        queryset=CrewMember.objects.none(), required=False, label="Who of the crew"
    )
    vendor = forms.ModelChoiceField(
        queryset=Vendor.objects.none(), required=False, label="Or a vendor"
    )
    worked_on = day_field(label="Day")
    minutes = forms.CharField(required=False)
    rate = amount("An hour costs")
    note = forms.CharField(required=False, max_length=240, label="Note")

    def __init__(self, *args: Any, refit: Refit, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["minutes"] = working_time(refit.hours_a_day, label="Working time")
        self.fields["minutes"].template_name = "desk/_field.html"  # type: ignore[attr-defined]
        _own(self, "package", refit.packages.all(), "choose a package")
        _own(self, "person", refit.crew.all(), "nobody of ours")
        _own(self, "vendor", refit.vendors.all(), "no vendor")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if bool(cleaned.get("person")) == bool(cleaned.get("vendor")):
            self.add_error("person", "Say who worked: one of the crew, or a vendor.")
        return cleaned

"""Asking several vendors for the same scope, and what each answered."""

from __future__ import annotations

from datetime import date

from django.db import models

from refit.work.models import Place, Refit, Vendor, WorkPackage

from .amounts import money


class Inquiries(models.QuerySet["Inquiry"]):
    def open(self) -> Inquiries:
        """Nobody has the work yet."""
        return self.filter(closed_at=None)


class Inquiry(models.Model):
    """The same question to several vendors: what would these packages cost, and when?"""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="inquiries")
    code = models.CharField(max_length=20)
    title = models.CharField(max_length=160)
    packages = models.ManyToManyField(WorkPackage, related_name="inquiries")
    scope = models.TextField("what is asked for", blank=True)
    answer_by = models.DateField("please answer by", null=True, blank=True)
    asked_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)

    objects = Inquiries.as_manager()

    class Meta:
        ordering = ["code"]
        verbose_name_plural = "inquiries"
        constraints = [models.UniqueConstraint(fields=["refit", "code"], name="one_inquiry_a_code")]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"


class QuoteState(models.TextChoices):
    ASKED = "asked", "asked"
    ANSWERED = "answered", "answered"
    PASSED = "passed", "does not want it"
    ACCEPTED = "accepted", "accepted"
    NOT_TAKEN = "not taken", "not taken"


class Quotes(models.QuerySet["Quote"]):
    def waiting(self) -> Quotes:
        """Asked, not answered, and the work is still to be had."""
        return self.filter(state=QuoteState.ASKED, inquiry__closed_at=None)

    def running_out(self, until: date) -> Quotes:
        """Answered, not decided, and valid no longer than that day."""
        return self.filter(
            state=QuoteState.ANSWERED, inquiry__closed_at=None, valid_until__lte=until
        )


class Quote(models.Model):
    """What one vendor says to an inquiry. Until it has answered it is only the question.

    ``lead_days``: days on the calendar from the order to the first day of work. ``promised_on``:
    the day on which the work is done and the pieces can be collected. ``work_minutes``: working
    time, where the vendor says one; else that of the package stands. ``place``: where it would be
    done; None: the vendor's own place, or ours if it has none.
    """

    inquiry = models.ForeignKey(Inquiry, on_delete=models.CASCADE, related_name="quotes")
    vendor = models.ForeignKey(Vendor, on_delete=models.PROTECT, related_name="quotes")
    place = models.ForeignKey(
        Place, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    state = models.CharField(
        max_length=10, choices=QuoteState, default=QuoteState.ASKED, editable=False
    )
    price = money("price")
    lead_days = models.PositiveSmallIntegerField("lead time in days", null=True, blank=True)
    promised_on = models.DateField("promised back", null=True, blank=True)
    work_minutes = models.PositiveIntegerField("working time", null=True, blank=True)
    leaves_out = models.TextField("left out", blank=True)
    remarks = models.TextField(blank=True)
    valid_until = models.DateField(null=True, blank=True)
    asked_at = models.DateTimeField()
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.CharField(max_length=120, blank=True)

    objects = Quotes.as_manager()

    class Meta:
        ordering = ["inquiry__code", "vendor__name"]
        constraints = [
            models.UniqueConstraint(fields=["inquiry", "vendor"], name="one_quote_a_vendor"),
            models.CheckConstraint(
                name="an_answer_has_a_price",
                condition=~models.Q(state__in=["answered", "accepted"])
                | models.Q(price__isnull=False),
                violation_error_message="A quote needs a price.",
            ),
        ]

    def __str__(self) -> str:
        return f"quote of {self.vendor} for {self.inquiry}"

    def has_run_out(self, today: date) -> bool:
        return self.valid_until is not None and self.valid_until < today

"""Who does the work: vendors, and our own crew."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models

from .refits import Refit


class Vendor(models.Model):
    """A subcontracted company."""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="vendors")
    name = models.CharField(max_length=120)
    trade = models.CharField(max_length=120, blank=True)
    contact = models.CharField("person to ask for", max_length=120, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    jobs_at_once = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["refit", "name"], name="one_vendor_a_name")]

    def __str__(self) -> str:
        return self.name


class CrewMember(models.Model):
    """One of our own people. Without hours of their own they keep the place's."""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="crew")
    name = models.CharField(max_length=120)
    skills = models.CharField(max_length=240, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    user = models.ForeignKey(
        "accounts.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="crew_of"
    )

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["refit", "name"], name="one_hand_a_name")]

    def __str__(self) -> str:
        return self.name


class Absence(models.Model):
    """Days on which one of the crew is away, both included."""

    member = models.ForeignKey(CrewMember, on_delete=models.CASCADE, related_name="absences")
    first_day = models.DateField()
    last_day = models.DateField()
    reason = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["first_day"]
        constraints = [
            models.CheckConstraint(
                name="absence_ends_after_it_begins",
                condition=models.Q(last_day__gte=models.F("first_day")),
                violation_error_message="The last day away must not come before the first.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.first_day} to {self.last_day}"

"""Plans as they were computed: dates, moves, causes, and what could not be kept."""

from __future__ import annotations

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from refit.work.models import Piece, Place, Refit, WorkPackage


class PlanState(models.TextChoices):
    CURRENT = "current", "current"
    EARLIER = "earlier", "replaced by a later one"


class Plan(models.Model):
    """One answer of the planner. Exactly one a refit is current.

    ``refit_version`` is the version it was computed from: a lower number than the refit's means
    that a newer plan is on its way. ``trouble`` is a sentence when no plan could be made (a ring of
    dependencies, a contradiction); such a plan has no dates, and the last good one stays current.
    ``notes`` lists what could not be kept: bookings, deadlines, windows missed.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="plans")
    state = models.CharField(max_length=10, choices=PlanState, default=PlanState.CURRENT)
    refit_version = models.PositiveIntegerField()
    computed_at = models.DateTimeField()
    seconds = models.FloatField()
    launch_at = models.DateTimeField(null=True)
    finish_at = models.DateTimeField(null=True)
    driving = models.JSONField(default=list)
    """Codes of the packages that drive the launch, first to last."""
    notes = models.JSONField(default=list, encoder=DjangoJSONEncoder)

    class Meta:
        ordering = ["-computed_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["refit"], condition=models.Q(state="current"), name="one_current_plan"
            )
        ]

    def __str__(self) -> str:
        return f"plan of {self.refit}, {self.computed_at:%Y-%m-%d %H:%M}"


class PlannedPackage(models.Model):
    """Dates of one package in one plan, why it starts then, and how long it may slip."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="packages")
    package = models.ForeignKey(WorkPackage, on_delete=models.CASCADE, related_name="planned")
    start = models.DateTimeField()
    work_finish = models.DateTimeField()
    finish = models.DateTimeField()
    slip_minutes = models.PositiveIntegerField(null=True)
    """Elapsed minutes it may start later without moving the launch; None if it does not matter."""
    drives = models.BooleanField(default=False)
    cause_kind = models.CharField(max_length=20, blank=True)
    cause = models.TextField(blank=True)
    """The one binding cause of its start, as a sentence."""

    class Meta:
        ordering = ["start", "id"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "package"], name="planned_once_a_plan")
        ]

    def __str__(self) -> str:
        return f"{self.package.code} {self.start:%Y-%m-%d %H:%M}"


class PlannedMove(models.Model):
    """A piece must get from place to place; follows from the plan."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="moves")
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="planned_moves")
    origin = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="+")
    destination = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="+")
    after_package = models.ForeignKey(
        WorkPackage, on_delete=models.CASCADE, null=True, related_name="+"
    )
    for_package = models.ForeignKey(
        WorkPackage, on_delete=models.CASCADE, null=True, related_name="+"
    )
    free_at = models.DateTimeField()
    depart = models.DateTimeField()
    arrive = models.DateTimeField()
    leave_by = models.DateTimeField(null=True)
    needed_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["depart", "id"]

    def __str__(self) -> str:
        return f"{self.piece}, {self.origin} to {self.destination}"


class PlanTrouble(models.Model):
    """Why the last attempt gave no plan. Gone as soon as one succeeds."""

    refit = models.OneToOneField(Refit, on_delete=models.CASCADE, related_name="plan_trouble")
    refit_version = models.PositiveIntegerField()
    at = models.DateTimeField()
    sentence = models.TextField()
    codes = models.JSONField(default=list)

    def __str__(self) -> str:
        return self.sentence

"""Handoffs and pictures: where pieces are, who answers for them, in what condition they went."""

from __future__ import annotations

from datetime import datetime

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Coalesce

from refit.work.models import Piece, Place, Refit, Rig, Vendor, WorkPackage
from refit.work.wording import say_count


class HandoffState(models.TextChoices):
    PLANNED = "planned", "planned"
    READY = "ready", "ready to collect"
    UNDER_WAY = "under way", "under way"
    RECEIVED = "received", "received"
    CANCELLED = "cancelled", "cancelled"


class Carrier(models.TextChoices):
    CREW = "crew", "we drive"
    VENDOR = "vendor", "the vendor brings or fetches it"
    HAULIER = "haulier", "a haulier"


class Handoffs(models.QuerySet["Handoff"]):
    def open(self) -> Handoffs:
        """Still to be finished."""
        return self.exclude(state__in=[HandoffState.RECEIVED, HandoffState.CANCELLED])

    def leaving(self, vendor: Vendor) -> Handoffs:
        """Out of the vendor's shop, not yet collected: what the vendor holds or will hold."""
        return self.filter(
            origin__vendor=vendor, state__in=[HandoffState.PLANNED, HandoffState.READY]
        )

    def touching(self, vendor: Vendor) -> Handoffs:
        """With the vendor at either end."""
        return self.filter(Q(origin__vendor=vendor) | Q(destination__vendor=vendor))

    def coming(self, vendor: Vendor) -> Handoffs:
        return self.open().filter(destination__vendor=vendor)

    def overdue(self, now: datetime) -> Handoffs:
        """Not ready at the time last promised, or else agreed."""
        return self.annotate(expected=Coalesce("promised_at", "due_at")).filter(
            state=HandoffState.PLANNED, expected__lt=now
        )

    def with_names(self) -> Handoffs:
        return self.select_related(
            "piece", "origin__vendor", "destination__vendor", "for_package", "refit"
        )


class Handoff(models.Model):
    """One piece gets from one place to another; its custodian changes at the two ends.

    The window ``free_at`` … ``leave_by`` … ``needed_at`` follows the plan until the piece is sent.
    ``due_at`` is what was agreed: it follows the plan while the piece is not yet at its origin,
    stands still once it is there, and changes only by a promise or by the manager.
    ``for_package`` is the package that needs the piece at the destination; None: it only goes home.
    ``drive_on``, ``drive_with``: set by the manager; its trip is on this day, with this rig.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="handoffs")
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="handoffs")
    origin = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="handoffs_out")
    destination = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="handoffs_in")
    for_package = models.ForeignKey(
        WorkPackage, on_delete=models.SET_NULL, null=True, blank=True, related_name="handoffs_in"
    )
    after_package = models.ForeignKey(
        WorkPackage, on_delete=models.SET_NULL, null=True, blank=True, related_name="handoffs_out"
    )
    carrier = models.CharField(max_length=10, choices=Carrier, default=Carrier.CREW)
    state = models.CharField(
        max_length=10, choices=HandoffState, default=HandoffState.PLANNED, editable=False
    )

    free_at = models.DateTimeField(null=True, blank=True)
    depart_at = models.DateTimeField("planned departure", null=True, blank=True)
    arrive_at = models.DateTimeField("planned arrival", null=True, blank=True)
    leave_by = models.DateTimeField(null=True, blank=True)
    needed_at = models.DateTimeField(null=True, blank=True)
    due_at = models.DateTimeField("due back", null=True, blank=True)
    promised_at = models.DateTimeField("promised", null=True, blank=True)
    promise_note = models.CharField(max_length=240, blank=True)
    drive_on = models.DateField("driven on", null=True, blank=True)
    drive_with = models.ForeignKey(
        Rig, on_delete=models.SET_NULL, null=True, blank=True, related_name="+",
        verbose_name="driven with",
    )  # fmt: skip

    ready_at = models.DateTimeField(null=True, blank=True)
    ready_by = models.CharField(max_length=120, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    sent_by = models.CharField(max_length=120, blank=True)
    sent_condition = models.TextField(blank=True)
    sent_parts = models.PositiveSmallIntegerField(null=True, blank=True)
    received_at = models.DateTimeField(null=True, blank=True)
    received_by = models.CharField(max_length=120, blank=True)
    received_condition = models.TextField(blank=True)
    received_parts = models.PositiveSmallIntegerField(null=True, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)

    objects = Handoffs.as_manager()

    class Meta:
        ordering = ["depart_at", "id"]
        indexes = [models.Index(fields=["refit", "state"])]
        constraints = [
            models.UniqueConstraint(
                fields=["piece"],
                condition=Q(state="under way"),
                name="a_piece_is_on_one_way_at_a_time",
            ),
            models.CheckConstraint(
                name="received_only_after_sent",
                condition=Q(received_at=None)
                | Q(sent_at__isnull=False, received_at__gte=F("sent_at")),
                violation_error_message="A piece cannot be received before it was sent.",
            ),
            models.CheckConstraint(
                name="handoff_leads_somewhere_else",
                condition=~Q(origin=F("destination")),
                violation_error_message="A piece cannot move to the place where it is.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece.name}, {self.origin} to {self.destination}"

    @property
    def expected_at(self) -> datetime | None:
        """When it shall be ready to collect: as last promised, else as agreed."""
        return self.promised_at or self.due_at

    def is_overdue(self, now: datetime) -> bool:
        expected = self.expected_at
        return self.state == HandoffState.PLANNED and expected is not None and expected < now

    @property
    def parts_expected(self) -> int:
        """How many parts should arrive: as counted when it left, else as the piece has."""
        return self.piece.parts if self.sent_parts is None else self.sent_parts

    @property
    def parts_missing(self) -> int | None:
        """More than 0: so many fewer arrived than left. Below 0: more. None: nobody counted."""
        return None if self.received_parts is None else self.parts_expected - self.received_parts

    def say_parts(self) -> str:
        """The difference of the part counts at the two ends, as a sentence; empty if none."""
        if not self.parts_missing:
            return ""
        return f"{say_count(self.parts_expected, 'part')} left, {self.received_parts} arrived."


class End(models.TextChoices):
    SENT = "sent", "when it left"
    RECEIVED = "received", "when it arrived"


class Picture(models.Model):
    """A photo of a piece, re-encoded and stripped of position, under a random name."""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="pictures")
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="pictures")
    handoff = models.ForeignKey(
        Handoff, on_delete=models.CASCADE, null=True, blank=True, related_name="pictures"
    )
    end = models.CharField(max_length=10, choices=End, blank=True)
    file = models.FileField(upload_to="pictures/")
    small = models.FileField(upload_to="pictures/")
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    taken_by = models.CharField(max_length=120)
    added_at = models.DateTimeField()
    caption = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering = ["added_at", "id"]

    def __str__(self) -> str:
        return f"picture of {self.piece}"

"""What was asked of a vendor's calendar: one row for each booking and address.

Not in the refit document, as no letter is: it is what was said to one mailbox, and an imported
refit asks anew. The answer stands in the journal, and whose word it is in the booking.
"""

from __future__ import annotations

from datetime import timedelta

from django.db import models

from refit.work.models import Refit, Vendor, WorkPackage


class RequestStatus(models.TextChoices):
    ASKED = "asked", "asked, no answer yet"
    ACCEPTED = "accepted", "accepted"
    DECLINED = "declined", "declined"
    COUNTERED = "countered", "another date proposed"
    WITHDRAWN = "withdrawn", "taken back"


class BookingRequests(models.QuerySet["BookingRequest"]):
    def open(self) -> BookingRequests:
        """Of bookings that stand."""
        return self.exclude(status=RequestStatus.WITHDRAWN)


class BookingRequest(models.Model):
    """An invitation of RFC 5546 to one address: ``uid`` for life, ``sequence`` rises when the time
    changes or the booking goes.

    ``email`` is the address invited; whoever answers must say it. ``answer_stamp`` is the DTSTAMP
    of the answer to this sequence: an older one comes too late. What is needed to take the
    invitation back is kept here, for the booking and its package may be gone by then.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="booking_requests")
    package = models.OneToOneField(
        WorkPackage, on_delete=models.SET_NULL, null=True, related_name="booking_request"
    )
    """None once the booking is taken back."""
    vendor = models.ForeignKey(
        Vendor, on_delete=models.SET_NULL, null=True, related_name="booking_requests"
    )
    email = models.EmailField()
    name = models.CharField(max_length=120, blank=True)
    uid = models.CharField(max_length=120, unique=True)
    sequence = models.PositiveIntegerField(default=0)
    summary = models.CharField(max_length=320)
    description = models.TextField(blank=True)
    location = models.CharField(max_length=400, blank=True)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    stamped_at = models.DateTimeField()
    """When this sequence was written: its DTSTAMP."""
    status = models.CharField(max_length=10, choices=RequestStatus, default=RequestStatus.ASKED)
    answered_at = models.DateTimeField(null=True)
    answer_stamp = models.DateTimeField(null=True)
    answer_note = models.CharField(max_length=500, blank=True)
    proposed_at = models.DateTimeField(null=True)

    objects = BookingRequests.as_manager()

    class Meta:
        ordering = ["starts_at", "id"]
        constraints = [
            models.CheckConstraint(
                name="request_takes_time", condition=models.Q(ends_at__gt=models.F("starts_at"))
            ),
        ]

    def __str__(self) -> str:
        return f"{self.summary}, asked of {self.email}"

    @property
    def lasts(self) -> timedelta:
        return self.ends_at - self.starts_at

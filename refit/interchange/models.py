"""Sheets that were read and wait for a yes. Everything else of `refit.interchange` has no rows."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import models
from django.db.models import Q

from refit.accounts.models import User
from refit.work.models import Refit

KEPT_FOR = timedelta(days=1)


class Uploads(models.QuerySet["Upload"]):
    def replace_for(self, user: User, refit: Refit, now: datetime) -> None:
        """Drop what this user left lying about for this refit, and whatever is a day old."""
        self.filter(Q(user=user, refit=refit) | Q(at__lt=now - KEPT_FOR)).delete()


class Upload(models.Model):
    """``tables``: `refit.interchange.reading.Tables` as JSON; ``names``: those of the files."""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="uploads")
    user = models.ForeignKey("accounts.User", on_delete=models.CASCADE, related_name="+")
    at = models.DateTimeField()
    names = models.CharField(max_length=240)
    tables = models.JSONField()

    objects = Uploads.as_manager()

    def __str__(self) -> str:
        return self.names

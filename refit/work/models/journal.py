"""The journal: who changed what, when, from what to what. Rows are added, never altered.

The code refuses it, and so does the database (a trigger, migration ``work.0003``), which lets only
an account or a link that is gone be forgotten. Taking out rows is refused by the code alone.

Every write of the business goes through a service that calls `record` in its own transaction;
that is also what tells a plan that it is stale (`Refit.version`) and what the notices read.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.db.models import F

from .refits import Refit


@dataclass(frozen=True)
class Actor:
    """Who did it: a user, the holder of a private link, or the software itself.

    ``side`` is "manager", "crew", "owner", "vendor" or "refit".
    """

    name: str
    side: str
    user_id: int | None = None
    link_id: int | None = None


THE_SOFTWARE = Actor(name="refit", side="refit")


class NotAltered(TypeError):
    """Somebody's code tried to alter the journal. What was wrong is put right by a new entry."""


class JournalEntries(models.QuerySet["JournalEntry"]):
    def update(self, **_fields: Any) -> int:
        raise NotAltered("Entries of the journal are added, never altered.")

    def delete(self) -> tuple[int, dict[str, int]]:
        raise NotAltered("Entries of the journal are added, never taken out.")


class JournalEntry(models.Model):
    """``verb`` is a word of ours ("promised", "received", "changed"); ``subject`` is what it was
    done to, by kind, id and the name it had; before and after hold only the fields that changed."""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="journal")
    at = models.DateTimeField()
    actor_name = models.CharField(max_length=120)
    actor_side = models.CharField(max_length=10)
    user = models.ForeignKey(
        "accounts.User", on_delete=models.SET_NULL, null=True, related_name="+"
    )
    link = models.ForeignKey(
        "accounts.PrivateLink", on_delete=models.SET_NULL, null=True, related_name="+"
    )
    verb = models.CharField(max_length=30)
    subject_kind = models.CharField(max_length=30)
    subject_id = models.BigIntegerField(null=True)
    subject_name = models.CharField(max_length=240)
    before = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    after = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    note = models.TextField(blank=True)

    objects = JournalEntries.as_manager()

    class Meta:
        ordering = ["-at", "-id"]
        verbose_name_plural = "journal entries"
        indexes = [
            models.Index(fields=["refit", "-at"]),
            models.Index(fields=["refit", "subject_kind", "subject_id"]),
        ]

    def __str__(self) -> str:
        return f"{self.actor_name} {self.verb} {self.subject_name}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise NotAltered("Entries of the journal are added, never altered.")
        super().save(*args, **kwargs)

    def delete(self, *_args: Any, **_kwargs: Any) -> tuple[int, dict[str, int]]:
        raise NotAltered("Entries of the journal are added, never taken out.")


def record(
    *,
    refit: Refit,
    actor: Actor,
    now: datetime,
    verb: str,
    subject: models.Model | None = None,
    subject_name: str = "",
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
    note: str = "",
    replan: bool = True,
) -> JournalEntry:
    """Write one entry and, with ``replan``, raise the refit's version. Call inside a transaction.

    ``refit.version`` is refreshed in memory as well.
    """
    if replan:
        Refit.objects.filter(pk=refit.pk).update(version=F("version") + 1)
        refit.refresh_from_db(fields=["version"])
    return JournalEntry.objects.create(
        refit=refit,
        at=now,
        actor_name=actor.name,
        actor_side=actor.side,
        user_id=actor.user_id,
        link_id=actor.link_id,
        verb=verb,
        subject_kind=subject._meta.model_name or "" if subject is not None else "",
        subject_id=subject.pk if subject is not None else None,
        subject_name=subject_name or str(subject or ""),
        before=before or {},
        after=after or {},
        note=note,
    )

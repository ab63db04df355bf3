"""Pieces and the zones of the boat. Where a piece is and who answers for it: ``refit.custody``."""

from __future__ import annotations

from django.db import models

from .measures import kilograms, metres
from .places import Place
from .refits import Refit


class Zone(models.Model):
    """A part of the boat that one package at a time takes for itself."""

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="zones")
    name = models.CharField(max_length=120)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["refit", "name"], name="one_zone_a_name")]

    def __str__(self) -> str:
        return self.name


class Piece(models.Model):
    """The boat, or a thing that comes off it.

    ``place`` is where the record last put it (None while it is under way); ``fitted`` says that it
    is on the boat, wherever that is. Both are kept by ``refit.custody``. ``returns_to`` is where it
    belongs when nobody works on it any more.
    """

    refit = models.ForeignKey(Refit, on_delete=models.CASCADE, related_name="pieces")
    tag = models.CharField(max_length=20, help_text="What is written on it: ST-03.")
    name = models.CharField(max_length=120)
    is_boat = models.BooleanField("this piece is the boat itself", default=False)
    shared = models.BooleanField(
        "several jobs may be done on it at once",
        default=False,
        help_text="At the same place, in different zones. Always so for the boat.",
    )
    place = models.ForeignKey(
        Place, on_delete=models.PROTECT, null=True, blank=True, related_name="pieces_here"
    )
    fitted = models.BooleanField("on the boat", default=False)
    since = models.DateTimeField("there since", null=True, blank=True)
    returns_to = models.ForeignKey(
        Place, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    parts = models.PositiveSmallIntegerField("count of parts", default=1)
    travels_with = models.CharField(max_length=240, blank=True)
    length_m = metres("length")
    width_m = metres("width")
    height_m = metres("height")
    weight_kg = kilograms("weight")
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["-is_boat", "tag"]
        constraints = [
            models.UniqueConstraint(fields=["refit", "tag"], name="one_piece_a_tag"),
            models.UniqueConstraint(
                fields=["refit"], condition=models.Q(is_boat=True), name="one_boat_a_refit"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.tag})"

"""The address of a refit: the word that stands for it in the path of its pages."""

from __future__ import annotations

from refit.work.models import Refit


def free_slug(wanted: str) -> str:
    """``wanted``, or the first of wanted-2, wanted-3 … that no refit has."""
    taken = set(Refit.objects.values_list("slug", flat=True))
    slug, number = wanted, 1
    while slug in taken:
        number += 1
        slug = f"{wanted[: 60 - len(str(number)) - 1]}-{number}"
    return slug

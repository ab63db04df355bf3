"""The next free code of a kind: Q1, Q2 … WO1 … CO1."""

from __future__ import annotations

from django.db.models import Model

from refit.work.models import Refit


def next_code(model: type[Model], refit: Refit, stem: str) -> str:
    taken = set(model._default_manager.filter(refit=refit).values_list("code", flat=True))
    number = 1
    while f"{stem}{number}" in taken:
        number += 1
    return f"{stem}{number}"

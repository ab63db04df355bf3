"""Plan health: what to look at before the dates are believed."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from refit.planning.health import FEW, Check
from refit.planning.health_reading import Named, read_health
from refit.work.models import Refit

from .pages import DeskRequest, manager_page


@require_safe
@manager_page()
def health(request: DeskRequest, refit: Refit) -> HttpResponse:
    """Every check with its count, its packages by name, and what to do."""
    plan = request.desk.plan
    context: dict[str, Any] = {"refit": refit, "plan": plan, "few": FEW}
    if plan is not None:
        plan.refit = refit
        found, names = read_health(plan, now=request.desk.now)
        context |= {
            "health": found,
            "open": [(check, _named(check, names)) for check in found.open],
            "good": [(check, _named(check, names)) for check in found.good],
        }
    return render(request, "desk/health.html", context)


def _named(check: Check, names: dict[str, Named]) -> list[tuple[str, Named | None, str]]:
    """Code, package and reason of what a check found."""
    return [(one.code, names.get(one.code), one.said) for one in check.found]

"""The page with the picture of where everything is."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from refit.desk.pages import DeskRequest, manager_page
from refit.work.models import Refit

from .days import keep_diary, say_here, tabulate
from .forms import LookForm
from .legend import explain
from .model import gather
from .pictured import draw


@require_safe
@manager_page()
def whereabouts(request: DeskRequest, refit: Refit) -> HttpResponse:
    """The picture, what happens day by day, and the same as a table."""
    rows = gather(refit, request.desk.plan, request.desk.now)
    form = LookForm(request.GET or {}, rows)
    context = {"refit": refit, "rows": rows, "form": form}
    if not rows.is_empty:
        choice = form.choice()
        shown = draw(rows, choice, days_in_sight=form.days_in_sight())
        lanes = [lane.place.id for lane in shown.picture.lanes]
        table = tabulate(rows, shown.courses, shown.chosen, lanes)
        context |= {
            "choice": choice,
            "shown": shown,
            "legend": explain(),
            "diary": keep_diary(rows, shown.courses, shown.chosen),
            "table": table,
            "here": say_here(table),
        }
    return render(request, "desk/whereabouts.html", context)

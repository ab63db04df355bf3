"""What a member of the refit wants to be told, and when."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from refit.accounts.models import Role
from refit.notices.forms import WishesForm
from refit.notices.models import Side
from refit.notices.wishes import person_key
from refit.work.models import Refit

from .pages import DeskRequest, manager_page

SIDE_OF = {Role.MANAGER: Side.MANAGER, Role.CREW: Side.CREW}
"""A reader is told nothing by mail."""


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(Role.CREW, only=True)
def wishes(request: DeskRequest, refit: Refit) -> HttpResponse:
    side = SIDE_OF[request.desk.role]
    form = WishesForm(
        request.POST if request.method == "POST" else None,
        refit=refit,
        side=side,
        person=person_key(side, request.user.email),
    )
    if request.method == "POST" and form.is_valid():
        form.save(now=request.desk.now)
        messages.success(request, "Saved.")
        return redirect("desk:wishes", refit.slug)
    return render(request, "desk/wishes.html", {"refit": refit, "form": form})

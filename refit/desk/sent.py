"""What was told to whom: the letters of a refit, first those that could not be sent."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from refit.notices.models import Letter, LetterState
from refit.notices.sending import try_again
from refit.work.models import Refit

from .pages import DeskRequest, manager_page

A_PAGE = 40


@require_safe
@manager_page(only=True)
def sent(request: DeskRequest, refit: Refit) -> HttpResponse:
    letters = Letter.objects.filter(refit=refit).prefetch_related("notices")
    told = letters.exclude(state__in=[LetterState.PARKED, LetterState.DROPPED])
    context = {
        "refit": refit,
        "parked": letters.could_not_be_sent(),
        "page": Paginator(told, A_PAGE).get_page(request.GET.get("page")),
        "vendors_without": refit.vendors.filter(email=""),
    }
    return render(request, "desk/sent.html", context)


@require_POST
@manager_page()
def sent_again(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """Put a letter that was given up back into the outbox."""
    letter = get_object_or_404(Letter, refit=refit, pk=pk)
    if try_again(letter=letter, now=request.desk.now):
        messages.success(request, f"The letter to {letter.recipient} is tried again.")
    else:
        messages.info(
            request, f"The letter to {letter.recipient} is not waiting for that any more."
        )
    return redirect("desk:sent", refit.slug)

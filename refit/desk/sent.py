"""What was told to whom: the letters of a refit, first those that could not be sent."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from refit.notices.models import DeadAddress, HoursWish, How, KindWish, Letter, LetterState, Side
from refit.notices.returned import write_again
from refit.notices.sending import try_again
from refit.work.models import Refit

from .pages import DeskRequest, manager_page

A_PAGE = 40


@dataclass
class QuietPerson:
    """Somebody who is not told everything, or at hours of their own."""

    email: str
    side: str
    wishes: list[KindWish] = field(default_factory=list)
    hours: HoursWish | None = None

    @property
    def stopped(self) -> list[KindWish]:
        return [wish for wish in self.wishes if wish.how == How.NEVER]

    @property
    def otherwise(self) -> list[KindWish]:
        return [wish for wish in self.wishes if wish.how != How.NEVER]


def quiet_people(refit: Refit) -> list[QuietPerson]:
    """Everybody with a wish, by name of side and address. Two queries."""
    people: dict[str, QuietPerson] = {}

    def person(key: str) -> QuietPerson:
        side, _, email = key.partition(":")
        return people.setdefault(key, QuietPerson(email, Side(side).label))

    for wish in KindWish.objects.filter(refit=refit):
        person(wish.person).wishes.append(wish)
    for hours in HoursWish.objects.filter(refit=refit):
        person(hours.person).hours = hours
    return [people[key] for key in sorted(people)]


@require_safe
@manager_page(only=True)
def sent(request: DeskRequest, refit: Refit) -> HttpResponse:
    letters = Letter.objects.filter(refit=refit).prefetch_related("notices")
    told = letters.exclude(state__in=[LetterState.PARKED, LetterState.DROPPED])
    context = {
        "refit": refit,
        "parked": letters.could_not_be_sent(),
        "page": Paginator(told, A_PAGE).get_page(request.GET.get("page")),
        "quiet_people": quiet_people(refit),
        "dead": DeadAddress.objects.filter(refit=refit),
        "vendors_without": refit.vendors.filter(email=""),
    }
    return render(request, "desk/sent.html", context)


@require_POST
@manager_page()
def address_good(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """Write to an address again that a mail server had called unknown."""
    address = get_object_or_404(DeadAddress, refit=refit, pk=pk)
    write_again(refit=refit, address=address, now=request.desk.now)
    messages.success(request, f"Letters go to {address.email} again.")
    return redirect("desk:sent", refit.slug)


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

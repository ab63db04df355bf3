"""What the owner decides: change orders; and the money, as much of it as is agreed to be shown."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from refit.accounts.access import link_page
from refit.accounts.models import LinkKind, PrivateLink
from refit.contracts.budget import Line, budget_lines, contingency, read_books, total
from refit.contracts.change_text import change_text, say_days
from refit.contracts.models import ChangeOrder, ConsentWay
from refit.contracts.order_text import digest_of
from refit.contracts.services import TextMoved, Word, ask_owner, decide_change
from refit.planning.prospects import still_true
from refit.planning.services import settle
from refit.work.models import THE_SOFTWARE, OwnerSees, Refit
from refit.work.services import Refused

from .pages import actor_of, manager_contact


@dataclass(frozen=True)
class Question:
    """A change order that waits for the owner. ``digest``: of the words that are shown."""

    change: ChangeOrder
    days: str
    digest: str
    left: Decimal | None
    """Of what was set aside, after this one."""


def questions_of(refit: Refit) -> list[Question]:
    """Two queries."""
    rows = list(ChangeOrder.objects.filter(refit=refit).select_related("package").order_by("code"))
    approved = sum((row.price for row in rows if row.state == "approved"), Decimal(0))
    found = []
    for row in rows:
        if row.state != "asked":
            continue
        row.refit = refit
        left = None if refit.contingency is None else refit.contingency - approved - row.price
        found.append(Question(row, say_days(row.days), digest_of(change_text(row)), left))
    return found


@require_POST
@link_page(LinkKind.OWNER)
def decide(request: HttpRequest, link: PrivateLink, pk: int) -> HttpResponse:
    """Approve or decline, in the words and with the figures that were shown, or look again."""
    refit, now = link.refit, timezone.now()
    change = ChangeOrder.objects.select_related("package").filter(refit=refit, pk=pk).first()
    if change is None:
        raise Http404
    change.refit = refit
    answer = request.POST.get("answer", "")
    if answer not in ("yes", "no"):
        messages.error(request, "Say yes or no.")
        return redirect("portal:page", link.public_id)
    if answer == "yes" and change.state == "asked":
        fresh = still_true(change, now=now)
        if fresh is not None:
            ask_owner(change=change, announcement=fresh, actor=THE_SOFTWARE, now=now)
            messages.warning(
                request,
                "Something has changed since you opened this page, and with it what this costs in"
                " days. Nothing is decided yet: please look at the figures once more.",
            )
            return redirect("portal:page", link.public_id)
    actor = actor_of(link)
    word = Word(way=ConsentWay.PAGE, name=actor.name, at=now, link=link.public_id,
                note=request.POST.get("note", "").strip()[:2000])  # fmt: skip
    try:
        decide_change(
            change=change, is_yes=answer == "yes", seen=request.POST.get("seen", ""), word=word,
            actor=actor, now=now,
        )  # fmt: skip
    except TextMoved:
        messages.warning(request, "It reads otherwise by now. Please look at it once more.")
    except Refused as why:
        messages.warning(request, str(why))
    else:
        settle(refit=refit, now=now)
        name = manager_contact(refit).name
        said = "approved" if answer == "yes" else "declined"
        messages.success(request, f"Thank you. {change.title} is {said}; {name} is told.")
    return redirect("portal:page", link.public_id)


@require_safe
@link_page(LinkKind.OWNER)
def money(request: HttpRequest, link: PrivateLink) -> HttpResponse:
    """As much as the manager and the owner agreed to show; else it does not exist."""
    refit = link.refit
    if refit.owner_sees == OwnerSees.NOTHING:
        raise Http404
    books = read_books(refit)
    lines = budget_lines(books)
    shown: list[Line] = []
    if refit.owner_sees == OwnerSees.PACKAGES:
        shown = [line for line in lines if line.forecast]
    context = {
        "link": link,
        "page": {"refit": refit, "contact": manager_contact(refit), "headline": "Money"},
        "total": total("All", lines),
        "spare": contingency(books),
        "lines": shown,
        "changes": [row for row in books.changes if row.state == "approved"],
    }
    return render(request, "portal/money_page.html", context)

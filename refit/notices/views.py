"""The door of a letter, stopping a kind of reminder from the mail, and the page on which owner and
vendors choose.

No GET changes anything: mail scanners follow every address. The POST of a mail program
(RFC 8058, 3.2) brings neither cookie nor CSRF token, and must not be asked for them: the signed
token in the address is the proof, and all it can do is quieten or restore letters to one person.
"""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_safe

from refit.accounts.access import closed_page, link_page
from refit.accounts.models import LinkKind, PrivateLink
from refit.portal.pages import manager_contact

from .doors import leave_mark, way_in
from .forms import WishesForm
from .models import How, Letter, NoticeKind, Side
from .wishes import Wishes, kinds_told, letter_for_stop_token, person_key, wish_for_kinds


@require_safe
def open_letter(request: HttpRequest, token: str) -> HttpResponse:
    """On to the recipient's page; what is left behind is a cookie, nothing in the database."""
    found = way_in(token)
    if found is None:
        return closed_page(request)
    address, letter_id = found
    response = redirect(address)
    leave_mark(response, letter_id)
    return response


@require_http_methods(["GET", "HEAD", "POST"])
@csrf_exempt
def stop(request: HttpRequest, token: str) -> HttpResponse:
    """One click stops all kinds that the letter told of; on the page, each has its own button."""
    letter = letter_for_stop_token(token)
    if letter is None:
        return closed_page(request)
    kinds = kinds_told(letter)
    person = person_key(letter.side, letter.recipient)
    if request.method != "POST":
        return _stop_page(request, letter, kinds, person)
    one_click = request.POST.get("List-Unsubscribe") == "One-Click"
    how = How.USUAL if request.POST.get("act") == "again" else How.NEVER
    wanted = [kind for kind in kinds if one_click or request.POST.get("kind") in (kind, "all")]
    wish_for_kinds(
        refit=letter.refit,
        person=person,
        wishes=dict.fromkeys(wanted, How.NEVER if one_click else how),
        now=timezone.now(),
    )
    if one_click:
        # RFC 8058, 3.1: the answer must not be a redirect.
        return HttpResponse("Stopped.\n", content_type="text/plain; charset=utf-8")
    return redirect("notices:stop", token)


def _stop_page(
    request: HttpRequest, letter: Letter, kinds: list[NoticeKind], person: str
) -> HttpResponse:
    known = Wishes.of(letter.refit)
    rows = [(kind, known.how(person, kind) is How.NEVER) for kind in kinds]
    context = {
        "letter": letter,
        "refit": letter.refit,
        "rows": rows,
        "more_than_one": sum(not stopped for _kind, stopped in rows) > 1,
        "contact": manager_contact(letter.refit),
        "is_desk": letter.side in (Side.MANAGER, Side.CREW),
    }
    return render(request, "notices/stop.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@link_page(LinkKind.OWNER, LinkKind.VENDOR)
def wishes(request: HttpRequest, link: PrivateLink) -> HttpResponse:
    """What the holder of a private link wants to be told, and when."""
    refit, vendor = link.refit, link.vendor
    side = Side.VENDOR if vendor else Side.OWNER
    email = vendor.email if vendor else refit.owner_email
    form = None
    if email:
        form = WishesForm(
            request.POST if request.method == "POST" else None,
            refit=refit, side=side, person=person_key(side, email),
        )  # fmt: skip
        if request.method == "POST" and form.is_valid():
            form.save(now=timezone.now())
            messages.success(request, "Saved.")
            return redirect("notices:wishes", link.public_id)
    context = {
        "link": link,
        "refit": refit,
        "email": email,
        "form": form,
        "contact": manager_contact(refit),
    }
    return render(request, "notices/wishes.html", context)

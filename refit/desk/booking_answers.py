"""An answer to an invitation came by mail: pasted or uploaded here, and noted at its booking."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from refit.notices.answers import MOST_BYTES, NotAnAnswer, Taken, take_answer
from refit.notices.models import BookingRequest, RequestStatus
from refit.work.models import Actor, Refit, WorkPackage
from refit.work.services import change_row, facts_of

from .acts import settle_and_say
from .forms import PlainForm
from .package import package_of
from .pages import DeskRequest, actor_of, manager_page


class AnswerForm(PlainForm):
    """A file or a text; what it says is noted by `note`."""

    file = forms.FileField(
        required=False,
        label="The file",
        help_text="The mail as a file (.eml), or the calendar file in it (.ics).",
    )
    text = forms.CharField(
        required=False,
        label="Or its text",
        strip=False,
        max_length=MOST_BYTES,
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false"}),
        help_text="The whole mail with its headers, or what begins with BEGIN:VCALENDAR.",
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors and not data.get("file") and not data.get("text", "").strip():
            self.add_error("file", "Choose a file, or paste the text below.")
        return data

    def note(self, *, refit: Refit, actor: Actor) -> Taken | None:
        """None with an error at the field it came in."""
        if not self.is_valid():
            return None
        file = self.cleaned_data["file"]
        raw = file.read(MOST_BYTES + 1) if file else self.cleaned_data["text"].encode()
        try:
            return take_answer(raw=raw, now=timezone.now(), actor=actor, refit=refit)
        except NotAnAnswer as why:
            self.add_error("file" if file else "text", str(why))
            return None


def request_of(package: WorkPackage) -> BookingRequest | None:
    """The invitation to the booking of a package, if it stands; read with the package."""
    request: BookingRequest | None = getattr(package, "booking_request", None)
    return request


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def booking_answer(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    package = package_of(refit, pk)
    form = AnswerForm(request.POST or None, request.FILES or None)
    if request.method == "POST":
        # An empty POST is a form too.
        form = AnswerForm(request.POST, request.FILES)
        taken = form.note(refit=refit, actor=actor_of(request))
        if taken is not None:
            settle_and_say(request, refit, taken.sentence)
            return redirect("desk:package", refit.slug, taken.request.package_id or package.pk)
    context = {
        "refit": refit,
        "package": package,
        "form": form,
        "booking_request": request_of(package),
    }
    return render(request, "desk/booking_answer.html", context)


@require_POST
@manager_page()
def booking_take_proposal(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    """Book the date that the shop proposed. The next look asks for it, so that they can accept."""
    package = package_of(refit, pk)
    asked = request_of(package)
    booking = facts_of(package)["booking"]
    if (
        asked is None
        or asked.status != RequestStatus.COUNTERED
        or asked.proposed_at is None
        or booking is None
    ):
        messages.info(request, "No proposed date is waiting here any more.")
    else:
        change_row(
            refit=refit, row=package, facts={"booking": booking | {"at": asked.proposed_at}},
            actor=actor_of(request), now=request.desk.now, note="As they proposed.",
        )  # fmt: skip
        settle_and_say(request, refit, "Booked as they proposed; the invitation goes out anew.")
    return redirect("desk:package", refit.slug, package.pk)

"""Vendors: whom to ask for, what they hold, their jobs, when they last opened their page."""

from __future__ import annotations

from typing import Any

from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from refit.accounts.models import LinkKind, PrivateLink
from refit.custody.cover import gaps, stays
from refit.custody.models import Handoff
from refit.work.models import Refit, Vendor, WorkPackage

from .acts import edit_row, remove_and_go
from .forms_places import VendorForm
from .packages import planned_of
from .pages import DeskRequest, manager_page
from .papers import paper_lines
from .pieces import first_of, hold
from .states import state_of


@require_safe
@manager_page()
def vendors(request: DeskRequest, refit: Refit) -> HttpResponse:
    rows = list(
        refit.vendors.annotate(
            held=Count("places__pieces_here", distinct=True),
            open_jobs=Count("packages", filter=Q(packages__finished_at=None), distinct=True),
        )
    )
    return render(request, "desk/vendors.html", {"refit": refit, "vendors": rows})


@require_safe
@manager_page()
def vendor(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = get_object_or_404(Vendor, refit=refit, pk=pk)
    desk = request.desk
    handoffs = list(Handoff.objects.open().filter(refit=refit).with_names())
    following = first_of(handoffs)
    papers = list(row.papers.select_related("vendor"))
    held = refit.pieces.filter(place__vendor=row).select_related("place__vendor")
    planned = planned_of(desk)
    held_here = list(held)
    kept = stays(handoffs, refit=refit, today=desk.today, pieces=held_here)
    jobs: list[dict[str, Any]] = []
    for package in WorkPackage.objects.filter(vendor=row).select_related("place"):
        dates = planned.get(package.pk)
        jobs.append(
            {
                "package": package,
                "planned": dates,
                "state": state_of(package, dates, refit, desk.now),
            }
        )
    jobs.sort(key=lambda job: (job["planned"] is None, job["planned"] and job["planned"].start))
    context = {
        "refit": refit,
        "vendor": row,
        "holdings": [hold(piece, following.get(piece.pk), refit, desk.now) for piece in held_here],
        "jobs": jobs,
        "papers": paper_lines(papers, desk.today),
        "gaps": gaps([s for s in kept if s.vendor.pk == pk], papers, today=desk.today),
        "places": list(row.places.all()),
        "link": PrivateLink.objects.live(desk.now)
        .filter(refit=refit, kind=LinkKind.VENDOR, vendor=row)
        .first(),
    }
    return render(request, "desk/vendor.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def vendor_add(request: DeskRequest, refit: Refit) -> HttpResponse:
    form = VendorForm(request.POST or None, refit=refit)
    return edit_row(
        request,
        refit,
        form=form,
        template="desk/vendor_edit.html",
        context={},
        what=lambda: f"{form.instance} is added.",
        to=lambda: reverse("desk:vendor", args=[refit.slug, form.instance.pk]),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def vendor_edit(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    row = get_object_or_404(Vendor, refit=refit, pk=pk)
    return edit_row(
        request,
        refit,
        form=VendorForm(request.POST or None, refit=refit, instance=row),
        template="desk/vendor_edit.html",
        context={"vendor": row},
        what=lambda: "Saved.",
        to=lambda: reverse("desk:vendor", args=[refit.slug, pk]),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@manager_page(only=True)
def vendor_remove(request: DeskRequest, refit: Refit, pk: int) -> HttpResponse:
    return remove_and_go(
        request,
        refit,
        row=get_object_or_404(Vendor, refit=refit, pk=pk),
        back=reverse("desk:vendor", args=[refit.slug, pk]),
        done=reverse("desk:vendors", args=[refit.slug]),
    )

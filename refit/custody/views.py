"""Pictures and receipts, to those who may see them. Each request is checked anew."""

from __future__ import annotations

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from refit.accounts.access import live_links
from refit.accounts.models import LinkKind, Membership, User
from refit.work.models import Vendor

from .models import Handoff, Picture
from .receipt import make_receipt


@require_safe
def picture(request: HttpRequest, pk: int, small: bool = False) -> HttpResponseBase:
    """The JPEG, large or small; 404 to everybody who may not see it."""
    shown = Picture.objects.select_related("piece", "handoff__origin", "handoff__destination")
    found = shown.filter(pk=pk).first()
    if found is None or not may_see(request, found):
        raise Http404
    field = found.small if small else found.file
    etag = f'"{field.name}"'
    if unchanged := get_conditional_response(request, etag=etag):
        return _private(unchanged, etag)
    try:
        content = field.open("rb")
    except OSError:
        raise Http404 from None
    name = f"{found.piece.tag}-{found.added_at:%Y-%m-%d}-{found.pk}.jpg"
    response = FileResponse(content, content_type="image/jpeg", filename=name)
    return _private(response, etag)


@require_safe
def receipt(request: HttpRequest, pk: int) -> HttpResponse:
    """The receipt of a handoff as PDF; 404 to everybody who may not see the handoff."""
    found = Handoff.objects.with_names().select_related("refit__boat")
    row = found.prefetch_related("pictures").filter(pk=pk).first()
    if row is None or not _may_see(request, row.refit_id, row):
        raise Http404
    content = make_receipt(row, now=timezone.now(), reader=_reader(request, row))
    response = HttpResponse(content, content_type="application/pdf")
    name = f"{row.piece.tag}-receipt-{row.pk}.pdf"
    response.headers["Content-Disposition"] = content_disposition_header(False, name) or "inline"
    response.headers["Cache-Control"] = "private, no-store"
    return response


def _reader(request: HttpRequest, row: Handoff) -> Vendor | None:
    """The vendor at whose end the receipt is read; None to members and the owner."""
    if _is_of_the_refit(request, row.refit_id):
        return None
    ends = {row.origin.vendor_id, row.destination.vendor_id} - {None}
    return next(
        link.vendor
        for link in live_links(request)
        if link.refit_id == row.refit_id and link.kind == LinkKind.VENDOR and link.vendor_id in ends
    )


def _private(response: HttpResponseBase, etag: str) -> HttpResponseBase:
    """Kept by the viewer's browser at most, and asked for again each time; never run as a page."""
    response.headers["ETag"] = etag
    response.headers["Cache-Control"] = "private, no-cache"
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    return response


def may_see(request: HttpRequest, shown: Picture) -> bool:
    """Members of the refit, its owner's link, and the vendor at either end of the handoff."""
    return _may_see(request, shown.refit_id, shown.handoff)


def _may_see(request: HttpRequest, refit_id: int, handoff: Handoff | None) -> bool:
    if _is_of_the_refit(request, refit_id):
        return True
    if handoff is None:
        return False
    ends = {handoff.origin.vendor_id, handoff.destination.vendor_id} - {None}
    return any(
        link.refit_id == refit_id and link.kind == LinkKind.VENDOR and link.vendor_id in ends
        for link in live_links(request)
    )


def _is_of_the_refit(request: HttpRequest, refit_id: int) -> bool:
    """A member, or whoever holds the owner's link."""
    user = request.user
    if isinstance(user, User) and Membership.objects.filter(user=user, refit_id=refit_id).exists():
        return True
    return any(
        link.refit_id == refit_id and link.kind == LinkKind.OWNER for link in live_links(request)
    )

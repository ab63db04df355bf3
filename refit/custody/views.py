"""Pictures, to those who may see them. Each request is checked anew."""

from __future__ import annotations

from django.http import FileResponse, Http404, HttpRequest
from django.http.response import HttpResponseBase
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_safe

from refit.accounts.access import live_links
from refit.accounts.models import LinkKind, Membership, User

from .models import Picture


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


def _private(response: HttpResponseBase, etag: str) -> HttpResponseBase:
    """Kept by the viewer's browser at most, and asked for again each time; never run as a page."""
    response.headers["ETag"] = etag
    response.headers["Cache-Control"] = "private, no-cache"
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    return response


def may_see(request: HttpRequest, shown: Picture) -> bool:
    """Members of the refit, its owner's link, and the vendor at either end of the handoff."""
    user = request.user
    if (
        isinstance(user, User)
        and Membership.objects.filter(user=user, refit_id=shown.refit_id).exists()
    ):
        return True
    ends: set[int | None] = set()
    if shown.handoff is not None:
        ends = {shown.handoff.origin.vendor_id, shown.handoff.destination.vendor_id} - {None}
    for link in live_links(request):
        if link.refit_id != shown.refit_id:
            continue
        if link.kind == LinkKind.OWNER:
            return True
        if link.kind == LinkKind.VENDOR and link.vendor_id in ends:
            return True
    return False

"""What is thrown away, and when: what nobody needs any more and would only grow.

Letters and notices that are done with are kept for `KEPT` (a refit and the winter after it; ours,
no source), sessions until they run out. The journal, plans that the ledger stands on, pictures and
everything of a refit stay until somebody deletes the refit.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from importlib import import_module

from django.conf import settings
from django.db.models import Exists, OuterRef

from .models import Letter, LetterState, Notice, NoticeKind, NoticeState

KEPT = timedelta(days=400)
AT_ONCE = 5000
"""Rows a run: a sweep that starts late must not hold the database for long."""


def tidy(*, now: datetime) -> dict[str, int]:
    """Throw away what is past keeping. How many letters and notices went."""
    until = now - KEPT
    # What was last told of the launch is compared with, however long ago that was.
    notices = Notice.objects.filter(
        tell_at__lt=until, state__in=[NoticeState.SENT, NoticeState.DROPPED]
    ).exclude(kind=NoticeKind.LAUNCH)
    gone = _delete(Notice, list(notices.values_list("pk", flat=True)[:AT_ONCE]))
    letters = Letter.objects.filter(
        due_at__lt=until, state__in=[LetterState.SENT, LetterState.DROPPED]
    ).exclude(Exists(Notice.objects.filter(letter=OuterRef("pk"))))
    sent = _delete(Letter, list(letters.values_list("pk", flat=True)[:AT_ONCE]))
    import_module(settings.SESSION_ENGINE).SessionStore.clear_expired()
    return {"letters": sent, "notices": gone}


def _delete(model: type[Letter] | type[Notice], pks: list[int]) -> int:
    model._default_manager.filter(pk__in=pks).delete()
    return len(pks)

"""What a quote or a change order would do to the launch and the bill, planned, not guessed.

It is written for good by the service that would write it, in a transaction that is rolled back
(`whatif.sandboxed`); both sides are planned as of the same moment from the same plan before. So
what is announced and what then happens cannot differ, as long as the refit stays what it was.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from decimal import Decimal
from functools import partial
from typing import Any

from django.core.exceptions import ValidationError
from django.core.serializers.json import DjangoJSONEncoder

from refit.contracts.budget import bill
from refit.contracts.models import ChangeOrder, Quote, QuoteState
from refit.contracts.services import Announcement, accept_quote, carry_out
from refit.interchange.document import RefitDocument
from refit.interchange.export import export_refit
from refit.nudges import nudge
from refit.work.models import THE_SOFTWARE, Refit
from refit.work.services import Refused

from .models import Plan, Prospect
from .solve import Dates, NoPlan, solve
from .whatif import sandboxed

SOON_OLD = timedelta(hours=1)
PATIENCE = 2.0
"""Seconds of planning that somebody waits for; what takes longer is left to the worker."""
QUOTE, CHANGE = "quote", "change"


def stamp_of(subject: Quote | ChangeOrder) -> str:
    """Digest of what is offered; the answer is good only for these terms."""
    names = (
        ("price", "lead_days", "promised_on", "work_minutes", "place_id", "valid_until", "state")
        if isinstance(subject, Quote)
        else ("price", "extra_minutes", "package_id")
    )
    terms = [getattr(subject, name) for name in names]
    return hashlib.sha256(json.dumps(terms, cls=DjangoJSONEncoder).encode()).hexdigest()


def is_good(prospect: Prospect | None, subject: Quote | ChangeOrder, now: datetime) -> bool:
    """Whether it tells of these terms and of the refit as it is."""
    if prospect is None:
        return False
    refit = prospect.refit
    return (
        prospect.refit_version == refit.version
        and prospect.stamp == stamp_of(subject)
        and prospect.computed_at > now - SOON_OLD
        and refit.today(prospect.computed_at) == refit.today(now)
    )


def known_prospects(
    refit: Refit, subjects: Iterable[Quote | ChangeOrder], now: datetime
) -> dict[int, Prospect]:
    """The good ones among those kept, by the id of the quote or change order. One query."""
    wanted = {subject.pk: subject for subject in subjects}
    if not wanted:
        return {}
    kind = QUOTE if isinstance(next(iter(wanted.values())), Quote) else CHANGE
    found = Prospect.objects.filter(refit=refit, kind=kind, subject_id__in=wanted)
    good = {}
    for row in found:
        row.refit = refit
        if is_good(row, wanted[row.subject_id], now):
            good[row.subject_id] = row
    return good


def work_out(refit: Refit, quotes: list[Quote], *, now: datetime) -> bool:
    """Work out what is not known of these quotes, at once if that is quick; else the worker does
    it, and this is False."""
    known = known_prospects(refit, quotes, now)
    missing = [one for one in quotes if one.state == QuoteState.ANSWERED and one.pk not in known]
    plan = Plan.objects.current(refit)
    if missing and plan is not None and (1 + len(missing)) * plan.seconds > PATIENCE:
        from .tasks import work_out_quotes

        nudge(work_out_quotes, missing[0].inquiry_id)
        return False
    if missing:
        work_out_now(refit, missing, now=now)
    return True


def work_out_now(refit: Refit, quotes: list[Quote], *, now: datetime) -> None:
    _store(refit, QUOTE, [(quote, partial(_accept, quote, now)) for quote in quotes], now)


def _accept(quote: Quote, now: datetime) -> None:
    accept_quote(quote=quote, actor=THE_SOFTWARE, now=now)


def announce(change: ChangeOrder, *, now: datetime) -> tuple[Announcement | None, str]:
    """What the change order does, as of now; or None and why it cannot be done."""
    refit = Refit.objects.get(pk=change.refit_id)

    def write() -> None:
        fresh = ChangeOrder.objects.select_related("refit").get(pk=change.pk)
        carry_out(change=fresh, actor=THE_SOFTWARE, now=now)

    [row] = _store(refit, CHANGE, [(change, write)], now)
    if row.trouble:
        return None, row.trouble
    return (
        Announcement(
            version=row.refit_version,
            launch_before=row.launch_before,
            launch_after=row.launch_after,
            days=row.days,
            bill_before=row.bill_before,
            bill_after=row.bill_after,
        ),
        "",
    )


def still_true(change: ChangeOrder, *, now: datetime) -> Announcement | None:
    """None if what was announced still holds; else what holds now.

    Nothing is planned while the refit is the very one that was announced and the day the same. A
    change that cannot be done any more counts as true here: deciding it says why it is refused.
    """
    refit = Refit.objects.get(pk=change.refit_id)
    known = known_prospects(refit, [change], now)
    if change.pk in known and change.announced_version == refit.version:
        return None
    fresh, _ = announce(change, now=now)
    if fresh is None:
        return None
    same = all(
        getattr(fresh, name) == getattr(change, name)
        for name in ("launch_after", "days", "bill_before", "bill_after")
    )
    return None if same else fresh


def _store(
    refit: Refit,
    kind: str,
    trials: list[tuple[Any, Callable[[], None]]],
    now: datetime,
) -> list[Prospect]:
    plan = Plan.objects.current(refit)
    dates: Dates = (
        []
        if plan is None
        else list(plan.packages.values_list("package__code", "start", "work_finish", "finish"))
    )
    version = Refit.objects.values_list("version", flat=True).get(pk=refit.pk)
    before, _ = _launch(export_refit(refit), now, dates)
    cost = bill(refit)
    rows = []
    for subject, write in trials:
        values: dict[str, Any] = {
            "refit": refit,
            "refit_version": version,
            "stamp": stamp_of(subject),
            "computed_at": now,
            "launch_before": before,
            "launch_after": None,
            "days": None,
            "bill_before": cost,
            "bill_after": cost,
            "trouble": "",
        }
        try:
            document, after_cost = sandboxed(refit, write, _read)
        except Refused as refused:
            values["trouble"] = str(refused)
        except ValidationError as wrong:
            values["trouble"] = " ".join(wrong.messages)
        else:
            launch, trouble = _launch(document, now, dates)
            values |= {"launch_after": launch, "bill_after": after_cost, "trouble": trouble}
            if launch is not None and before is not None:
                moved = refit.local(launch).date() - refit.local(before).date()
                values["days"] = moved.days
        row, _ = Prospect.objects.update_or_create(
            kind=kind, subject_id=subject.pk, defaults=values
        )
        rows.append(row)
    return rows


def _read(refit: Refit) -> tuple[RefitDocument, Decimal]:
    return export_refit(refit), bill(refit)


def _launch(document: RefitDocument, now: datetime, dates: Dates) -> tuple[datetime | None, str]:
    try:
        return solve(document, now, dates).launch_at, ""
    except NoPlan as reason:
        return None, " ".join(reason.sentences)

"""A work order as a PDF. The words are those of `order_text`."""

from __future__ import annotations

from datetime import datetime

from refit.paper import Sheet
from refit.work.wording import say_moment

from .models import Agreement, WorkOrder
from .order_text import CAUTION, NOTHING_MORE, digest_of, order_text, order_words


def order_pdf(order: WorkOrder, agreement: Agreement | None, *, now: datetime) -> bytes:
    words = order_words(order)
    zone = order.refit.zone
    sheet = Sheet(
        title=words.heading,
        boat=order.refit.boat.name,
        made=f"made {say_moment(now, zone)}",
        moment=now,
        size="Letter" if order.refit.units == "us" else "A4",
    )
    sheet.facts(words.facts)
    for job in words.jobs:
        sheet.heading(job.title)
        sheet.facts(job.facts)
        if job.cautions:
            sheet.caution(f"Take care. {job.cautions} {CAUTION}")
    if words.payments:
        sheet.heading("To be paid")
        for line in words.payments:
            sheet.sentence(line)
    sheet.heading("What holds")
    sheet.sentence(words.terms)
    sheet.sentence(NOTHING_MORE, strong=True)
    digest = digest_of(order_text(order))
    if agreement is not None:
        at = say_moment(agreement.agreed_at, zone)
        how = f" {agreement.note}" if agreement.note else " on the vendor's private page"
        sheet.sentence(f"Agreed {at} by {agreement.name}{how}.", strong=True)
    else:
        sheet.signatures([order.vendor.name, order.made_by])
    sheet.sentence(f"Text {digest[:16]} (SHA-256)", quiet=True)
    return sheet.finish()

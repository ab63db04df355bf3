"""Payments and hours as one CSV for whoever keeps the books (RFC 4180)."""

from __future__ import annotations

import csv
import io

from .budget import Books
from .sharing import cost_of

HEADINGS = (
    "kind", "day", "what", "package", "paid to", "order", "reference", "amount", "currency", "note",
)  # fmt: skip
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\x00")


def plain_cell(text: str) -> str:
    """Text that a spreadsheet takes for text: what looks like a formula gets an apostrophe before
    it (OWASP, “CSV Injection”). Amounts are written by us and are never below zero."""
    return f"'{text}" if text.lstrip("'")[:1] in _FORMULA and text else text


def bookkeeping_csv(books: Books) -> str:
    """First payments, then hours, each by its day; exact decimals with a point."""
    file = io.StringIO(newline="")
    writer = csv.writer(file)
    writer.writerow(HEADINGS)
    currency = books.refit.currency
    for payment in books.payments:
        order, package, what = "", "", ""
        if payment.instalment is not None:
            order, what = payment.instalment.order.code, payment.instalment.order.title
        elif payment.goods is not None:
            what = payment.goods.title
        elif payment.package is not None:
            package, what = payment.package.code, payment.package.title
        to = payment.vendor.name if payment.vendor is not None else ""
        if payment.goods is not None and not to:
            to = payment.goods.supplier
        row = ("payment", f"{payment.paid_on:%Y-%m-%d}", what, package, to, order,
               payment.reference, f"{payment.amount:.2f}", currency, payment.note)  # fmt: skip
        writer.writerow([plain_cell(cell) for cell in row])
    for hours in books.hours:
        who = hours.person.name if hours.person else hours.vendor.name if hours.vendor else ""
        row = ("hours", f"{hours.worked_on:%Y-%m-%d}", f"{hours.minutes} min at {hours.rate}",
               hours.package.code, who, "", "",
               f"{cost_of(hours.minutes, hours.rate):.2f}", currency, hours.note)  # fmt: skip
        writer.writerow([plain_cell(cell) for cell in row])
    return file.getvalue()

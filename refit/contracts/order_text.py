"""The words of a work order, composed of the order and its packages, and their digest.

One text for the page, the PDF and the record of what was agreed. It says nothing that moves with
the plan: only agreed dates, so that it stays the same until somebody changes what is agreed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field

from refit.work.models import PieceUse, WorkPackage
from refit.work.wording import say_day, say_elapsed, say_list, say_money

from .models import Instalment, WorkOrder

CAUTION = (
    "The product's data sheet, the rules at your place and your own trade's practice come first."
)
NOTHING_MORE = (
    "Nothing beyond this is done, and nothing more is owed, before a change order is agreed."
)


@dataclass(frozen=True)
class JobWords:
    """One package as the order says it."""

    title: str
    facts: list[tuple[str, str]]
    cautions: str


@dataclass(frozen=True)
class OrderWords:
    heading: str
    facts: list[tuple[str, str]]
    jobs: list[JobWords] = field(default_factory=list)
    payments: list[str] = field(default_factory=list)
    terms: str = ""


def order_words(order: WorkOrder) -> OrderWords:
    """Four queries."""
    refit = order.refit
    packages = list(order.packages.select_related("place").order_by("code"))
    pieces: dict[int, list[str]] = {}
    for use in PieceUse.objects.filter(package__in=packages).select_related("piece"):
        pieces.setdefault(use.package_id, []).append(f"{use.piece.name} ({use.piece.tag})")
    facts = [
        ("For", f"{refit.boat.name}, {refit.name}"),
        ("To", order.vendor.name),
        ("What", order.title),
        ("Price", say_money(order.price, refit.currency)),
        ("Not before", f"{say_day(order.not_before)} {order.not_before.year}"
         if order.not_before else ""),
        ("Finished by", f"{say_day(order.due_on)} {order.due_on.year}" if order.due_on else ""),
        ("Left out", order.leaves_out.strip()),
    ]  # fmt: skip
    return OrderWords(
        heading=f"Work order {order.code}",
        facts=[(name, value) for name, value in facts if value],
        jobs=[_job(package, sorted(pieces.get(package.pk, []))) for package in packages],
        payments=[say_instalment(part, refit.currency) for part in order.instalments.all()],
        terms=order.terms.strip(),
    )


def _job(package: WorkPackage, pieces: list[str]) -> JobWords:
    hold = ""
    if package.hold_minutes:
        reason = f", {package.hold_reason}" if package.hold_reason else ""
        hold = f"{say_elapsed(package.hold_minutes)}{reason}"
    facts = [
        ("Scope", package.scope.strip()),
        ("Pieces", say_list(pieces)),
        ("Where", package.place.name),
        ("Then wait", hold),
        ("Good when", package.acceptance.strip()),
    ]
    return JobWords(
        package.title, [(name, value) for name, value in facts if value], package.cautions.strip()
    )


def say_instalment(part: Instalment, currency: str) -> str:
    """“1,200 CAD when the order is agreed (deposit), within 14 days”."""
    when = part.get_basis_display()
    if part.day is not None and part.basis == "day":
        when = f"on {say_day(part.day)} {part.day.year}"
    label = f" ({part.label})" if part.label else ""
    within = f", within {part.days_after} days" if part.days_after else ""
    return f"{say_money(part.amount, currency)} {when}{label}{within}"


def order_text(order: WorkOrder) -> str:
    """All of it as plain text, line by line: what the digest is taken of."""
    return "\n".join(_lines(order_words(order))) + "\n"


def _lines(words: OrderWords) -> Iterator[str]:
    yield words.heading
    for name, value in words.facts:
        yield f"{name}: {value}"
    for job in words.jobs:
        yield ""
        yield job.title
        for name, value in job.facts:
            yield f"{name}: {value}"
        if job.cautions:
            yield f"Take care: {job.cautions} {CAUTION}"
    if words.payments:
        yield ""
        yield "To be paid"
        yield from words.payments
    if words.terms:
        yield ""
        yield words.terms
    yield ""
    yield NOTHING_MORE


def digest_of(text: str) -> str:
    """SHA-256 of the text, in hexadecimal (FIPS 180-4)."""
    return hashlib.sha256(text.encode()).hexdigest()

"""When money is needed: due dates from the plan, and what is needed week by week. Pure.

The sum of all that is still needed is forecast less spent, to the cent: what is known to be due
stands at its day, the rest of a package at the end of its work.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from refit.work.models import Refit

from .budget import ZERO, Books, Line, order_shares
from .goods import order_by_day
from .models import Basis, Goods, Instalment, WorkOrder


@dataclass(frozen=True)
class Dates:
    """Of one package in the plan; ``back``: when its pieces are home again, if that is planned."""

    start: datetime
    work_finish: datetime
    finish: datetime
    back: datetime | None = None


Plan = Mapping[int, Dates]
"""By the id of the package."""


@dataclass(frozen=True)
class Due:
    """Something to pay. ``on``: None while the plan has no date for it."""

    what: str
    to: str
    amount: Decimal
    on: date | None
    why: str
    instalment: Instalment | None = None


def due_on(part: Instalment, order: WorkOrder, plan: Plan, refit: Refit) -> date | None:
    """The day an instalment is due, from the plan. Of several packages the last counts, of starts
    the first."""
    dates = [plan[package.pk] for package in order.packages.all() if package.pk in plan]
    moment: datetime | None = None
    match part.basis:
        case Basis.DAY:
            return part.day
        case Basis.ORDER:
            moment = order.made_at
        case Basis.START:
            moment = min((one.start for one in dates), default=None)
        case Basis.FINISH:
            moment = max((one.work_finish for one in dates), default=None)
        case _:
            moment = max((one.back or one.finish for one in dates), default=None)
    if moment is None:
        return None
    return refit.local(moment).date() + timedelta(days=part.days_after)


def dues(books: Books, lines: list[Line], plan: Plan) -> list[Due]:
    """All that is still to pay, first things first."""
    found: list[Due] = []
    paid = {payment.instalment_id for payment in books.payments}
    paid_goods = {payment.goods_id for payment in books.payments}
    left = {line.package.pk: line.left for line in lines}
    titles = {line.package.pk: line for line in lines}
    for order in books.orders:
        if order.ended_at is not None:
            continue
        for part in order.instalments.all():
            if part.pk in paid:
                continue
            amount = ZERO
            for package, share in order_shares(order, part.amount).items():
                taken = min(share, left.get(package, ZERO))
                left[package] = left.get(package, ZERO) - taken
                amount += taken
            day = due_on(part, order, plan, books.refit)
            what = f"{order.title}{f', {part.label}' if part.label else ''}"
            if amount:
                found.append(
                    Due(what, order.vendor.name, amount, day, part.get_basis_display(), part)
                )
    for goods in books.goods:
        if goods.pk in paid_goods or goods.package_id not in left:
            continue
        amount = min(goods.price or ZERO, left[goods.package_id])
        left[goods.package_id] -= amount
        day = goods.ordered_on or _order_by(goods, plan.get(goods.package_id), books)
        if amount:
            found.append(Due(goods.title, goods.supplier, amount, day, "when it is ordered"))
    for pk, amount in left.items():
        if amount:
            line, dates = titles[pk], plan.get(pk)
            day = None if dates is None else books.refit.local(dates.work_finish).date()
            found.append(
                Due(line.package.title, line.who, amount, day, "when the work is finished")
            )
    return sorted(found, key=lambda due: (due.on is None, due.on or date.min, due.what))


def _order_by(goods: Goods, dates: Dates | None, books: Books) -> date | None:
    if dates is None:
        return None
    return order_by_day(goods, books.refit.local(dates.start).date(), books.refit)


@dataclass(frozen=True)
class Week:
    """``monday``: None for what has no date; ``late``: what was due before this week."""

    monday: date | None
    amount: Decimal
    so_far: Decimal
    count: int


def by_week(dues: list[Due], today: date) -> list[Week]:
    """Cash needed in each week from this one on; what is overdue is needed in this one."""
    this = today - timedelta(days=today.weekday())
    amounts: dict[date | None, list[Decimal]] = {}
    for due in dues:
        monday = None
        if due.on is not None:
            monday = max(this, due.on - timedelta(days=due.on.weekday()))
        amounts.setdefault(monday, []).append(due.amount)
    weeks, so_far = [], ZERO
    for monday in sorted(amounts, key=lambda one: one or date.max):
        amount = sum(amounts[monday], ZERO)
        so_far += amount
        weeks.append(Week(monday, amount, so_far, len(amounts[monday])))
    return weeks

"""What the refit costs: budget, committed, spent and forecast, by package and by vendor.

For each package of the agreed scope:

- budget: what it may cost;
- committed: the price agreed with its vendor, goods that are ordered, and hours that were worked;
- spent: what was paid for it, and what our own crew's hours cost;
- forecast: the agreed price, all its goods and its hours, or, while no price is agreed, the budget
  if that is more; never less than what is spent.

An instalment of an order for several packages is shared among them as their agreed prices are to
each other, to the cent. So every total is the sum of its parts, whichever way it is cut.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from refit.work.models import Refit, WorkPackage

from .models import ChangeOrder, ChangeState, Goods, LoggedHours, Payment, WorkOrder
from .sharing import cost_of, shares

ZERO = Decimal(0)
CREW = "our crew"


@dataclass
class Line:
    """One package. ``open_parts``: instalments not paid, its share of them by their id."""

    package: WorkPackage
    budget: Decimal = ZERO
    committed: Decimal = ZERO
    spent: Decimal = ZERO
    goods: Decimal = ZERO
    hours: Decimal = ZERO
    forecast: Decimal = ZERO

    @property
    def who(self) -> str:
        return self.package.vendor.name if self.package.vendor is not None else CREW

    @property
    def left(self) -> Decimal:
        """Still to be paid, as far as is known."""
        return self.forecast - self.spent


@dataclass(frozen=True)
class Sums:
    name: str
    budget: Decimal
    committed: Decimal
    spent: Decimal
    forecast: Decimal

    @property
    def left(self) -> Decimal:
        return self.forecast - self.spent


@dataclass(frozen=True)
class Books:
    """All rows about money of a refit, read once. See `read_books`."""

    refit: Refit
    packages: list[WorkPackage]
    orders: list[WorkOrder]
    """With instalments and packages."""
    goods: list[Goods]
    payments: list[Payment]
    hours: list[LoggedHours]
    changes: list[ChangeOrder]


def read_books(refit: Refit) -> Books:
    """Eight queries at any size."""
    packages = WorkPackage.objects.filter(refit=refit).select_related("vendor").order_by("code")
    orders = WorkOrder.objects.filter(refit=refit).select_related("vendor")
    return Books(
        refit=refit,
        packages=list(packages),
        orders=list(orders.prefetch_related("instalments", "packages")),
        goods=list(Goods.objects.filter(refit=refit)),
        payments=list(
            Payment.objects.filter(refit=refit).select_related(
                "instalment__order", "goods", "package", "vendor"
            )
        ),
        hours=list(
            LoggedHours.objects.filter(refit=refit).select_related("package", "person", "vendor")
        ),
        changes=list(ChangeOrder.objects.filter(refit=refit)),
    )


def order_shares(order: WorkOrder, amount: Decimal) -> dict[int, Decimal]:
    """``amount`` of an order shared among its packages, by their id."""
    packages = sorted(order.packages.all(), key=lambda package: package.code)
    if not packages:
        return {}
    weights = [package.agreed_price or ZERO for package in packages]
    parts = shares(amount, weights)
    return {package.pk: part for package, part in zip(packages, parts, strict=True)}


def budget_lines(books: Books) -> list[Line]:
    """One line a package: those of the agreed scope, and others that money was spent on. Pure."""
    lines = {package.pk: Line(package) for package in books.packages}
    for goods in books.goods:
        line, price = lines[goods.package_id], goods.price or ZERO
        line.goods += price
        if goods.ordered_on is not None or goods.is_there:
            line.committed += price
    for hours in books.hours:
        cost = cost_of(hours.minutes, hours.rate)
        line = lines[hours.package_id]
        line.hours += cost
        line.committed += cost
        if hours.person_id is not None:
            line.spent += cost
    orders = {order.pk: order for order in books.orders}
    for payment in books.payments:
        for pk, part in _paid_for(payment, orders).items():
            lines[pk].spent += part
    for line in lines.values():
        package = line.package
        line.budget = package.budget or ZERO
        line.committed += package.agreed_price or ZERO
        known = (package.agreed_price or ZERO) + line.goods + line.hours
        if package.agreed_price is None:
            known = max(known, line.budget)
        line.forecast = max(known, line.spent)
    return [
        line
        for line in lines.values()
        if line.package.is_agreed or line.spent or line.committed - (line.package.agreed_price or 0)
    ]


def _paid_for(payment: Payment, orders: dict[int, WorkOrder]) -> dict[int, Decimal]:
    if payment.instalment is not None:
        return order_shares(orders[payment.instalment.order_id], payment.amount)
    if payment.goods is not None:
        return {payment.goods.package_id: payment.amount}
    assert payment.package_id is not None
    return {payment.package_id: payment.amount}


def total(name: str, lines: Iterable[Line]) -> Sums:
    kept = list(lines)
    return Sums(
        name,
        sum((line.budget for line in kept), ZERO),
        sum((line.committed for line in kept), ZERO),
        sum((line.spent for line in kept), ZERO),
        sum((line.forecast for line in kept), ZERO),
    )


def by_vendor(lines: Iterable[Line]) -> list[Sums]:
    """Our crew last."""
    groups: dict[str, list[Line]] = {}
    for line in lines:
        groups.setdefault(line.who, []).append(line)
    names = sorted(groups, key=lambda name: (name == CREW, name))
    return [total(name, groups[name]) for name in names]


def bill(refit: Refit) -> Decimal:
    """What the refit will have cost in the end, as far as is known now."""
    return total("", budget_lines(read_books(refit))).forecast


@dataclass(frozen=True)
class Contingency:
    """``left`` may be below zero."""

    set_aside: Decimal | None
    approved: Decimal
    waiting: Decimal

    @property
    def left(self) -> Decimal | None:
        return None if self.set_aside is None else self.set_aside - self.approved


def contingency(books: Books) -> Contingency:
    """What is set aside, and the change orders that were, or wait to be, taken from it."""
    sums = {
        state: sum((one.price for one in books.changes if one.state == state), ZERO)
        for state in (ChangeState.APPROVED, ChangeState.ASKED)
    }
    return Contingency(books.refit.contingency, sums[ChangeState.APPROVED], sums[ChangeState.ASKED])

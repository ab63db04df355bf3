"""Sums of parts equal totals to the cent, nothing is paid twice, hours cost what they cost."""

from __future__ import annotations

import csv
import io
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refit.contracts.bookkeeping import HEADINGS, bookkeeping_csv
from refit.contracts.budget import budget_lines, by_vendor, read_books, total
from refit.contracts.cash import Dates, by_week, due_on, dues
from refit.contracts.models import Goods, Instalment, Payment, WorkOrder
from refit.contracts.services import (
    Part,
    Terms,
    log_hours,
    make_order,
    note_payment,
    take_back_payment,
)
from refit.contracts.sharing import cost_of, shares
from refit.work.models import JournalEntry, Refit
from refit.work.services import Refused
from tests.builders import A_MANAGER, NOW, a_crew_member, a_package, a_refit, a_vendor

WHO: Any = {"actor": A_MANAGER, "now": NOW}
TODAY = NOW.date()
cents = st.integers(0, 10**9).map(lambda n: Decimal(n) / 100)


@given(cents, st.lists(cents, min_size=1, max_size=9), st.booleans())
def test_shares_add_up_to_the_cent_and_none_is_a_cent_off(
    amount: Decimal, weights: list[Decimal], negative: bool
) -> None:
    amount = -amount if negative else amount
    parts = shares(amount, weights)
    assert sum(parts) == amount
    whole = sum(weights)
    for part, weight in zip(parts, weights, strict=True):
        exact = amount * weight / whole if whole else amount / len(weights)
        assert abs(part - exact) < Decimal("0.011")


def test_what_rounding_leaves_goes_to_the_largest_remainders() -> None:
    """100.00 in three: 33.34, 33.33, 33.33. Worked by hand."""
    assert shares(Decimal(100), [Decimal(1)] * 3) == [
        Decimal("33.34"), Decimal("33.33"), Decimal("33.33"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("minutes", "rate", "cost"),
    # 50 min at 47.95 are 39.958 33; 20 min at 0.03 are exactly a cent; half a cent goes up.
    [(50, "47.95", "39.96"), (20, "0.03", "0.01"), (10, "0.03", "0.01"), (0, "48", "0.00")],
)
def test_hours_cost_what_they_cost(minutes: int, rate: str, cost: str) -> None:
    assert cost_of(minutes, Decimal(rate)) == Decimal(cost)


money = st.integers(1, 10**6).map(lambda n: Decimal(n) / 100)


@st.composite
def _refits(draw: st.DrawFn) -> Refit:
    """Packages with and without vendor and price, orders, goods, hours, and some of it paid."""
    refit = a_refit()
    vendors = [a_vendor(refit) for _ in range(2)]
    hand = a_crew_member(refit)
    packages = []
    for _ in range(draw(st.integers(1, 4))):
        vendor = draw(st.sampled_from([None, *vendors]))
        packages.append(
            a_package(
                refit, vendor=vendor, budget=draw(st.none() | money),
                agreed_price=draw(st.none() | money) if vendor else None,
            )
        )  # fmt: skip
    key = 0
    for vendor in vendors:
        own = [p for p in packages if p.vendor_id == vendor.pk and p.agreed_price is not None]
        if not own or not draw(st.booleans()):
            continue
        price = sum((p.agreed_price or Decimal(0) for p in own), Decimal(0))
        deposit = min(price, draw(money))
        order = make_order(
            refit=refit, title="Order", vendor=vendor, packages=own, price=price,
            terms=Terms([Part("order", deposit)], rest="back"), **WHO,
        )  # fmt: skip
        for part in order.instalments.all():
            if draw(st.booleans()):
                key += 1
                note_payment(
                    refit=refit, key=str(key), paid_on=TODAY, amount=part.amount,
                    instalment=part, **WHO,
                )  # fmt: skip
    for package in packages:
        if draw(st.booleans()):
            goods = Goods.objects.create(
                refit=refit, code=f"G{package.pk}", title="Kit", package=package, price=draw(money)
            )
            if draw(st.booleans()):
                key += 1
                note_payment(refit=refit, key=str(key), paid_on=TODAY, amount=draw(money),
                             goods=goods, **WHO)  # fmt: skip
        if draw(st.booleans()):
            key += 1
            note_payment(refit=refit, key=str(key), paid_on=TODAY, amount=draw(money),
                         package=package, **WHO)  # fmt: skip
        if draw(st.booleans()):
            key += 1
            log_hours(refit=refit, key=str(key), package=package, worked_on=TODAY,
                      minutes=draw(st.integers(0, 900)), rate=draw(money), person=hand,
                      **WHO)  # fmt: skip
    return refit


@pytest.mark.django_db
@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_every_total_is_the_sum_of_its_parts_whichever_way_it_is_cut(data: st.DataObject) -> None:
    with transaction.atomic():
        refit = data.draw(_refits())
        books = read_books(refit)
        lines = budget_lines(books)
        whole, parts = total("All", lines), by_vendor(lines)
        for name in ("budget", "committed", "spent", "forecast", "left"):
            assert sum(getattr(part, name) for part in parts) == getattr(whole, name)
        paid = sum((payment.amount for payment in books.payments), Decimal(0))
        worked = sum((cost_of(one.minutes, one.rate) for one in books.hours), Decimal(0))
        assert whole.spent == paid + worked
        due = dues(books, lines, {})
        assert sum((one.amount for one in due), Decimal(0)) == whole.left
        weeks = by_week(due, TODAY)
        assert sum((week.amount for week in weeks), Decimal(0)) == whole.left
        assert not weeks or weeks[-1].so_far == whole.left
        assert all(line.forecast >= line.spent for line in lines)
        transaction.set_rollback(True)


def _an_order(refit: Refit) -> WorkOrder:
    vendor = a_vendor(refit)
    package = a_package(refit, vendor=vendor, agreed_price=Decimal(1000))
    return make_order(
        refit=refit, title="Order", vendor=vendor, packages=[package], price=Decimal(1000),
        terms=Terms([Part("order", Decimal(300), "deposit")], rest="finish"), **WHO,
    )  # fmt: skip


@pytest.mark.django_db
def test_a_form_that_is_sent_twice_pays_once() -> None:
    refit = a_refit()
    pay: Any = {"refit": refit, "paid_on": TODAY, "amount": Decimal(5), **WHO}
    package = a_package(refit)
    first = note_payment(key="k", package=package, **pay)
    assert note_payment(key="k", package=package, **pay) == first
    assert Payment.objects.count() == 1


@pytest.mark.django_db
def test_an_instalment_is_paid_once_by_the_service_and_by_the_database() -> None:
    refit = a_refit()
    part = _an_order(refit).instalments.get(number=1)
    pay: Any = {"refit": refit, "paid_on": TODAY, "instalment": part, **WHO}
    with pytest.raises(Refused, match="300"):
        note_payment(key="a", amount=Decimal(299), **pay)
    paid = note_payment(key="a", amount=part.amount, **pay)
    with pytest.raises(Refused, match="paid already"):
        note_payment(key="b", amount=part.amount, **pay)
    with pytest.raises(IntegrityError), transaction.atomic():
        Payment.objects.create(refit=refit, key="c", paid_on=TODAY, amount=1, instalment=part)
    take_back_payment(payment=paid, **WHO)
    assert JournalEntry.objects.filter(verb="removed").exists()
    note_payment(key="d", amount=part.amount, **pay)


@pytest.mark.django_db
def test_a_payment_is_for_one_thing() -> None:
    refit = a_refit()
    part = _an_order(refit).instalments.get(number=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        Payment.objects.create(refit=refit, key="c", paid_on=TODAY, amount=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        Payment.objects.create(
            refit=refit, key="c", paid_on=TODAY, amount=1, instalment=part,
            package=refit.packages.first(),
        )  # fmt: skip


@pytest.mark.django_db
def test_due_dates_follow_the_plan() -> None:
    refit = a_refit()
    order = _an_order(refit)
    package = order.packages.get()
    plan = {
        package.pk: Dates(
            NOW + timedelta(days=2), NOW + timedelta(days=5), NOW + timedelta(days=8),
            NOW + timedelta(days=9),
        )
    }  # fmt: skip
    expected = {"order": 0, "start": 2, "finish": 5, "back": 9}
    for basis, days in expected.items():
        part = Instalment(order=order, number=9, basis=basis, amount=1, days_after=14)
        assert due_on(part, order, plan, refit) == TODAY + timedelta(days=days + 14)
    assert due_on(Instalment(basis="start", days_after=0), order, {}, refit) is None


@pytest.mark.django_db
def test_what_is_overdue_is_needed_this_week() -> None:
    refit = a_refit()
    order = _an_order(refit)
    WorkOrder.objects.update(made_at=NOW - timedelta(days=40))
    order.refresh_from_db()
    books = read_books(refit)
    weeks = by_week(dues(books, budget_lines(books), {}), TODAY)
    assert [(week.monday, week.amount) for week in weeks] == [
        (date(2026, 11, 23), Decimal(300)), (None, Decimal(700)),
    ]  # fmt: skip


@pytest.mark.django_db
def test_the_books_open_as_text_and_carry_every_cent() -> None:
    refit = a_refit(currency="CAD")
    package = a_package(refit, title="=HYPERLINK(1)")
    note_payment(
        refit=refit, key="k", paid_on=TODAY, amount=Decimal("12.30"), package=package,
        reference="+49", note="@SUM(A1)", **WHO,
    )  # fmt: skip
    rows = list(csv.reader(io.StringIO(bookkeeping_csv(read_books(refit)))))
    assert tuple(rows[0]) == HEADINGS
    assert rows[1] == [
        "payment", "2026-11-25", "'=HYPERLINK(1)", package.code, "", "", "'+49", "12.30", "CAD",
        "'@SUM(A1)",
    ]  # fmt: skip

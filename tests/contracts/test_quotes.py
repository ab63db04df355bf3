"""Several vendors are asked, what each would do is planned, one gets the work."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from refit.contracts.models import Quote, QuoteState
from refit.contracts.order_text import digest_of, order_text
from refit.contracts.services import (
    Answer,
    Part,
    Terms,
    TextMoved,
    accept_quote,
    agree_order,
    agreement_of,
    answer_inquiry,
    ask_for_quotes,
    pass_on_inquiry,
)
from refit.planning.models import Plan
from refit.planning.prospects import known_prospects, work_out_now
from refit.planning.services import replan
from refit.work.models import Actor, Refit, WorkPackage
from refit.work.services import Refused, change_row
from tests.builders import (
    A_MANAGER,
    NOW,
    a_crew_member,
    a_dependency,
    a_package,
    a_place,
    a_refit,
    a_vendor,
)

pytestmark = pytest.mark.django_db
WHO: Any = {"actor": A_MANAGER, "now": NOW}
SHOP = Actor("Merganser", "vendor")


def _launch(refit: Refit) -> Any:
    plan = Plan.objects.current(refit)
    assert plan is not None
    return plan.launch_at


def _scene() -> tuple[Refit, WorkPackage, list[Quote]]:
    """A job of one day of ours before the launch, asked of three vendors."""
    refit = a_refit()
    a_place(refit)
    a_crew_member(refit)
    work = a_package(refit, code="H4", helpers=1, budget=Decimal(900))
    a_dependency(work, a_package(refit, code="X2", is_launch=True))
    replan(refit=refit, now=NOW)
    inquiry = ask_for_quotes(
        refit=refit, title="Polish", packages=[work],
        vendors=[a_vendor(refit, name=name) for name in ("Eider", "Merganser", "Scaup")], **WHO,
    )  # fmt: skip
    return refit, work, list(inquiry.quotes.select_related("inquiry__refit", "vendor"))


def _answered(quote: Quote, price: str = "980.00", **fields: Any) -> None:
    answer = Answer(Decimal(price), **fields)
    answer_inquiry(quote=quote, answer=answer, actor=SHOP, now=NOW)
    quote.refresh_from_db()


def test_what_each_quote_would_do_is_planned_and_nothing_is_changed() -> None:
    refit, work, quotes = _scene()
    before, version = _launch(refit), refit.version
    for quote, lead in zip(quotes, (0, 14, 2), strict=True):
        _answered(quote, lead_days=lead)
    work_out_now(refit, quotes, now=NOW)
    known = known_prospects(refit, quotes, NOW)
    launches = [known[quote.pk].launch_after for quote in quotes]
    # Open 08:00 to 17:00, eight hours each: from Wed 25 Nov 09:00 to Thu 16:00; from Wed 9 Dec
    # and from Fri 27 Nov the launch begins in the last hour and ends on the next open day.
    assert [refit.local(at).date() for at in launches if at] == [
        date(2026, 11, 26), date(2026, 12, 10), date(2026, 11, 30)
    ]  # fmt: skip
    assert known[quotes[1].pk].days == 14
    work.refresh_from_db()
    refit.refresh_from_db()
    assert (work.vendor, refit.version, _launch(refit)) == (None, version, before)


def test_the_launch_and_the_bill_are_as_announced_once_a_quote_is_taken() -> None:
    refit, work, quotes = _scene()
    promised = date(2026, 12, 4)
    for quote in quotes:
        _answered(quote, lead_days=5, promised_on=promised)
    work_out_now(refit, quotes, now=NOW)
    told = known_prospects(refit, quotes, NOW)[quotes[0].pk]
    order = accept_quote(quote=quotes[0], **WHO)
    replan(refit=refit, now=NOW)
    assert _launch(refit) == told.launch_after
    work.refresh_from_db()
    assert (work.vendor, work.agreed_price, work.helpers) == (
        quotes[0].vendor, Decimal("980.00"), 0,
    )  # fmt: skip
    assert work.promised is not None
    assert refit.local(work.promised).date() == promised
    assert refit.local(work.booking.at).date() == NOW.date() + timedelta(days=5)
    assert (order.price, order.due_on) == (Decimal("980.00"), promised)
    states = set(Quote.objects.values_list("state", flat=True))
    assert states == {QuoteState.ACCEPTED, QuoteState.NOT_TAKEN}


def test_other_terms_or_another_refit_make_what_was_worked_out_worthless() -> None:
    refit, work, quotes = _scene()
    _answered(quotes[0])
    work_out_now(refit, quotes[:1], now=NOW)
    assert known_prospects(refit, quotes[:1], NOW)
    _answered(quotes[0], "990.00")
    assert not known_prospects(refit, quotes[:1], NOW)
    work_out_now(refit, quotes[:1], now=NOW)
    change_row(refit=refit, row=work, facts={"likely_minutes": 480, "high_minutes": 960}, **WHO)
    assert not known_prospects(refit, quotes[:1], NOW)


def test_a_quote_that_ran_out_cannot_be_taken() -> None:
    _, _, quotes = _scene()
    _answered(quotes[0], valid_until=NOW.date() - timedelta(days=1))
    with pytest.raises(Refused, match="valid until Tue 24 Nov"):
        accept_quote(quote=quotes[0], **WHO)


def test_work_is_given_away_once() -> None:
    _, _, quotes = _scene()
    for quote in quotes:
        _answered(quote)
    accept_quote(quote=quotes[0], **WHO)
    with pytest.raises(Refused, match="not to be had any more"):
        accept_quote(quote=quotes[1], **WHO)
    with pytest.raises(Refused, match="not to be had any more"):
        _answered(quotes[2])


def test_whoever_passes_has_no_price_and_cannot_be_taken() -> None:
    _, _, quotes = _scene()
    pass_on_inquiry(quote=quotes[0], actor=SHOP, now=NOW)
    with pytest.raises(Refused, match="has not said a price"):
        accept_quote(quote=quotes[0], **WHO)


def test_a_vendor_without_a_place_cannot_do_what_is_done_at_another_shop() -> None:
    refit, work, quotes = _scene()
    other = a_vendor(refit)
    change_row(
        refit=refit, row=work, facts={"place": a_place(refit, vendor=other).pk, "vendor": other.pk},
        **WHO,
    )  # fmt: skip
    _answered(quotes[0])
    work_out_now(refit, quotes[:1], now=NOW)
    assert (
        "has no place of its own yet"
        in known_prospects(refit, quotes[:1], NOW)[quotes[0].pk].trouble
    )


def test_the_price_is_shared_by_the_budgets_to_the_cent() -> None:
    refit, work, _ = _scene()
    second = a_package(refit, code="H5", budget=Decimal(600))
    inquiry = ask_for_quotes(
        refit=refit, title="Both", packages=[work, second], vendors=[a_vendor(refit)], **WHO
    )
    quote = inquiry.quotes.get()
    _answered(quote, "100.01")
    accept_quote(quote=quote, **WHO)
    work.refresh_from_db()
    second.refresh_from_db()
    # 900 to 600 of 100.01: 60.006 and 40.004, the cent left goes to the larger remainder.
    assert (work.agreed_price, second.agreed_price) == (Decimal("60.01"), Decimal("40.00"))


# --- the order ------------------------------------------------------------------------------------


def _order() -> Any:
    _, work, quotes = _scene()
    _answered(quotes[0])
    terms = Terms([Part("order", Decimal(300), "deposit")])
    return accept_quote(quote=quotes[0], terms=terms, **WHO), work


def test_instalments_come_to_the_price_and_never_to_more() -> None:
    order, _ = _order()
    assert [(p.basis, p.amount) for p in order.instalments.all()] == [
        ("order", Decimal(300)), ("finish", Decimal("680.00"))
    ]  # fmt: skip
    _, _, quotes = _scene()
    _answered(quotes[0])
    with pytest.raises(ValidationError, match="more than the price"):
        accept_quote(quote=quotes[0], terms=Terms([Part("order", Decimal(981))]), **WHO)
    quotes[0].refresh_from_db()
    assert quotes[0].state == QuoteState.ANSWERED


def test_an_order_that_changes_has_to_be_agreed_again() -> None:
    order, work = _order()
    seen = digest_of(order_text(order))
    say: Any = {"order": order, "name": "Corin Vale", "actor": SHOP, "now": NOW, "link": "abc"}
    given = agree_order(seen=seen, **say)
    assert (given.digest, given.link, given.agreed_at) == (seen, "abc", NOW)
    assert agree_order(seen=seen, **say) == given
    change_row(refit=order.refit, row=work, facts={"scope": "And the transom."}, **WHO)
    assert agreement_of(order) is None
    with pytest.raises(TextMoved):
        agree_order(seen=seen, **say)
    agree_order(seen=digest_of(order_text(order)), **say)
    assert agreement_of(order) is not None
    assert order.agreements.count() == 2

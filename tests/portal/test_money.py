"""The owner decides on a change order; the vendor names a price and agrees to an order."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from refit.accounts.models import LinkKind
from refit.contracts.budget import bill
from refit.contracts.models import ChangeOrder, Consent, Inquiry, Quote, WorkOrder
from refit.contracts.services import Terms, ask_owner, make_change, make_order
from refit.planning.models import Plan
from refit.planning.prospects import announce
from refit.planning.services import replan
from refit.work.models import OwnerSees, Refit, Vendor
from refit.work.services import change_row
from tests.builders import A_MANAGER, a_crew_member, a_dependency, a_package, a_place, a_refit
from tests.builders import a_vendor as builders_vendor

from .stage import Door, a_door

pytestmark = pytest.mark.django_db


def _scene() -> tuple[Refit, ChangeOrder, Door]:
    refit, now = a_refit(owner_name="Ansel Thorvik"), timezone.now()
    a_place(refit)
    a_crew_member(refit)
    repair = a_package(refit, code="K1", helpers=1, minutes=2400, is_agreed=False)
    launch = a_package(refit, code="X2", is_launch=True)
    a_dependency(repair, launch)
    assert replan(refit=refit, now=now) is not None
    who: Any = {"actor": A_MANAGER, "now": now}
    change = make_change(
        refit=refit, title="New core", reason="It is wet", package=repair, price=Decimal(640), **who
    )
    figures, _ = announce(change, now=now)
    assert figures is not None
    ask_owner(change=change, announcement=figures, **who)
    change.refresh_from_db()
    return refit, change, a_door(refit, LinkKind.OWNER)


def _shown(door: Door) -> dict[str, str]:
    page = door.get()
    assert "New core" in page.content.decode()
    [question] = page.context["questions"]
    return {"seen": question.digest}


def _launch(refit: Refit) -> Any:
    plan = Plan.objects.current(refit)
    assert plan is not None
    return plan.launch_at


def test_the_owner_says_yes_and_the_launch_and_the_bill_move_as_announced() -> None:
    refit, change, door = _scene()
    answer = door.post(f"changes/{change.pk}/decide", _shown(door) | {"answer": "yes"})
    assert answer.status_code == 302
    assert change.launch_after is not None
    # Some seconds have passed since it was announced: the plan counts in minutes.
    assert abs(_launch(refit) - change.launch_after) < timedelta(minutes=5)
    assert bill(refit) == change.bill_after
    kept = Consent.objects.get()
    assert (kept.is_yes, kept.name, kept.link) == (True, "Ansel Thorvik", door.link.public_id)
    assert not door.get().context["questions"]


def test_the_owner_says_no_and_nothing_moves() -> None:
    refit, change, door = _scene()
    before = _launch(refit)
    door.post(f"changes/{change.pk}/decide", _shown(door) | {"answer": "no"})
    assert not Consent.objects.get().is_yes
    assert _launch(refit) == before


def test_other_figures_by_now_are_shown_before_anything_is_decided() -> None:
    refit, change, door = _scene()
    sent = _shown(door) | {"answer": "yes"}
    row = refit.packages.get(code="X2")
    facts = {"low_minutes": 4800, "likely_minutes": 4800, "high_minutes": 4800}
    change_row(refit=refit, row=row, facts=facts, actor=A_MANAGER, now=timezone.now())
    answer = door.post(f"changes/{change.pk}/decide", sent, follow=True)
    assert "look at the figures once more" in answer.content.decode()
    assert not Consent.objects.exists()
    door.post(f"changes/{change.pk}/decide", _shown(door) | {"answer": "yes"})
    assert Consent.objects.get().is_yes


def test_a_word_without_the_words_that_were_shown_decides_nothing() -> None:
    _, change, door = _scene()
    for sent in ({"answer": "yes"}, {"answer": "maybe"}, {"answer": "no", "seen": "0"}):
        door.post(f"changes/{change.pk}/decide", sent)
    assert not Consent.objects.exists()


def test_the_owner_sees_as_much_of_the_money_as_is_agreed() -> None:
    refit, _, door = _scene()
    a_package(refit, title="Sewing", budget=Decimal("777.50"))
    for sees, status, job in (
        (OwnerSees.NOTHING, 404, False),
        (OwnerSees.TOTALS, 200, False),
        (OwnerSees.PACKAGES, 200, True),
    ):
        Refit.objects.update(owner_sees=sees)
        page = door.get("money/")
        assert page.status_code == status
        assert ("Sewing" in page.content.decode()) is job


# --- the vendor -----------------------------------------------------------------------------------


def _asked() -> tuple[Quote, Quote, Door]:
    refit, now = a_refit(), timezone.now()
    package = a_package(refit, title="Polish the hull", budget=Decimal("4321.99"))
    own, other = builders_vendor(refit, name="Scaup"), builders_vendor(refit, name="Merganser")
    inquiry = Inquiry.objects.create(refit=refit, code="Q1", title="Polish", asked_at=now)
    inquiry.packages.add(package)
    quote = Quote.objects.create(inquiry=inquiry, vendor=own, asked_at=now)
    theirs = Quote.objects.create(
        inquiry=inquiry, vendor=other, asked_at=now, price=Decimal("8765.43"), state="answered",
        leaves_out="the secret wax",
    )  # fmt: skip
    return quote, theirs, a_door(refit, vendor=own)


def test_a_vendor_names_its_price_and_sees_nobody_elses() -> None:
    """ASVS 5.0, 8.2.3: no access to the fields of others."""
    quote, _, door = _asked()
    assert "1 waits for your word" in door.get().content.decode()
    prefix = f"quote-{quote.pk}-"
    sent = {f"{prefix}price": "1200.50", f"{prefix}lead_days": "10"}
    assert door.post(f"offers/{quote.pk}/price", sent).status_code == 302
    quote.refresh_from_db()
    assert (quote.state, quote.price, quote.answered_by) == (
        "answered",
        Decimal("1200.50"),
        "Scaup",
    )
    body = door.get("offers/").content.decode()
    assert "1,200.50" in body
    for secret in ("8,765", "8765", "Merganser", "secret wax", "4,321", "4321"):
        assert secret not in body


def test_a_price_that_is_none_is_named_at_its_field() -> None:
    quote, _, door = _asked()
    page = door.post(f"offers/{quote.pk}/price", {f"quote-{quote.pk}-price": "much"})
    assert page.status_code == 200
    assert "Enter a number" in page.content.decode()
    quote.refresh_from_db()
    assert quote.state == "asked"


def test_the_question_to_another_vendor_does_not_exist() -> None:
    _, theirs, door = _asked()
    sent = {f"quote-{theirs.pk}-price": "1"}
    assert door.post(f"offers/{theirs.pk}/price", sent).status_code == 404
    assert door.post(f"offers/{theirs.pk}/pass").status_code == 404


def _ordered(vendor: Vendor) -> WorkOrder:
    return make_order(
        refit=vendor.refit, title="Polish", vendor=vendor, packages=[], price=Decimal(900),
        terms=Terms(), actor=A_MANAGER, now=timezone.now(),
    )  # fmt: skip


def test_an_order_is_agreed_by_a_click_that_is_kept() -> None:
    quote, _, door = _asked()
    order = _ordered(quote.vendor)
    [shown] = door.get("offers/").context["orders"]
    door.post(f"orders/{order.pk}/agree", {"seen": "0", "name": "Tamsin Roark"})
    assert not order.agreements.exists()
    door.post(f"orders/{order.pk}/agree", {"seen": shown.digest, "name": "Tamsin Roark"})
    kept = order.agreements.get()
    assert (kept.name, kept.side, kept.link) == (
        "Tamsin Roark, Scaup", "vendor", door.link.public_id
    )  # fmt: skip
    assert kept.text.startswith(f"Work order {order.code}")
    paper = door.get(f"orders/{order.pk}/paper")
    assert paper.content.startswith(b"%PDF")

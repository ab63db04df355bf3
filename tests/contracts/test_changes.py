"""A change order: announced, decided once and for good, and then exactly what was announced."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refit.contracts.budget import bill, contingency, read_books
from refit.contracts.change_text import change_text
from refit.contracts.models import (
    Agreement,
    ChangeOrder,
    ChangeState,
    Consent,
    ConsentWay,
    WorkOrder,
)
from refit.contracts.order_text import digest_of
from refit.contracts.services import TextMoved, Word, ask_owner, decide_change, make_change
from refit.planning.models import Plan, PlannedPackage
from refit.planning.prospects import announce, still_true
from refit.planning.services import replan
from refit.quality.models import Decision, Finding
from refit.work.models import Refit, WorkPackage
from refit.work.services import Refused, change_row, finish_package, start_package
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


def _word(**fields: Any) -> Word:
    given: dict[str, Any] = {"way": ConsentWay.PAGE, "name": "Ansel Thorvik", "at": NOW}
    return Word(**(given | fields))


def _scene(**change: Any) -> tuple[Refit, WorkPackage, ChangeOrder]:
    """Strip, then launch; between them a repair of two days that is not in the scope."""
    refit = a_refit(contingency=Decimal(1000))
    a_place(refit)
    a_crew_member(refit)
    strip = a_package(refit, code="A1", helpers=1, budget=Decimal(500))
    repair = a_package(refit, code="K1", helpers=1, minutes=960, is_agreed=False)
    launch = a_package(refit, code="X2", is_launch=True)
    a_dependency(strip, repair)
    a_dependency(repair, launch)
    a_dependency(strip, launch)
    replan(refit=refit, now=NOW)
    finding = Finding.objects.create(refit=refit, code="N1", title="Soft core", found_at=NOW)
    given: dict[str, Any] = {"package": repair, "finding": finding, "price": Decimal("640.50")}
    row = make_change(refit=refit, title="Core", reason="It is wet", **(given | change), **WHO)
    return refit, repair, row


def _asked(change: ChangeOrder) -> str:
    """Put to the owner; the digest of what is shown."""
    figures, trouble = announce(change, now=NOW)
    assert figures is not None, trouble
    ask_owner(change=change, announcement=figures, **WHO)
    change.refresh_from_db()
    return digest_of(change_text(change))


def _launch(refit: Refit) -> Any:
    plan = Plan.objects.current(refit)
    assert plan is not None
    return plan.launch_at


def test_what_is_outside_the_scope_is_neither_planned_nor_begun() -> None:
    _, repair, _ = _scene()
    assert not PlannedPackage.objects.filter(package=repair).exists()
    with pytest.raises(Refused, match="not in the agreed scope"):
        start_package(package=repair, at=NOW, **WHO)
    with pytest.raises(Refused, match="not in the agreed scope"):
        finish_package(package=repair, at=NOW, started_at=NOW, **WHO)


def test_on_approval_the_launch_and_the_bill_move_exactly_as_announced() -> None:
    refit, repair, change = _scene()
    before, cost = _launch(refit), bill(refit)
    seen = _asked(change)
    assert (change.launch_before, change.bill_before) == (before, cost)
    assert (change.days, change.bill_after) == (4, cost + Decimal("640.50"))  # over a weekend
    decide_change(change=change, is_yes=True, seen=seen, word=_word(), **WHO)
    replan(refit=refit, now=NOW)
    assert (_launch(refit), bill(refit)) == (change.launch_after, change.bill_after)
    start_package(package=repair, at=NOW, **WHO)
    change.refresh_from_db()
    assert change.state == ChangeState.APPROVED
    assert Finding.objects.get().decision == Decision.FIX_NOW
    assert contingency(read_books(refit)).left == Decimal("359.50")


def test_more_work_in_a_package_of_the_scope_moves_them_as_announced_too() -> None:
    refit, _, _ = _scene()
    strip = refit.packages.get(code="A1")
    longer = make_change(
        refit=refit, title="Rusted bolts", reason="They shear", package=strip,
        price=Decimal(120), extra_minutes=480, **WHO,
    )  # fmt: skip
    seen = _asked(longer)
    decide_change(change=longer, is_yes=True, seen=seen, word=_word(), **WHO)
    replan(refit=refit, now=NOW)
    assert (_launch(refit), bill(refit)) == (longer.launch_after, longer.bill_after)
    assert longer.bill_after == (longer.bill_before or 0) + 120


def test_declining_moves_nothing() -> None:
    refit, repair, change = _scene()
    before, cost = _launch(refit), bill(refit)
    decide_change(change=change, is_yes=False, seen=_asked(change), word=_word(), **WHO)
    replan(refit=refit, now=NOW)
    assert (_launch(refit), bill(refit)) == (before, cost)
    repair.refresh_from_db()
    assert not repair.is_agreed
    assert Finding.objects.get().decision == Decision.LEAVE


def test_the_owner_agrees_to_the_figures_that_were_shown_or_to_none() -> None:
    refit, _, change = _scene()
    seen = _asked(change)
    assert still_true(change, now=NOW) is None
    strip = refit.packages.get(code="A1")
    facts = {"low_minutes": 960, "likely_minutes": 960, "high_minutes": 960}
    change_row(refit=refit, row=strip, facts=facts, **WHO)
    fresh = still_true(change, now=NOW)
    assert fresh is not None
    ask_owner(change=change, announcement=fresh, **WHO)
    with pytest.raises(TextMoved):
        decide_change(change=change, is_yes=True, seen=seen, word=_word(), **WHO)
    assert not Consent.objects.exists()


def test_it_is_decided_once() -> None:
    _, _, change = _scene()
    seen = _asked(change)
    decide_change(change=change, is_yes=True, seen=seen, word=_word(), **WHO)
    with pytest.raises(Refused, match="approved"):
        decide_change(change=change, is_yes=False, seen=seen, word=_word(), **WHO)


def test_consent_by_telephone_is_kept_with_what_the_law_asks_for() -> None:
    """Cal. Harb. & Nav. Code 410–418: date, time, name, number, parts and labour, total."""
    _, _, change = _scene()
    seen = _asked(change)
    no_number = _word(way=ConsentWay.TELEPHONE)
    with pytest.raises(ValidationError, match="which number"):
        decide_change(change=change, is_yes=True, seen=seen, word=no_number, **WHO)
    word = _word(way=ConsentWay.TELEPHONE, phone="902-555-0142", at=NOW - timedelta(hours=1))
    kept = decide_change(change=change, is_yes=True, seen=seen, word=word, **WHO)
    assert (kept.given_at, kept.name, kept.phone) == (
        NOW - timedelta(hours=1), "Ansel Thorvik", "902-555-0142",
    )  # fmt: skip
    assert "Core" in kept.what
    assert "640.50" in kept.what
    assert kept.price == Decimal("640.50")


FIELDS: dict[str, Any] = {
    "is_yes": False, "name": "Somebody else", "price": Decimal(1), "what": "Nothing", "days": 0,
    "digest": "0", "note": "changed", "phone": "1",
}  # fmt: skip


@settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.sets(st.sampled_from(sorted(FIELDS)), min_size=1))
def test_what_was_consented_to_can_be_neither_altered_nor_removed(names: set[str]) -> None:
    with transaction.atomic():
        _, _, change = _scene()
        kept = decide_change(change=change, is_yes=True, seen=_asked(change), word=_word(), **WHO)
        before = Consent.objects.values().get()
        for attempt in (
            lambda: Consent.objects.update(**{name: FIELDS[name] for name in names}),
            lambda: Consent.objects.all().delete(),
            lambda: connection.cursor().execute("DELETE FROM contracts_consent"),
            lambda: kept.save(),
        ):
            with pytest.raises(DatabaseError), transaction.atomic():
                attempt()
        assert Consent.objects.values().get() == before
        transaction.set_rollback(True)


def test_the_database_guards_agreements_too() -> None:
    refit = a_refit()
    order = WorkOrder.objects.create(
        refit=refit, code="WO1", title="T", vendor=a_vendor(refit), price=1, made_at=NOW
    )
    Agreement.objects.create(
        order=order, agreed_at=NOW, name="N", side="vendor", digest="d", text="t"
    )
    with pytest.raises(DatabaseError), transaction.atomic():
        Agreement.objects.update(text="other")
    with pytest.raises(DatabaseError), transaction.atomic():
        Agreement.objects.all().delete()

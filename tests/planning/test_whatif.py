"""What if: the sandbox compares, touches nothing, and applies all or nothing."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from refit.accounts.models import User
from refit.interchange.export import export_refit
from refit.planning.models import Plan, WhatIf
from refit.planning.services import replan, settle
from refit.planning.tasks import work_out_what_if
from refit.planning.whatif import (
    MOST,
    CannotApply,
    Outdated,
    apply_what_if,
    discard,
    is_current,
    sandbox_of,
    take_out,
    try_change,
    work_out,
    work_out_now,
)
from refit.planning.whatif_changes import Change, open_days_later
from refit.work.models import Booking, Closure, CrewMember, JournalEntry, Refit, WorkPackage
from refit.work.services import change_row
from tests.builders import (
    A_MANAGER,
    NOW,
    a_crew_member,
    a_dependency,
    a_member,
    a_package,
    a_place,
    a_refit,
    a_vendor,
)

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


@pytest.fixture
def refit() -> Refit:
    """Coat at the coater's (2 days), then fit at home (1 day); paint at home whenever."""
    return make_refit()


def make_refit() -> Refit:
    refit = a_refit()
    booth = a_place(refit, name="Booth", vendor=a_vendor(refit, name="Coater Hollin"))
    shed = a_place(refit, name="Shed", kind="home")
    a_crew_member(refit, name="Odd")
    coat = a_package(
        refit, code="C1", title="Coat", place=booth, vendor=booth.vendor, minutes=1080,
        budget="400.00", agreed_price="450.00",
    )  # fmt: skip
    fit = a_package(
        refit, code="F1", title="Fit", place=shed, minutes=540, helpers=1, is_launch=True,
        budget="100.00",
    )  # fmt: skip
    a_package(refit, code="P1", title="Paint", place=shed, minutes=540, helpers=1)
    a_dependency(coat, fit)
    assert replan(refit=refit, now=NOW) is not None
    refit.refresh_from_db()
    return refit


def pk(refit: Refit, code: str) -> int:
    return int(refit.packages.get(code=code).pk)


def change(refit: Refit, kind: str, **fields: Any) -> Change:
    """A change of each kind, as its form would make it."""
    home = refit.places.get(name="Shed").pk
    plain: dict[str, dict[str, Any]] = {
        "late": {"vendor": refit.vendors.get().pk, "package": None, "days": 2},
        "add": {
            "code": "N1", "title": "New", "place": home, "vendor": None, "minutes": 540,
            "helpers": 0, "after": [pk(refit, "C1")], "before": [pk(refit, "F1")], "pieces": [],
            "reason": "one under the other", "budget": "250.00",
        },
        "work": {"package": pk(refit, "C1"), "minutes": 2160},
        "drop": {"package": pk(refit, "P1")},
        "shut": {"place": home, "first": "2026-11-27", "last": "2026-11-30", "reason": "frost"},
        "hire": {"name": "Second hand"},
        "book": {
            "package": pk(refit, "F1"), "booking": "not before",
            "at": "2026-12-07T08:00:00+00:00", "agreed_with": "Odd",
        },
        "deadline": {
            "package": pk(refit, "F1"), "at": "2026-11-27T17:00:00+00:00", "reason": "crane",
        },
    }  # fmt: skip
    return {"kind": kind, "said": f"a change: {kind}"} | plain[kind] | fields


KINDS = ["late", "add", "work", "drop", "shut", "hire", "book", "deadline"]


def a_sandbox(refit: Refit, *changes: Change, user: User | None = None) -> WhatIf:
    sandbox = sandbox_of(refit, user or a_member(refit))
    for one in changes:
        try_change(sandbox, one)
    return sandbox


def outcome(sandbox: WhatIf, now: datetime = NOW) -> dict[str, Any]:
    return work_out_now(sandbox, actor=A_MANAGER, now=now)


def everything(refit: Refit) -> Any:
    """All that a sandbox must not touch."""
    return (
        export_refit(refit),
        list(Plan.objects.order_by("pk").values()),
        list(JournalEntry.objects.order_by("pk").values()),
        Refit.objects.get(pk=refit.pk).version,
    )


@pytest.mark.parametrize("kind", KINDS)
def test_trying_touches_neither_rows_nor_plan_nor_journal(refit: Refit, kind: str) -> None:
    before = everything(refit)
    found = outcome(a_sandbox(refit, change(refit, kind)))
    assert found["problems"] == {}
    assert everything(refit) == before


@pytest.mark.parametrize(
    ("kind", "launch"),
    [
        # Coat Wed 25 Nov 09:00 to Fri 27th 09:00, fit to Mon 30th 09:00.
        ("late", "Wed 2 Dec"),  # coat to Tue 1 Dec 09:00
        ("add", "Tue 1 Dec"),  # a day more between
        ("work", "Wed 2 Dec"),  # coat to Tue 1 Dec 09:00
        ("drop", "Mon 30 Nov"),
        ("shut", "Tue 1 Dec"),  # Fri and Mon away: Tue 08:00 to 17:00
        ("hire", "Mon 30 Nov"),
        ("book", "Mon 7 Dec"),
        ("deadline", "Mon 30 Nov"),
    ],
)
def test_each_kind_moves_the_launch_as_it_should(refit: Refit, kind: str, launch: str) -> None:
    found = outcome(a_sandbox(refit, change(refit, kind)))
    assert (found["launch_before"], found["launch_after"]) == ("Mon 30 Nov", launch)


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_applied_is_what_was_compared(refit: Refit, kind: str) -> None:
    sandbox = a_sandbox(refit, change(refit, kind))
    found = outcome(sandbox)
    assert apply_what_if(sandbox, actor=A_MANAGER, now=NOW) == 1
    assert settle(refit=refit, now=NOW)
    plan = Plan.objects.current(refit)
    assert plan is not None
    assert plan.launch_at is not None
    assert f"{plan.launch_at:%a} {plan.launch_at.day} {plan.launch_at:%b}" == found["launch_after"]
    assert not WhatIf.objects.exists()
    entry = JournalEntry.objects.latest("id")
    assert (entry.actor_name, entry.refit) == (A_MANAGER.name, refit)
    assert kind == "drop" or entry.note == "Tried as a what-if first."


def test_a_late_vendor_is_late_with_what_it_has_begun(refit: Refit) -> None:
    coat = refit.packages.get(code="C1")
    later = a_package(refit, code="C2", title="Coat more", place=coat.place, vendor=coat.vendor)
    coat.started_at = NOW
    coat.save()
    replan(refit=refit, now=NOW)
    refit.refresh_from_db()
    sandbox = a_sandbox(refit, change(refit, "late"))
    outcome(sandbox)
    apply_what_if(sandbox, actor=A_MANAGER, now=NOW)
    coat.refresh_from_db()
    later.refresh_from_db()
    assert coat.promised == datetime.fromisoformat("2026-12-01T09:00+00:00")
    assert later.promised is None


def test_open_days_are_those_of_the_shop(refit: Refit) -> None:
    booth = refit.places.get(name="Booth")
    friday = datetime.fromisoformat("2026-11-27T09:00+00:00")
    assert open_days_later(booth, friday, 1) == friday + 3 * DAY
    Closure.objects.create(place=booth, first_day=date(2026, 11, 30), last_day=date(2026, 11, 30))
    assert open_days_later(booth, friday, 1) == friday + 4 * DAY


def test_money_is_told_before_and_after(refit: Refit) -> None:
    found = outcome(a_sandbox(refit, change(refit, "add")))
    rows = {row["name"]: row for row in found["money"]}
    assert (rows["Budget"]["before"], rows["Budget"]["after"]) == ("500 EUR", "750 EUR")
    assert rows["Agreed prices"]["moved"] == ""
    # 450 agreed and 100 of budget; then 250 more of budget
    assert rows["To be expected"]["after"] == "800 EUR"
    assert rows["To be expected"]["moved"] == "+250 EUR"


def test_promises_bookings_and_deadlines_are_told_kept_or_missed(refit: Refit) -> None:
    fit, coat = refit.packages.get(code="F1"), refit.packages.get(code="C1")
    Booking.objects.create(
        package=fit, kind="starts", at=datetime.fromisoformat("2026-11-30T08:00+00:00")
    )
    coat.promised = datetime.fromisoformat("2026-11-27T09:00+00:00")
    coat.save()
    refit.wanted_launch = date(2026, 12, 1)
    refit.save()
    replan(refit=refit, now=NOW)
    found = outcome(a_sandbox(refit, change(refit, "work"), change(refit, "deadline")))
    said = {row["what"]: (row["before"], row["after"]) for row in found["dates"]}
    # Fit would start on Tuesday 1 Dec at 09:00 and end on Wednesday at 09:00.
    assert said["booking of F1 Fit"] == (
        "Mon 30 Nov 08:00: kept",
        "Mon 30 Nov 08:00: missed by 25 h",
    )
    assert said["promised by Coater Hollin: C1 Coat"] == (
        "Fri 27 Nov 09:00: kept",
        "Fri 27 Nov 09:00: missed by 4 days",
    )
    assert said["deadline of F1 Fit"] == ("–", "Fri 27 Nov 17:00: missed by 4 days 16 h")
    assert said["launch on the day wanted"] == (
        "Tue 1 Dec: kept",
        "Tue 1 Dec: missed by 24 h",
    )
    assert (found["kept"], found["missed"]) == (0, 4)


def test_packages_whose_dates_move_are_listed_furthest_first(refit: Refit) -> None:
    found = outcome(a_sandbox(refit, change(refit, "work")))
    assert [(row["code"], row["said"]) for row in found["moved"]] == [
        ("C1", "2 working days later"),
        ("F1", "2 working days later"),
    ]
    assert found["same"] == 1


def test_a_new_package_and_a_dropped_one_are_named(refit: Refit) -> None:
    found = outcome(a_sandbox(refit, change(refit, "add"), change(refit, "drop")))
    assert [row["code"] for row in found["added"]] == ["N1"]
    assert [row["code"] for row in found["gone"]] == ["P1"]


def test_a_change_that_cannot_be_made_is_told_and_the_others_are_tried(refit: Refit) -> None:
    sandbox = a_sandbox(refit, change(refit, "work"), change(refit, "drop"))
    refit.packages.get(code="P1").delete()
    found = outcome(sandbox)
    assert list(found["problems"].values()) == ["The package does not exist any more."]
    assert found["launch_after"] == "Wed 2 Dec"
    with pytest.raises(CannotApply, match="Take out"):
        apply_what_if(sandbox, actor=A_MANAGER, now=NOW)
    take_out(sandbox, next(iter(found["problems"])))
    assert outcome(sandbox)["problems"] == {}


def test_a_ring_is_told_and_not_applied(refit: Refit) -> None:
    ring = change(refit, "add", after=[pk(refit, "F1")], before=[pk(refit, "C1")])
    sandbox = a_sandbox(refit, ring)
    found = outcome(sandbox)
    assert "N1 New" in " ".join(found["trouble"])
    assert (found["launch_before"], found["launch_after"]) == ("Mon 30 Nov", "")
    with pytest.raises(CannotApply, match="no plan can be made"):
        apply_what_if(sandbox, actor=A_MANAGER, now=NOW)
    assert not WorkPackage.objects.filter(code="N1").exists()


def test_all_is_applied_or_nothing(refit: Refit) -> None:
    sandbox = a_sandbox(refit, change(refit, "hire"), change(refit, "drop"))
    outcome(sandbox)
    assert sandbox.outcome is not None
    refit.packages.get(code="P1").delete()  # nobody told the journal, so the version stands
    before = everything(refit)
    with pytest.raises(CannotApply, match="does not exist any more"):
        apply_what_if(sandbox, actor=A_MANAGER, now=NOW)
    assert everything(refit) == before
    assert not CrewMember.objects.filter(name="Second hand").exists()
    assert WhatIf.objects.exists()


def test_what_was_compared_with_another_refit_is_not_applied(refit: Refit) -> None:
    sandbox = a_sandbox(refit, change(refit, "hire"))
    outcome(sandbox)
    row = refit.packages.get(code="P1")
    change_row(refit=refit, row=row, facts={"title": "Paint it"}, actor=A_MANAGER, now=NOW)
    refit.refresh_from_db()
    assert not is_current(sandbox, NOW)
    with pytest.raises(Outdated):
        apply_what_if(sandbox, actor=A_MANAGER, now=NOW)
    assert not CrewMember.objects.filter(name="Second hand").exists()
    outcome(sandbox)
    assert apply_what_if(sandbox, actor=A_MANAGER, now=NOW) == 1


def test_a_comparison_is_good_for_a_while(refit: Refit) -> None:
    sandbox = a_sandbox(refit, change(refit, "hire"))
    assert not is_current(sandbox, NOW)
    outcome(sandbox)
    assert is_current(sandbox, NOW + timedelta(minutes=50))
    assert not is_current(sandbox, NOW + timedelta(minutes=70))


def test_an_empty_sandbox_has_nothing_to_apply(refit: Refit) -> None:
    with pytest.raises(CannotApply, match="nothing to apply"):
        apply_what_if(a_sandbox(refit), actor=A_MANAGER, now=NOW)


def test_a_sandbox_belongs_to_one_user_and_survives(refit: Refit) -> None:
    user, other = a_member(refit), a_member(refit)
    a_sandbox(refit, change(refit, "hire"), user=user)
    assert [c["kind"] for c in sandbox_of(refit, user).changes] == ["hire"]
    assert sandbox_of(refit, other).changes == []
    discard(sandbox_of(refit, user))
    assert sandbox_of(refit, user).changes == []


def test_two_windows_of_one_user_do_not_undo_each_other(refit: Refit) -> None:
    user = a_member(refit)
    first, second = sandbox_of(refit, user), sandbox_of(refit, user)
    try_change(first, change(refit, "hire"))
    try_change(second, change(refit, "drop"))
    assert [c["kind"] for c in sandbox_of(refit, user).changes] == ["hire", "drop"]


def test_a_sandbox_has_its_limit(refit: Refit) -> None:
    sandbox = a_sandbox(refit, *([change(refit, "hire")] * MOST))
    with pytest.raises(CannotApply, match="30 changes"):
        try_change(sandbox, change(refit, "hire"))


def test_what_takes_long_is_left_to_the_worker(refit: Refit) -> None:
    Plan.objects.update(seconds=30)
    sandbox = a_sandbox(refit, change(refit, "work"))
    assert not work_out(sandbox, actor=A_MANAGER, now=NOW)
    assert sandbox.outcome is None
    for _ in range(2):
        work_out_what_if(sandbox.pk)
    sandbox.refresh_from_db()
    assert sandbox.outcome is not None
    assert sandbox.outcome["problems"] == {}


def test_without_a_plan_it_can_be_tried_all_the_same() -> None:
    refit = a_refit()
    a_place(refit, name="Shed", kind="home")
    fields = {
        "code": "N1", "title": "New", "place": refit.places.get().pk, "vendor": None,
        "minutes": 60, "helpers": 0, "after": [], "before": [], "pieces": [], "reason": "",
        "budget": None,
    }  # fmt: skip
    found = outcome(a_sandbox(refit, {"kind": "add", "said": "more", **fields}))
    assert found["launch_before"] == ""
    assert found["launch_after"] == "Wed 25 Nov"


@settings(
    max_examples=20,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(
    kinds=st.lists(st.sampled_from(KINDS), min_size=1, max_size=4, unique=True),
    minutes=st.integers(30, 4000),
    days=st.integers(1, 9),
)
def test_whatever_is_tried_is_what_applying_gives(
    kinds: list[str], minutes: int, days: int
) -> None:
    refit = make_refit()
    fields: dict[str, dict[str, Any]] = {
        "work": {"minutes": minutes},
        "late": {"days": days},
        "add": {"minutes": minutes},
    }
    sandbox = a_sandbox(refit, *(change(refit, kind, **fields.get(kind, {})) for kind in kinds))
    before = everything(refit)
    found = outcome(sandbox)
    assert everything(refit) == before
    assert found["problems"] == {}
    apply_what_if(sandbox, actor=A_MANAGER, now=NOW)
    plan = replan(refit=refit, now=NOW)
    assert plan is not None
    assert plan.launch_at is not None
    assert f"{plan.launch_at:%a} {plan.launch_at.day} {plan.launch_at:%b}" == found["launch_after"]

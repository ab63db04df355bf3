"""A longest wait that a weekend makes impossible, and what mends it.

The case is that of the trade's handbook notes on recoat windows: a coat ends on Friday at 16:00
and is to be recoated within 24 h, but the shop opens again on Monday at 08:00, 64 h later. Common
practice, no source: abrade in between, or coat on a day that another working day follows.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from refit.planning.models import Plan
from refit.planning.remedies import (
    NoRemedy,
    make_ready_again,
    missed_window,
    start_later,
)
from refit.planning.services import replan
from refit.planning.whatif import apply_what_if, sandbox_of, try_change, work_out_now
from refit.work.models import Booking, Dependency, JournalEntry, PieceEffect, Refit, WorkPackage
from refit.work.processes.library import cautions, remedy_after
from refit.work.services import undo_entry
from refit.work.services.applying import processes_of
from tests.builders import (
    A_MANAGER,
    NOW,
    a_dependency,
    a_member,
    a_package,
    a_piece,
    a_place,
    a_refit,
    a_vendor,
)

pytestmark = pytest.mark.django_db
FRIDAY = datetime(2026, 11, 27, 8, 0, tzinfo=UTC)
MONDAY = datetime(2026, 11, 30, 8, 0, tzinfo=UTC)
TUESDAY = datetime(2026, 12, 1, 8, 0, tzinfo=UTC)


@pytest.fixture
def refit() -> Refit:
    """Coat, booked for Friday 08:00 to 16:00; recoat, eight hours in one go, within 24 h."""
    refit = a_refit(time_zone="UTC")
    booth = a_place(refit, name="Booth", vendor=a_vendor(refit, name="Coater Hollin"))
    door = a_piece(refit, tag="ST-90", name="Door", place=booth)
    coat = a_package(
        refit, code="C1", title="Coat", place=booth, vendor=booth.vendor, minutes=480,
        pieces=[door], process="spray-coating", step="prime", quantity="2.000", unit="m2",
    )  # fmt: skip
    recoat = a_package(
        refit, code="C2", title="Recoat", place=booth, vendor=booth.vendor, minutes=480,
        pieces=[door], unbroken=True, is_launch=True,
    )  # fmt: skip
    Booking.objects.create(package=coat, at=FRIDAY, agreed_with="Hollin")
    a_dependency(coat, recoat, max_lag_minutes=24 * 60, reason="the coats bond")
    plan_of(refit)
    return refit


def plan_of(refit: Refit) -> Plan:
    plan = replan(refit=refit, now=NOW)
    assert plan is not None
    refit.refresh_from_db()
    return plan


def dates(refit: Refit) -> dict[str, datetime]:
    rows = plan_of(refit).packages.select_related("package")
    return {row.package.code: row.start for row in rows}


def apply(refit: Refit, remedy: str) -> dict[str, object]:
    """Try the remedy, compare, apply, plan anew; the comparison."""
    window = missed_window(refit, "C1", "C2")
    change = (
        start_later(refit, window, NOW) if remedy == "later" else make_ready_again(refit, window)
    )
    sandbox = sandbox_of(refit, a_member(refit))
    try_change(sandbox, change)
    outcome = work_out_now(sandbox, actor=A_MANAGER, now=NOW)
    apply_what_if(sandbox, actor=A_MANAGER, now=NOW)
    return dict(outcome)


def test_a_weekend_of_64_hours_misses_a_wait_of_24(refit: Refit) -> None:
    (missed,) = Plan.objects.current(refit).shortfalls  # type: ignore[union-attr]
    got, wanted = (datetime.fromisoformat(missed[what]) for what in ("got", "wanted"))
    ended = datetime(2026, 11, 27, 16, 0, tzinfo=UTC)
    assert (got - ended).total_seconds() == 64 * 3600
    assert (wanted - ended).total_seconds() == 24 * 3600


def test_a_later_start_keeps_the_wait_and_says_what_it_costs(refit: Refit) -> None:
    """On Monday the coat ends at 16:00, and Tuesday 08:00 is 16 h later. A Saturday is closed."""
    outcome = apply(refit, "later")
    assert (outcome["trouble"], outcome["problems"]) == ([], {})
    found = dates(refit)
    assert found == {"C1": MONDAY, "C2": TUESDAY}
    assert Plan.objects.current(refit).shortfalls == []  # type: ignore[union-attr]
    booking = Booking.objects.get()
    assert (booking.kind, booking.at, booking.agreed_with) == ("not before", MONDAY, "")


def test_abrading_in_between_takes_the_wait_off(refit: Refit) -> None:
    """Monday: abrading from 08:00 for less than an hour, then eight hours in one go by 17:00.

    It would also fit on Friday after 16:00, but then the keyed surface lies over the weekend.
    """
    outcome = apply(refit, "between")
    assert (outcome["trouble"], outcome["problems"]) == ([], {})
    new = WorkPackage.objects.exclude(code__in=["C1", "C2"]).get()
    named = remedy_after(processes_of(refit)["spray-coating"], "prime")
    assert named is not None
    assert new.title == named[1].name == "Abrade before recoat"
    assert new.vendor == refit.vendors.get()
    assert cautions()["dust"].text in new.cautions
    assert [(use.piece.tag, use.effect) for use in new.piece_uses.all()] == [
        ("ST-90", PieceEffect.NEEDS)
    ]
    # Two square metres: 30 min to set up and 13.125 min for each, by the process.
    assert new.likely_minutes == pytest.approx(56.25, abs=1)
    links = {
        (link.before.code, link.after.code): link.max_lag_minutes
        for link in Dependency.objects.all()
    }
    assert links == {("C1", "C2"): None, ("C1", new.code): None, (new.code, "C2"): 24 * 60}
    assert dates(refit) == {
        "C1": FRIDAY,
        new.code: MONDAY,
        "C2": MONDAY + timedelta(minutes=new.likely_minutes),
    }
    assert Plan.objects.current(refit).shortfalls == []  # type: ignore[union-attr]


def test_taking_the_wait_off_can_be_undone(refit: Refit) -> None:
    apply(refit, "between")
    entry = JournalEntry.objects.filter(subject_kind="dependency", verb="changed").get()
    undo_entry(entry=entry, actor=A_MANAGER, now=NOW)
    assert Dependency.objects.get(before__code="C1", after__code="C2").max_lag_minutes == 24 * 60


def test_what_has_begun_cannot_start_later(refit: Refit) -> None:
    window = missed_window(refit, "C1", "C2")
    window.before.started_at = FRIDAY
    with pytest.raises(NoRemedy, match="has begun already"):
        start_later(refit, window, NOW)


def test_a_wait_no_start_can_keep_says_so(refit: Refit) -> None:
    """Two times eight hours, each in one go, never fit into a day of nine with an hour between."""
    Dependency.objects.update(max_lag_minutes=60)
    WorkPackage.objects.update(unbroken=True)
    refit.version += 1
    refit.save()
    plan_of(refit)
    with pytest.raises(NoRemedy, match="No later start of C1 Coat was found"):
        start_later(refit, missed_window(refit, "C1", "C2"), NOW)


def test_without_a_process_the_library_still_names_the_step(refit: Refit) -> None:
    WorkPackage.objects.update(process="", step="", quantity=None, unit="")
    change = make_ready_again(refit, missed_window(refit, "C1", "C2"))
    assert change["facts"]["process"] == "abrade-before-recoat"
    assert "bond" in change["reason_before"]


def test_a_wait_that_is_kept_offers_nothing(refit: Refit) -> None:
    with pytest.raises(NoRemedy, match="kept by now"):
        missed_window(refit, "C2", "C1")

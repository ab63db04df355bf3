"""Work that cannot pause, planned; reckoned by hand. Monday is 2 November 2026, in Lisbon."""

from __future__ import annotations

import pytest

from refit.planning.solve import NoPlan

from .documents import a_document, crew, dates, days_off, package, solved, wait


def test_work_in_one_go_waits_for_a_day_that_is_long_enough() -> None:
    # The shed is open 08:00 to 17:00. A takes five hours from Monday 08:00, until 13:00; four
    # hours are left, so B, of five hours in one go, begins on Tuesday; C, which may pause, does
    # its first four hours on Monday.
    rows = (package("A", 300), package("B", 300, unbroken=True), package("C", 300))
    plan = solved(a_document(*rows, dependencies=[wait("A", "B"), wait("A", "C")]))
    assert dates(plan, "B") == ("Tue 03 Nov 08:00", "Tue 03 Nov 13:00")
    assert dates(plan, "C") == ("Mon 02 Nov 13:00", "Tue 03 Nov 09:00")
    assert plan.answers["B"].cause == (
        "waits for A Job A: it ends Mon 2 Nov 13:00, and 5 h in one go fit there from Tue 3 Nov"
        " 08:00 on (one is under the other)"
    )


def test_work_in_one_go_that_no_day_is_long_enough_for_is_refused_with_its_name() -> None:
    with pytest.raises(NoPlan) as refused:
        solved(a_document(package("A", 600, unbroken=True)))
    assert refused.value.codes == ["A"]
    assert str(refused.value) == (
        "A Job A takes 10 h in one go, but Shed is never open longer than 9 h at a stretch; let"
        " the work be interrupted, shorten it, or add opening hours."
    )
    begun = package("A", 600, unbroken=True, started_at="2026-11-02T08:00:00Z")
    assert dates(solved(a_document(begun)), "A")[1] == "Tue 03 Nov 09:00"


def test_days_on_which_somebody_named_is_away_cut_the_stretch() -> None:
    # Odd is away on Monday: in one go his three hours fit on Tuesday at the earliest.
    odd = crew("Odd", days_off("2026-11-02"))
    plan = solved(a_document(package("A", 180, unbroken=True, people=["Odd"]), crew=[odd]))
    assert dates(plan, "A") == ("Tue 03 Nov 08:00", "Tue 03 Nov 11:00")
    assert plan.answers["A"].cause == (
        "nothing holds it: 3 h in one go fit there from Tue 3 Nov 08:00 on"
    )

"""A process applied: packages, waits, one entry that takes it all back."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from refit.quality.models import Criterion
from refit.quality.services import apply_acceptance
from refit.work.models import Dependency, Refit
from refit.work.processes import library
from refit.work.services import (
    Application,
    Applied,
    Refused,
    apply_process,
    free_codes,
    take_back_application,
)
from tests.builders import A_MANAGER, NOW, a_package, a_piece, a_place, a_refit, a_vendor

pytestmark = pytest.mark.django_db


def applied(refit: Refit, key: str, *, skip: tuple[str, ...] = (), **more: object) -> Applied:
    process = library()[key]
    steps = [step.key for step in process.steps if step.key not in skip]
    chosen = Application(
        process=process,
        codes=free_codes(refit, key[:2].upper(), steps),
        place=refit.places.first() or a_place(refit),
        **more,  # type: ignore[arg-type]
    )
    return apply_process(refit=refit, chosen=chosen, actor=A_MANAGER, now=NOW)


def test_steps_become_packages_with_their_waits_reasons_and_windows() -> None:
    refit = a_refit()
    made = applied(refit, "bottom-paint", quantity=Decimal("16.05"))
    codes = [package.code for package in made.packages]
    assert codes == ["BO1", "BO2", "BO3", "BO4"]
    prime, antifouling = made.packages[1], made.packages[2]
    assert prime.hold_minutes == 180
    assert (prime.process, prime.step, prime.unit) == ("bottom-paint", "prime", "m2")
    # 16.05 m2 at the rate at which 16 m2 take 8 h.
    assert prime.likely_minutes == round(480 * 16.05 / 16)
    assert "respirator" in prime.cautions
    link = Dependency.objects.get(before=prime, after=antifouling)
    # At most 6 h from the end of the work, of which the hold takes 3.
    assert link.max_lag_minutes == 180
    assert "window" in link.reason


def test_what_comes_first_of_other_processes_is_linked_both_ways() -> None:
    refit = a_refit()
    frame = a_piece(refit)
    coat = applied(refit, "spray-coating", pieces=[frame]).packages
    weld = applied(refit, "frame-welding", pieces=[frame]).packages
    cover = applied(refit, "canvas", pieces=[frame]).packages
    assert Dependency.objects.filter(before=weld[-1], after=coat[0]).exists()
    assert Dependency.objects.filter(before=coat[-1], after=cover[0]).exists()


def test_other_pieces_are_left_alone() -> None:
    refit = a_refit()
    coat = applied(refit, "spray-coating", pieces=[a_piece(refit)]).packages
    weld = applied(refit, "frame-welding", pieces=[a_piece(refit)]).packages
    assert not Dependency.objects.filter(before=weld[-1], after=coat[0]).exists()


def test_a_step_left_out_hands_its_wait_on_without_the_window() -> None:
    refit = a_refit()
    made = applied(refit, "bottom-paint", skip=("prime",), quantity=Decimal(16))
    link = Dependency.objects.get(after=made.packages[1])
    assert link.before == made.packages[0]
    assert link.max_lag_minutes is None


def test_codes_that_are_taken_are_passed_over() -> None:
    refit = a_refit()
    a_package(refit, code="ca2")
    assert [p.code for p in applied(refit, "canvas").packages] == ["CA1", "CA3", "CA4"]


def test_one_entry_takes_it_all_back_until_one_has_begun() -> None:
    refit = a_refit()
    other = a_package(refit)
    made = applied(refit, "canvas")
    version = refit.version
    entry = take_back_application(entry=made.entry, actor=A_MANAGER, now=NOW)
    assert list(refit.packages.all()) == [other]
    assert set(entry.before["packages"]) == {"CA1", "CA2", "CA3"}
    entry.refit.refresh_from_db()
    assert entry.refit.version == version + 1
    again = applied(refit, "canvas")
    again.packages[0].started_at = NOW
    again.packages[0].save()
    with pytest.raises(Refused, match="CA1 has begun"):
        take_back_application(entry=again.entry, actor=A_MANAGER, now=NOW)
    assert refit.packages.count() == 4


def test_nothing_is_stored_when_a_package_cannot_be() -> None:
    refit = a_refit()
    a_place(refit, vendor=a_vendor(refit))
    with pytest.raises(ValidationError, match="belongs to another vendor"):
        applied(refit, "canvas", vendor=a_vendor(refit))
    assert refit.packages.count() == 0


def test_acceptance_that_can_be_computed_comes_along() -> None:
    refit = a_refit()
    made = applied(refit, "gelcoat-refinish", quantity=Decimal(18))
    apply_acceptance(process=library()["gelcoat-refinish"], packages=made.packages)
    [gloss] = Criterion.objects.filter(package__in=made.packages)
    assert (gloss.method, gloss.geometry, gloss.low) == ("gloss", "60", Decimal(80))
    assert gloss.stations == 3

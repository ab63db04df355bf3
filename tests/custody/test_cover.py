"""Whether a keeper's papers last as long as it keeps a piece."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refit.custody.cover import Stay, _first_bare_day, gaps, say_missing, stays
from refit.custody.models import Handoff
from refit.work.models import Paper, PaperKind
from tests.builders import NOW, a_handoff, a_piece, a_place, a_refit, a_vendor
from tests.custody.scene import Scene, a_scene

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 25)


def in_days(number: int) -> date:
    return TODAY + timedelta(days=number)


def a_paper(scene: Scene, first: int | None, last: int | None, **fields: object) -> Paper:
    fields.setdefault("kind", PaperKind.CUSTOMERS_PROPERTY)
    fields.setdefault("vendor", scene.vendor)
    return Paper.objects.create(
        refit=scene.refit,
        valid_from=None if first is None else in_days(first),
        valid_until=None if last is None else in_days(last),
        **fields,
    )


def said(scene: Scene) -> list[str]:
    open_ones = Handoff.objects.open().filter(refit=scene.refit).with_names()
    kept = stays(open_ones, refit=scene.refit, today=TODAY)
    return [gap.sentence for gap in gaps(kept, Paper.objects.all(), today=TODAY)]


def test_a_cover_that_lasts_until_the_very_day_is_enough() -> None:
    scene = a_scene()  # due back in two days
    a_paper(scene, -10, 2)
    assert said(scene) == []


def test_a_cover_that_ends_the_day_before_is_told_with_both_days() -> None:
    scene = a_scene()
    a_paper(scene, -10, 1)
    assert said(scene) == [
        "The cover for customers' property of Eiderholm Coatings ends on Thu 26 Nov, before "
        "Top frame is due back on Fri 27 Nov."
    ]


def test_a_promise_of_a_later_day_asks_for_a_longer_cover() -> None:
    scene = a_scene(promised_at=NOW + timedelta(days=9))
    a_paper(scene, -10, 5)
    assert "ends on Mon 30 Nov, before Top frame is due back on Fri 4 Dec" in said(scene)[0]


def test_a_renewal_that_follows_at_once_closes_the_gap_and_one_a_day_later_does_not() -> None:
    scene = a_scene(promised_at=NOW + timedelta(days=9))
    a_paper(scene, -10, 5, number="old")
    renewed = a_paper(scene, 6, 371, number="new")
    assert said(scene) == []
    renewed.valid_from = in_days(7)
    renewed.save()
    assert "ends on Mon 30 Nov" in said(scene)[0]


def test_a_cover_that_is_over_or_not_yet_begun_is_told_while_the_piece_stands_there() -> None:
    scene = a_scene()
    ended = a_paper(scene, -30, -3)
    assert said(scene) == [
        "The cover for customers' property of Eiderholm Coatings ended on Sun 22 Nov, and it has "
        "Top frame."
    ]
    ended.delete()
    a_paper(scene, 1, 300, kind=PaperKind.LIABILITY)
    assert said(scene) == [
        "The liability insurance of Eiderholm Coatings begins only on Thu 26 Nov, and it has "
        "Top frame."
    ]


def test_a_vendor_of_whom_nothing_is_noted_is_no_gap_but_is_said() -> None:
    scene = a_scene()
    stay = Stay(scene.vendor, scene.frame, TODAY, None, True)
    assert said(scene) == []
    assert say_missing(stay, []) == "No insurance of Eiderholm Coatings is noted."
    liability = a_paper(scene, None, None, kind=PaperKind.LIABILITY)
    assert say_missing(stay, [liability]) == (
        "No cover for customers' property of Eiderholm Coatings is noted."
    )
    bailee = a_paper(scene, None, None)
    assert say_missing(stay, [liability, bailee]) == ""


def test_papers_of_other_kinds_and_vendors_do_not_count() -> None:
    scene = a_scene()
    a_paper(scene, -30, -3, kind=PaperKind.WORKERS)
    a_paper(scene, -30, -3, vendor=a_vendor(scene.refit))
    assert said(scene) == []


def test_a_piece_that_is_to_go_there_is_asked_about_for_the_days_of_its_stay() -> None:
    refit = a_refit()
    vendor = a_vendor(refit, name="Loft")
    home, loft = a_place(refit), a_place(refit, vendor=vendor)
    piece = a_piece(refit, name="Cushions", place=home)
    comes = NOW + timedelta(days=10)
    a_handoff(piece, home, loft, depart_at=comes, arrive_at=comes)
    a_handoff(piece, loft, home, depart_at=NOW + timedelta(days=20))
    [stay] = stays(Handoff.objects.with_names(), refit=refit, today=TODAY)
    assert (stay.begins, stay.until, stay.is_there) == (in_days(10), in_days(20), False)
    ends = Paper.objects.create(
        refit=refit, vendor=vendor, kind="liability", valid_until=in_days(15)
    )
    [gap] = gaps([stay], [ends], today=TODAY)
    assert gap.sentence == (
        "The liability insurance of Loft ends on Thu 10 Dec, before Cushions is due back on "
        "Tue 15 Dec."
    )
    assert not gap.is_over


def test_pieces_with_the_same_gap_are_told_in_one_sentence() -> None:
    scene = a_scene()
    other = a_piece(scene.refit, name="Bow rail", place=scene.shop)
    a_handoff(other, scene.shop, scene.home, due_at=scene.handoff.due_at)
    a_paper(scene, -10, 1)
    [sentence] = said(scene)
    assert sentence.endswith("before Top frame and Bow rail are due back on Fri 27 Nov.")


@given(
    spans=st.lists(st.tuples(st.integers(-5, 20), st.integers(-5, 20)), max_size=5),
    first=st.integers(0, 10),
    length=st.integers(0, 10),
)
def test_the_first_bare_day_is_found_as_by_asking_each_day(
    spans: list[tuple[int, int]], first: int, length: int
) -> None:
    papers = [
        Paper(valid_from=in_days(min(span)), valid_until=in_days(max(span))) for span in spans
    ]
    days = [in_days(first + number) for number in range(length + 1)]
    bare = next((d for d in days if not any(paper.holds_on(d) for paper in papers)), None)
    assert _first_bare_day(papers, days[0], days[-1]) == bare

"""What runs out, must be ordered or waits for the owner. `NOW` is Wednesday 25 November 2026."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from refit.contracts.models import ChangeOrder, Goods, Inquiry, Quote
from refit.notices.models import NoticeKind, Side
from refit.notices.things import Thing
from refit.planning.models import PlannedPackage
from refit.work.models import Paper, PaperKind
from tests.builders import NOW, a_link, a_package

from .scene import Scene, a_scene

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
TODAY = date(2026, 11, 25)


def of(scene: Scene, kind: NoticeKind, days: int = 0) -> list[Thing]:
    return [thing for thing in scene.things(NOW + days * DAY) if thing.kind == kind]


def a_cover(scene: Scene, until: date) -> Paper:
    return Paper.objects.create(
        refit=scene.refit, vendor=scene.vendor, kind=PaperKind.LIABILITY, valid_until=until
    )


def test_both_hear_when_a_cover_ends_before_our_piece_comes_back() -> None:
    scene = a_scene()
    scene.handoff(NOW + 20 * DAY)
    a_cover(scene, TODAY + 10 * DAY)
    things = of(scene, NoticeKind.PAPERS)
    assert {thing.person.side for thing in things} == {Side.MANAGER, Side.VENDOR}
    vendor = next(thing for thing in things if thing.person.side == Side.VENDOR)
    assert vendor.sentence == (
        "Your liability insurance, as it was shown to us, ends on Sat 5 Dec, and it is about"
        " Windshield frame. Please send us the new paper."
    )
    keys = [{thing.key for thing in of(scene, NoticeKind.PAPERS, days)} for days in range(12)]
    assert len(set().union(*keys)) == 2 * 5, "14, 7, 3 days before, one, and once it is over"


def test_a_cover_that_lasts_or_ends_far_ahead_is_no_matter() -> None:
    scene = a_scene()
    scene.handoff(NOW + 20 * DAY)
    paper = a_cover(scene, TODAY + 20 * DAY)
    assert of(scene, NoticeKind.PAPERS) == []
    paper.valid_until = TODAY + 18 * DAY
    paper.save()
    assert of(scene, NoticeKind.PAPERS) == []
    assert of(scene, NoticeKind.PAPERS, 4)


def test_the_manager_hears_three_times_that_a_quote_runs_out() -> None:
    scene = a_scene()
    inquiry = Inquiry.objects.create(refit=scene.refit, code="Q1", title="Polish", asked_at=NOW)
    quote = Quote.objects.create(
        inquiry=inquiry, vendor=scene.vendor, state="answered", price=980, asked_at=NOW,
        valid_until=TODAY + 9 * DAY,
    )  # fmt: skip
    assert of(scene, NoticeKind.QUOTE) == []
    keys = [{thing.key for thing in of(scene, NoticeKind.QUOTE, days)} for days in range(12)]
    assert len(set().union(*keys)) == 3
    [thing] = of(scene, NoticeKind.QUOTE, 3)
    assert "holds to its quote for Q1 Polish until Fri 4 Dec" in thing.sentence
    Quote.objects.filter(pk=quote.pk).update(state="declined")
    assert of(scene, NoticeKind.QUOTE, 3) == []


def test_goods_are_to_be_ordered_in_time_and_it_is_said_when_they_were_not() -> None:
    scene = a_scene()
    package = a_package(scene.refit, code="W1", title="Windows")
    PlannedPackage.objects.create(
        plan=scene.plan(NOW + 60 * DAY), package=package,
        start=NOW + 30 * DAY, work_finish=NOW + 31 * DAY, finish=NOW + 31 * DAY,
    )  # fmt: skip
    goods = Goods.objects.create(
        refit=scene.refit, code="G1", title="Panes", package=package, lead_days=20,
        supplier="Pane maker",
    )  # fmt: skip
    last = 30 - 20 - scene.refit.goods_margin_days
    assert of(scene, NoticeKind.ORDER_BY, last - 8) == []
    [before] = of(scene, NoticeKind.ORDER_BY, last - 3)
    assert before.sentence.startswith("G1 Panes must be ordered by ")
    [after] = of(scene, NoticeKind.ORDER_BY, last + 2)
    assert after.sentence.startswith("G1 Panes should have been ordered by ")
    assert "Pane maker supplies it." in after.sentence
    goods.ordered_on = TODAY
    goods.save()
    assert of(scene, NoticeKind.ORDER_BY, last + 2) == []


def test_the_owner_is_asked_at_once_and_again_and_the_manager_knows() -> None:
    scene = a_scene()
    scene.refit.owner_name, scene.refit.owner_email = "Tamsin Hale", "owner@refit.example"
    scene.refit.save()
    a_link(scene.refit)
    change = ChangeOrder.objects.create(
        refit=scene.refit, code="CO1", title="Soft core", reason="It gives.", price=640,
        package=a_package(scene.refit), made_at=NOW, asked_at=NOW, state="asked",
    )  # fmt: skip
    things = of(scene, NoticeKind.CHANGE)
    assert {(thing.person.side, thing.urgent) for thing in things} == {
        (Side.MANAGER, False), (Side.OWNER, True),
    }  # fmt: skip
    owner = next(thing for thing in things if thing.person.side == Side.OWNER)
    assert owner.spot == f"change-{change.pk}"
    keys = [{thing.key for thing in of(scene, NoticeKind.CHANGE, days)} for days in range(11)]
    assert len(set().union(*keys)) == 2 * 3
    ChangeOrder.objects.filter(pk=change.pk).update(state="approved")
    assert of(scene, NoticeKind.CHANGE) == []

"""Pieces: the list by who has them, the page of one, adding and editing."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from refit.custody.models import Handoff, HandoffState
from refit.work.models import JournalEntry, Piece, Refit, Units
from tests.builders import a_package, a_piece, a_place, a_refit, a_vendor

from .people import as_sent, check_crew_may_not, check_only_members_post, errors_at, signed_in

pytestmark = pytest.mark.django_db


def _holders(refit: Refit) -> dict[str, list[Any]]:
    answer = signed_in(refit).get(reverse("desk:pieces", args=[refit.slug]))
    return {holder.title: holder.rows for holder in answer.context["holders"]}


def test_pieces_stand_under_whoever_has_them() -> None:
    refit = a_refit()
    loft = a_place(refit, name="Loft", vendor=a_vendor(refit, name="Canvas people"))
    shed = a_place(refit, name="Shed")
    a_piece(refit, name="Top", place=loft)
    a_piece(refit, name="Rail", place=shed)
    a_piece(refit, name="Cleat", fitted=True)
    a_piece(refit, name="Lost thing")
    road = a_piece(refit, name="Lid")
    Handoff.objects.create(
        refit=refit, piece=road, origin=loft, destination=shed, state=HandoffState.UNDER_WAY,
        sent_at=timezone.now(),
    )  # fmt: skip
    found = {title: [row.piece.name for row in rows] for title, rows in _holders(refit).items()}
    assert found == {
        "Loft": ["Top"],
        "On the road": ["Lid"],
        "Shed": ["Rail"],
        "On the boat": ["Cleat"],
        "Nobody has said where": ["Lost thing"],
    }
    assert next(iter(found)) == "Loft"


def test_a_piece_at_a_shop_says_when_it_is_due_back_and_whether_that_has_passed() -> None:
    refit = a_refit()
    loft = a_place(refit, name="Loft", vendor=a_vendor(refit))
    home = a_place(refit)
    now = timezone.now()
    for name, days in (("Late", -2), ("Soon", 1), ("Far", 20)):
        piece = a_piece(refit, name=name, place=loft)
        Handoff.objects.create(
            refit=refit, piece=piece, origin=loft, destination=home, due_at=now + timedelta(days)
        )
    states = {row.piece.name: row.state and row.state.word for row in _holders(refit)["Loft"]}
    assert states == {"Late": "overdue", "Soon": "due soon", "Far": None}
    Handoff.objects.update(promised_at=now + timedelta(days=30))
    assert {row.state for row in _holders(refit)["Loft"]} == {None}


def test_the_page_shows_the_chain_of_custody_and_what_is_done() -> None:
    refit = a_refit()
    home, loft = a_place(refit, name="Shed"), a_place(refit, name="Loft")
    piece = a_piece(refit, place=loft)
    package = a_package(refit, title="Sew", pieces=[piece])
    now = timezone.now()
    Handoff.objects.create(
        refit=refit, piece=piece, origin=home, destination=loft, state=HandoffState.RECEIVED,
        sent_at=now - timedelta(days=2), received_at=now - timedelta(days=2), sent_by="Runa",
        received_by="Odile", sent_condition="two tears", for_package=package,
    )  # fmt: skip
    url = reverse("desk:piece", args=[refit.slug, piece.pk])
    page = signed_in(refit).get(url).content.decode()
    for said in ("Shed → Loft", "two tears", "Odile", "Sew"):
        assert said in page


def _url(refit: Refit, act: str, *args: Any) -> str:
    return reverse(f"desk:piece-{act}", args=[refit.slug, *args])


def test_a_piece_is_added_with_measures_in_feet_and_pounds() -> None:
    refit = a_refit(units=Units.US)
    place = a_place(refit)
    data = {"tag": "ST-02", "name": "Top frame", "parts": "1", "place": place.pk,
            "length_m": "9.5", "weight_kg": "84"}  # fmt: skip
    answer = signed_in(refit).post(_url(refit, "add"), data)
    piece = Piece.objects.get()
    assert answer["Location"] == reverse("desk:piece", args=[refit.slug, piece.pk])
    # 9.5 ft x 0.3048 m = 2.8956 m; 84 lb x 0.45359237 kg = 38.10176 kg
    assert (piece.length_m, piece.weight_kg) == (Decimal("2.896"), Decimal("38.10"))
    assert piece.since is not None


def test_measures_that_nobody_touched_stay_as_they_are() -> None:
    refit = a_refit(units=Units.US)
    piece = a_piece(refit, length_m="2.899", weight_kg="38.13", place=a_place(refit))
    client = signed_in(refit)
    form = client.get(_url(refit, "edit", piece.pk)).context["form"]
    assert client.post(_url(refit, "edit", piece.pk), as_sent(form)).status_code == 302
    piece.refresh_from_db()
    assert (piece.length_m, piece.weight_kg) == (Decimal("2.899"), Decimal("38.13"))
    assert not JournalEntry.objects.exists()


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("tag", "", "required"),
        ("length_m", "long", "is not a number"),
        ("weight_kg", "-3", "not be less than 0"),
        ("length_m", "nan", "is not a number"),
        ("parts", "-1", "greater than or equal to 0"),
        ("place", "99999", "available choices"),
    ],
)
def test_a_wrong_value_is_named_at_its_field(field: str, value: str, said: str) -> None:
    refit = a_refit()
    data = {"tag": "ST-02", "name": "Top frame", "parts": "1"} | {field: value}
    assert said in errors_at(signed_in(refit).post(_url(refit, "add"), data), field)
    assert not Piece.objects.exists()


def test_a_tag_is_written_on_one_piece_and_there_is_one_boat() -> None:
    refit = a_refit()
    a_piece(refit, tag="ST-01", name="Sallow Tern", is_boat=True)
    client = signed_in(refit)
    data = {"tag": "ST-01", "name": "x", "parts": "1", "is_boat": "on", "fitted": "on"}
    answer = client.post(_url(refit, "add"), data)
    assert "is written on" in errors_at(answer, "tag")
    assert "is the boat already" in errors_at(answer, "is_boat")
    assert "cannot be on the boat" in errors_at(answer, "fitted")


def test_a_piece_put_elsewhere_by_hand_is_there_since_now() -> None:
    refit = a_refit()
    shed, loft = a_place(refit), a_place(refit)
    piece = a_piece(refit, place=shed, since=timezone.now() - timedelta(days=40))
    client = signed_in(refit)
    sent = as_sent(client.get(_url(refit, "edit", piece.pk)).context["form"])
    client.post(_url(refit, "edit", piece.pk), sent | {"place": loft.pk})
    piece.refresh_from_db()
    assert piece.place == loft
    assert piece.since is not None
    assert timezone.now() - piece.since < timedelta(minutes=2)


def test_a_piece_is_removed_after_a_question() -> None:
    refit = a_refit()
    piece = a_piece(refit)
    client = signed_in(refit)
    url = _url(refit, "remove", piece.pk)
    client.get(url)
    assert Piece.objects.exists()
    client.post(url)
    assert not Piece.objects.exists()
    assert client.post(url).status_code == 404


def test_only_managers_change_pieces_and_only_their_own() -> None:
    refit = a_refit()
    piece, foreign = a_piece(refit), a_piece(a_refit())
    for url in (_url(refit, "add"), _url(refit, "edit", piece.pk), _url(refit, "remove", piece.pk)):
        check_only_members_post(refit, url)
        check_crew_may_not(refit, url)
    client = signed_in(refit)
    assert client.get(reverse("desk:piece", args=[refit.slug, foreign.pk])).status_code == 404
    for act in ("edit", "remove"):
        assert client.post(_url(refit, act, foreign.pk)).status_code == 404
    assert Piece.objects.count() == 2

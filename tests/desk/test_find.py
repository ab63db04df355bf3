"""The search box finds what the refit has, and nothing of another refit."""

from __future__ import annotations

import pytest
from django.urls import reverse

from refit.accounts.models import Role
from refit.work.models import Refit
from tests.builders import a_crew_member, a_package, a_piece, a_place, a_refit, a_vendor

from .people import signed_in

pytestmark = pytest.mark.django_db


def _find(refit: Refit, typed: str, role: str = Role.MANAGER, **headers: str) -> str:
    address = reverse("desk:find", args=[refit.slug])
    answer = signed_in(refit, role).get(address, {"q": typed}, headers=headers or None)
    return str(answer["Location"]) if answer.status_code == 302 else answer.content.decode()


def test_each_kind_of_thing_is_found_by_part_of_its_words() -> None:
    refit = a_refit()
    vendor = a_vendor(refit, name="Scoter Coating Works", phone="555 0100")
    place = a_place(refit, vendor=vendor, name="Scoter booth")
    a_package(refit, place=place, vendor=vendor, code="F2", title="Frame: spray coat")
    a_piece(refit, place=place, tag="ST-02", name="Top frame")
    a_crew_member(refit, name="Mirre Askel")
    page = _find(refit, "scot")
    for name in ("F2 Frame: spray coat", "ST-02 Top frame", "Scoter Coating Works", "Scoter booth"):
        assert name in page, name
    assert "Mirre" not in page


def test_every_word_must_fit_but_anywhere() -> None:
    refit = a_refit()
    place = a_place(refit, name="Alder shed")
    a_package(refit, place=place, code="H1", title="Hull: wash")
    a_package(refit, place=place, code="H2", title="Hull: sand")
    a_package(refit, place=place, code="H3", title="Hull: sand again")
    page = _find(refit, "sand alder")
    assert "H2 Hull: sand" in page
    assert "H3 Hull: sand again" in page
    assert "H1" not in page


def test_the_only_hit_is_opened_at_once_but_not_while_typing() -> None:
    refit = a_refit()
    piece = a_piece(refit, tag="ST-09", name="Rub rail")
    assert _find(refit, "st-09") == reverse("desk:piece", args=[refit.slug, piece.pk])
    assert "Rub rail" in _find(refit, "st-09", **{"HX-Request": "true"})


def test_what_is_not_there_is_said_and_an_empty_box_says_what_can_be_found() -> None:
    refit = a_refit()
    assert "Nothing here has “zebra” in it" in _find(refit, "zebra")
    assert "Type a code" in _find(refit, "  ")


def test_many_hits_are_cut_and_counted() -> None:
    refit = a_refit()
    place = a_place(refit)
    for number in range(11):
        a_package(refit, place=place, code=f"Q{number}", title="Sand it")
    assert "And 3 more" in _find(refit, "sand")


def test_nothing_of_another_refit_is_found_and_a_reader_may_look() -> None:
    refit, other = a_refit(), a_refit()
    a_piece(other, tag="OT-1", name="Their mast step")
    assert "Nothing here" in _find(refit, "mast", Role.READER)

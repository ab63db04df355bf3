"""Rings of packages that wait for each other."""

from __future__ import annotations

import pytest

from refit.work.models import RelationChoice
from refit.work.rings import ring_closed_by, say_ring
from tests.builders import a_dependency, a_package, a_refit

pytestmark = pytest.mark.django_db


def test_a_chain_is_no_ring() -> None:
    refit = a_refit()
    a, b, c = (a_package(refit) for _ in range(3))
    a_dependency(a, b)
    assert ring_closed_by(before=b, after=c) == []
    assert ring_closed_by(before=a, after=c) == []


def test_the_ring_is_named_in_order() -> None:
    refit = a_refit()
    a, b, c, d = (a_package(refit, code=code, title=code * 2) for code in "ABCD")
    a_dependency(a, b)
    a_dependency(b, c)
    a_dependency(a, d)
    ring = ring_closed_by(before=c, after=a)
    assert ring == [a, b, c]
    assert "A AA → B BB → C CC → A AA" in say_ring(ring)


def test_the_shortest_of_two_rings_is_named() -> None:
    refit = a_refit()
    a, b, c = (a_package(refit) for _ in range(3))
    a_dependency(a, b)
    a_dependency(b, c)
    a_dependency(a, c)
    assert ring_closed_by(before=c, after=a) == [a, c]


def test_the_relation_makes_no_difference() -> None:
    refit = a_refit()
    a, b = a_package(refit), a_package(refit)
    a_dependency(a, b, relation=RelationChoice.START_TO_START)
    assert ring_closed_by(before=b, after=a) == [a, b]

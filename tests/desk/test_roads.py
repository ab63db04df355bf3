"""Road times: which pairs are listed, what is assumed, entering, changing, removing."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from refit.accounts.models import Role
from refit.planning.ledger_deeds import deeds_between
from refit.planning.services import replan
from refit.work.models import Distance, JournalEntry, Place, Refit
from tests.builders import a_package, a_piece, a_place, a_refit

from .people import as_sent, check_crew_may_not, check_only_members_post, errors_at, signed_in

pytestmark = pytest.mark.django_db


def _url(refit: Refit, name: str = "roads", *args: Any) -> str:
    return reverse(f"desk:{name}", args=[refit.slug, *args])


def _row(refit: Refit, origin: Place, destination: Place, **facts: Any) -> Distance:
    return Distance.objects.create(refit=refit, origin=origin, destination=destination, **facts)


@pytest.fixture
def refit() -> Refit:
    """A hatch at home is needed in the booth; the loft takes no part. 40 km/h, 10 min loading."""
    refit = a_refit(road_factor="1.5", road_speed_kmh=40, loading_minutes=10)
    home = a_place(refit, name="Alder shed", kind="home", latitude=0, longitude=0)
    booth = a_place(refit, name="Booth", latitude=0, longitude="0.1")
    a_place(refit, name="Loft")
    hatch = a_piece(refit, tag="H", name="Hatch", place=home, returns_to=home)
    a_package(refit, code="C1", title="Coat", place=booth, pieces=[hatch], minutes=60)
    assert replan(refit=refit, now=timezone.now()) is not None
    return refit


def _places() -> tuple[Place, Place, Place]:
    home, booth, loft = Place.objects.order_by("name")
    return home, booth, loft


def _pairs(refit: Refit, role: str = Role.MANAGER) -> list[tuple[str, str, str, int]]:
    pairs = signed_in(refit, role).get(_url(refit)).context["pairs"]
    return [(str(one.origin), str(one.destination), one.said, one.moves) for one in pairs]


def test_a_pair_with_moves_is_listed_with_what_the_coordinates_give(refit: Refit) -> None:
    # A tenth of a degree is 6371 * 2 * pi / 3600 = 11.119 km; * 1.5 = 16.679 km; at 40 km/h that
    # is 25.02 min, 26 when rounded up, and 10 for loading. There and back again: two moves.
    said = (
        "36 min door to door: 16.7 km by the coordinates (straight line × 1.5) at 40 km/h, and"
        " 10 min loading."
    )
    assert _pairs(refit) == [("Alder shed", "Booth", said, 2)]


def test_what_is_entered_is_said_and_what_is_not_known_is_called_a_guess(refit: Refit) -> None:
    home, booth, loft = _places()
    _row(refit, home, booth, kilometres="20.5")
    _row(refit, loft, booth, minutes=80, kilometres="30")
    said = [pair[2] for pair in _pairs(refit)]
    # 20.5 km at 40 km/h: 30.75 min, 31 when rounded up.
    assert said == [
        "41 min door to door: 20.5 km of road, as entered, at 40 km/h, and 10 min loading.",
        "1 h 30 min door to door: 1 h 20 min driving, as entered (30 km), and 10 min loading.",
    ]
    Distance.objects.all().delete()
    Place.objects.filter(pk=booth.pk).update(latitude=None, longitude=None)
    page = signed_in(refit).get(_url(refit))
    assert page.context["pairs"][0].said == (
        "1 h door to door, which is a guess: a place has no coordinates."
    )
    assert "1 of them is a guess." in page.content.decode()


def test_kilometres_are_miles_where_the_refit_wants_them(refit: Refit) -> None:
    Refit.objects.update(units="us")
    home, booth, _ = _places()
    url = _url(refit, "road", home.pk, booth.pk)
    client = signed_in(refit)
    client.post(url, {"kilometres": "10 mi", "minutes": ""})
    # 10 * 1.609344 km, kept to ten metres.
    assert str(Distance.objects.get().kilometres) == "16.09"
    assert "10 mi of road, as entered" in client.get(_url(refit)).context["pairs"][0].said


def test_an_entry_is_stored_with_a_journal_entry_and_moves_the_plan(refit: Refit) -> None:
    home, booth, _ = _places()
    before = refit.plans.get(state="current").packages.get().start
    now = timezone.now()
    answer = signed_in(refit).post(
        _url(refit, "road", home.pk, booth.pk), {"kilometres": "", "minutes": "3 h"}
    )
    assert answer.status_code == 302
    assert Distance.objects.get().minutes == 180
    entry = JournalEntry.objects.get(verb="added", subject_kind="distance")
    assert entry.subject_name == "Alder shed to Booth"
    assert refit.plans.get(state="current").packages.get().start > before
    # What moved the launch can be told from it.
    deed = next(d for d in deeds_between(refit, now, now + timedelta(minutes=1)))
    assert deed.spots == {("distances", "Alder shed > Booth")}


def test_an_entry_is_changed_in_its_place_and_taken_back_from_the_journal(refit: Refit) -> None:
    home, booth, _ = _places()
    _row(refit, home, booth, minutes=50)
    client = signed_in(refit)
    form = client.get(_url(refit)).context["pairs"][0].form
    assert form["minutes"].value() == "50 min"
    client.post(_url(refit, "road", home.pk, booth.pk), as_sent(form) | {"minutes": "70 min"})
    assert Distance.objects.get().minutes == 70
    entry = JournalEntry.objects.get(verb="changed", subject_kind="distance")
    assert "Driving time" in client.get(_url(refit, "journal")).content.decode()
    client.post(_url(refit, "undo", entry.pk))
    assert Distance.objects.get().minutes == 50


def test_two_people_at_one_road_do_not_overwrite_each_other(refit: Refit) -> None:
    home, booth, _ = _places()
    row = _row(refit, home, booth, minutes=50)
    client = signed_in(refit)
    sent = as_sent(client.get(_url(refit)).context["pairs"][0].form)
    Distance.objects.filter(pk=row.pk).update(minutes=55)
    answer = client.post(_url(refit, "road", home.pk, booth.pk), sent | {"minutes": "70 min"})
    assert "Somebody changed this" in answer.content.decode()
    assert Distance.objects.get().minutes == 55


def test_the_way_back_can_have_a_row_of_its_own(refit: Refit) -> None:
    home, booth, _ = _places()
    _row(refit, home, booth, minutes=50)
    client = signed_in(refit)
    page = client.get(_url(refit, "road", booth.pk, home.pk))
    assert [pair.is_open for pair in page.context["pairs"]] == [False, True]
    client.post(_url(refit, "road", booth.pk, home.pk), {"minutes": "20 min"})
    pairs = client.get(_url(refit)).context["pairs"]
    assert [(str(p.origin), p.way.minutes, p.one_way, p.moves) for p in pairs] == [
        ("Alder shed", 60, True, 1),
        ("Booth", 30, True, 1),
    ]


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("minutes", "", "Give the length of the road, the driving time, or both."),
        ("minutes", "50", "Write it with a unit"),
        ("minutes", "-2 h", "less than nothing"),
        ("kilometres", "far", "is not a number"),
        ("kilometres", "-1", "must not be less than 0"),
        ("kilometres", "1e9", "is not a number"),
        ("kilometres", "999999", "far too much"),
    ],
)
def test_a_wrong_value_is_named_at_its_field_in_its_row(
    refit: Refit, field: str, value: str, said: str
) -> None:
    home, booth, _ = _places()
    answer = signed_in(refit).post(_url(refit, "road", home.pk, booth.pk), {field: value})
    assert answer.status_code == 200
    pair = answer.context["pairs"][0]
    assert pair.is_open
    assert said in " ".join(pair.form.errors[field])
    assert not Distance.objects.exists()


def test_any_other_road_is_added_once(refit: Refit) -> None:
    _, booth, loft = _places()
    client = signed_in(refit)
    data = {"origin": loft.pk, "destination": booth.pk, "minutes": "25 min"}
    assert client.post(_url(refit, "road-add"), data).status_code == 302
    assert "in the list already" in errors_at(
        client.post(_url(refit, "road-add"), data), "destination"
    )
    same = client.post(_url(refit, "road-add"), data | {"destination": loft.pk})
    assert "not to the same" in errors_at(same, "destination")
    stranger = a_place(a_refit())
    wrong = client.post(_url(refit, "road-add"), data | {"origin": stranger.pk})
    assert errors_at(wrong, "origin")
    assert Distance.objects.count() == 1
    assert [pair[3] for pair in _pairs(refit)] == [2, 0]


def test_a_road_is_removed_after_a_question(refit: Refit) -> None:
    home, booth, _ = _places()
    row = _row(refit, home, booth, minutes=50)
    url = _url(refit, "road-remove", row.pk)
    client = signed_in(refit)
    assert "Remove Alder shed to Booth?" in client.get(url).content.decode()
    assert Distance.objects.exists()
    client.post(url)
    assert not Distance.objects.exists()
    assert "by the coordinates" in _pairs(refit)[0][2]


def test_readers_look_and_only_managers_change(refit: Refit) -> None:
    home, booth, _ = _places()
    row = _row(refit, home, booth, minutes=50)
    assert "Change it" not in signed_in(refit, Role.READER).get(_url(refit)).content.decode()
    for url in (
        _url(refit, "road", home.pk, booth.pk),
        _url(refit, "road-add"),
        _url(refit, "road-remove", row.pk),
    ):
        check_only_members_post(refit, url)
        check_crew_may_not(refit, url)


def test_a_road_to_the_same_place_or_to_one_of_another_refit_is_not_there(refit: Refit) -> None:
    home, _, _ = _places()
    other = a_place(a_refit())
    client = signed_in(refit)
    assert client.get(_url(refit, "road", home.pk, home.pk)).status_code == 404
    assert client.post(_url(refit, "road", home.pk, other.pk)).status_code == 404

"""Every address against every kind of person, looking and acting.

The addresses come from the URL table of Django, the expectations from `tests.access_table`: a new
address without a row there fails. Whoever is not let in learns nothing and changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests.access_table import NO_ACT, OUTSIDE, TABLE, Answer, Row
from tests.access_world import OTHERS_JOB, PEOPLE, Site, World, a_world
from tests.portal.stage import dump

pytestmark = pytest.mark.django_db


def names_of(resolver: URLResolver, space: str = "") -> Iterator[str]:
    """The full name of every address that the resolver knows; an address without one is "?"."""
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            yield from names_of(entry, f"{entry.namespace}:" if entry.namespace else space)
        else:
            assert isinstance(entry, URLPattern)
            yield f"{space}{entry.name or f'? at {entry.pattern}'}"


def test_every_address_has_a_row_and_every_row_an_address() -> None:
    declared = {name.partition(",")[0] for name in TABLE}
    assert declared == set(names_of(get_resolver()))


def address(name: str, row: Row, site: Site, of_rows: Site | None = None) -> str:
    """``of_rows``: whose rows the address names, if not the site's own."""
    own = (of_rows or site).rows
    name = name.partition(",")[0]
    kwargs: dict[str, Any] = {}
    for part, what in row.at.items():
        value = what[1:] if what.startswith("=") else own[what]
        kwargs[part] = (
            value
            if isinstance(value, str)
            else value.public_id
            if part == "public_id"
            else value.pk
        )
    if name.startswith("desk:") and name not in OUTSIDE:
        kwargs["slug"] = site.refit.slug
    return reverse(name, kwargs=kwargs)


def form_of(row: Row, site: Site) -> dict[str, Any]:
    return {
        name: site.rows[value.removeprefix("row:")].pk if value.startswith("row:") else value
        for name, value in row.sent.items()
    }


def body_of(answer: Any) -> str:
    content = b"".join(answer.streaming_content) if answer.streaming else answer.content
    text: str = content.decode("utf-8", "replace")
    return text


def answer_of(response: Any) -> Answer:
    match response.status_code:
        case 302 if "/account/sign-in?next=" in response["Location"]:
            return Answer.SIGN_IN
        case 200 | 204 | 302 | 503:  # 503 is how /health says that no worker runs in a test
            return Answer.GIVEN
        case 403:
            return Answer.REFUSED
        case 404 | 410:
            return Answer.UNKNOWN
        case 405:
            return Answer.NO_SUCH_ACT
        case status:
            raise AssertionError(f"answered {status}")


def ask(client: Client, method: str, path: str, sent: dict[str, Any], *, taken_back: bool) -> Any:
    """The answer, read to its end as ``shown``. ``taken_back``: what it wrote is undone."""
    cookies: Any = client.cookies.copy()
    with transaction.atomic():
        response: Any = client.get(path) if method == "GET" else client.post(path, sent)
        response.shown = body_of(response)
        transaction.set_rollback(taken_back)
    client.cookies = cookies
    return response


@pytest.mark.parametrize("name", TABLE)
def test_each_person_gets_what_is_theirs_and_who_is_not_let_in_changes_nothing(name: str) -> None:
    row, world = TABLE[name], a_world()
    path, sent = address(name, row, world.here), form_of(row, world.here)
    secrets = (world.here.refit.boat.name, world.here.refit.slug, OTHERS_JOB)
    found, expected = {}, {}
    before = dump()
    for person in PEOPLE:
        for method, rule in (("GET", row.get), ("POST", row.post)):
            taken_back = rule[person] is Answer.GIVEN
            response = ask(world.people[person], method, path, sent, taken_back=taken_back)
            found[person, method] = answer_of(response)
            expected[person, method] = rule[person]
            if found[person, method] in (Answer.UNKNOWN, Answer.SIGN_IN):
                for secret in secrets:
                    assert secret not in response.shown, (person, method, secret)
    assert found == expected
    assert dump() == before


WITH_ROWS = [
    name
    for name, row in TABLE.items()
    if name.startswith("desk:")
    and name.partition(",")[0] not in OUTSIDE
    and any(not what.startswith("=") for what in row.at.values())
]


@pytest.mark.parametrize("name", WITH_ROWS)
def test_a_row_of_another_refit_is_not_there_under_ones_own_address(name: str) -> None:
    row, world = TABLE[name], a_world()
    path = address(name, row, world.here, of_rows=world.there)
    before = dump()
    for method, rule in (("GET", row.get), ("POST", row.post)):
        if rule is NO_ACT:
            continue
        for person in ("manager", "crew"):
            client = world.people[person]
            response = client.get(path) if method == "GET" else client.post(path)
            expected = Answer.UNKNOWN if rule[person] is Answer.GIVEN else rule[person]
            assert answer_of(response) is expected, (person, method)
    assert dump() == before


@pytest.mark.parametrize("act", ["ready", "not-ready", "new-date", "arrived"])
@pytest.mark.parametrize("whose", ["other vendor", "other refit's vendor"])
def test_a_vendor_cannot_act_on_a_handoff_of_others_from_its_own_page(act: str, whose: str) -> None:
    world = a_world()
    site = world.here if whose == "other vendor" else world.there
    link = site.rows["other vendor link" if whose == "other vendor" else "vendor link"]
    handoff = world.here.rows["coming" if act == "arrived" else "handoff"]
    before = dump()
    response = world.people[whose].post(f"/p/{link.public_id}/handoff/{handoff.pk}/{act}")
    assert response.status_code == 404
    assert dump() == before


@pytest.mark.parametrize(("whose", "link"), [("vendor", "vendor link"), ("owner", "owner link")])
def test_private_pages_say_no_price_and_nothing_of_other_refits(whose: str, link: str) -> None:
    world = a_world()
    body = _page(world, whose, link)
    assert "Sallow Tern" in body
    for secret in ("7,319", "7319", "Grey Whimbrel"):
        assert secret not in body


def test_a_vendors_page_says_nothing_of_other_vendors() -> None:
    world = a_world()
    body = _page(world, "vendor", "vendor link")
    for secret in ("Tarn Canvas", OTHERS_JOB):
        assert secret not in body


def test_an_answer_to_the_member_of_another_refit_is_that_to_an_invented_address() -> None:
    world = a_world()
    stranger = world.people["other manager"]
    theirs = stranger.get(f"/r/{world.here.refit.slug}/")
    invented = stranger.get("/r/no-such-refit/")
    assert (theirs.status_code, body_of(theirs)) == (invented.status_code, body_of(invented))


@pytest.mark.parametrize("person", ["manager", "crew", "reader"])
def test_a_part_that_ended_ends_at_the_next_request(person: str) -> None:
    world = a_world()
    client = world.people[person]
    assert client.get(f"/r/{world.here.refit.slug}/").status_code == 200
    world.here.refit.memberships.all().delete()
    assert client.get(f"/r/{world.here.refit.slug}/").status_code == 404
    assert client.get(f"/pictures/{world.here.rows['picture'].pk}").status_code == 404


def _page(world: World, whose: str, link: str) -> str:
    return body_of(world.people[whose].get(f"/p/{world.here.rows[link].public_id}/"))

"""The what-if page: two steps, without scripts, for managers."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from refit.accounts.models import Role
from refit.planning.models import Plan, WhatIf
from refit.planning.services import replan
from refit.work.models import CrewMember, JournalEntry, Refit, WorkPackage
from refit.work.services import change_row
from tests.builders import (
    A_MANAGER,
    a_crew_member,
    a_dependency,
    a_package,
    a_piece,
    a_place,
    a_refit,
    a_vendor,
    a_zone,
)

from .people import (
    check_crew_may_not,
    check_get_changes_nothing,
    check_only_members_post,
    signed_in,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def refit() -> Refit:
    refit = a_refit()
    vendor = a_vendor(refit, name="Coater Hollin")
    booth = a_place(refit, name="Booth", vendor=vendor)
    shed = a_place(refit, name="Shed", kind="home")
    coat = a_package(refit, code="C1", title="Coat", place=booth, vendor=vendor, minutes=1080)
    fit = a_package(refit, code="F1", title="Fit", place=shed, minutes=540, is_launch=True)
    a_dependency(coat, fit)
    replan(refit=refit, now=timezone.now() - timedelta(minutes=2))
    return refit


def _url(name: str, refit: Refit, *args: Any) -> str:
    return reverse(f"desk:{name}", args=[refit.slug, *args])


def _try(client: Client, refit: Refit, kind: str, **data: Any) -> Any:
    return client.post(_url("whatif-try", refit, kind), data)


def _late(client: Client, refit: Refit, days: int = 5) -> Any:
    return _try(client, refit, "late", vendor=refit.vendors.get().pk, days=days)


def _pk(code: str) -> int:
    return WorkPackage.objects.get(code=code).pk


def test_a_late_vendor_is_tried_and_both_plans_stand_side_by_side(refit: Refit) -> None:
    client = signed_in(refit)
    plans = list(Plan.objects.values())
    assert _late(client, refit).status_code == 302
    answer = client.get(_url("whatif", refit))
    page = answer.content.decode()
    assert "Coater Hollin is 5 days late with what it has in hand" in page
    outcome = answer.context["outcome"]
    assert outcome["launch_moved"] == "5 working days later"
    assert outcome["launch_before"] in page
    assert outcome["launch_after"] in page
    assert "Apply this change" in page
    assert list(Plan.objects.values()) == plans
    assert not WorkPackage.objects.exclude(promised=None).exists()


def test_it_survives_a_reload_and_is_each_ones_own(refit: Refit) -> None:
    client = signed_in(refit)
    _late(client, refit)
    for _ in range(2):
        assert len(client.get(_url("whatif", refit)).context["changes"]) == 1
    assert signed_in(refit).get(_url("whatif", refit)).context["changes"] == []


def test_applying_writes_the_rows_and_plans_anew(refit: Refit) -> None:
    client = signed_in(refit)
    _late(client, refit)
    page = client.get(_url("whatif", refit))
    answer = client.post(_url("whatif-apply", refit), {"version": page.context["version"]})
    assert answer["Location"] == _url("today", refit)
    assert WorkPackage.objects.get(code="C1").promised is not None
    plan = Plan.objects.current(refit)
    refit.refresh_from_db()
    assert plan is not None
    assert plan.refit_version == refit.version
    assert "1 change applied. Launch moves from" in client.get(answer["Location"]).content.decode()
    assert not WhatIf.objects.exists()
    entry = JournalEntry.objects.latest("id")
    assert (entry.verb, list(entry.after)) == ("changed", ["promised"])


def test_applying_twice_applies_once(refit: Refit) -> None:
    client = signed_in(refit)
    _try(client, refit, "hire", name="Second hand")
    sent = {"version": client.get(_url("whatif", refit)).context["version"]}
    client.post(_url("whatif-apply", refit), sent)
    answer = client.post(_url("whatif-apply", refit), sent, follow=True)
    assert "Nothing is applied. There is nothing to apply." in answer.content.decode()
    assert CrewMember.objects.count() == 1


def test_what_changed_meanwhile_is_compared_anew_and_said(refit: Refit) -> None:
    client = signed_in(refit)
    _late(client, refit)
    old = client.get(_url("whatif", refit)).context["version"]
    row = WorkPackage.objects.get(code="F1")
    facts = {"likely_minutes": 1080, "high_minutes": 1080}
    change_row(refit=refit, row=row, facts=facts, actor=A_MANAGER, now=timezone.now())
    answer = client.post(_url("whatif-apply", refit), {"version": old}, follow=True)
    page = answer.content.decode()
    assert "Nothing is applied; the comparison" in page
    assert "The refit has changed since you last looked" in page
    assert answer.context["version"] > old
    assert WorkPackage.objects.get(code="C1").promised is None
    page = client.get(_url("whatif", refit)).content.decode()
    assert "The refit has changed since you last looked" not in page


def test_an_old_page_applies_nothing(refit: Refit) -> None:
    """Seen in one window, worked out anew in another: the first must not apply the second."""
    client = signed_in(refit)
    _late(client, refit)
    old = client.get(_url("whatif", refit)).context["version"]
    row = WorkPackage.objects.get(code="F1")
    change_row(refit=refit, row=row, facts={"title": "Fit it"}, actor=A_MANAGER, now=timezone.now())
    client.get(_url("whatif", refit))
    client.post(_url("whatif-apply", refit), {"version": old})
    assert WorkPackage.objects.get(code="C1").promised is None


def test_discarding_changes_nothing(refit: Refit) -> None:
    client = signed_in(refit)
    _late(client, refit)
    version = Refit.objects.get(pk=refit.pk).version
    answer = client.post(_url("whatif-discard", refit), follow=True)
    assert "Discarded. Nothing was changed." in answer.content.decode()
    assert not WhatIf.objects.exists()
    assert Refit.objects.get(pk=refit.pk).version == version


def test_one_change_is_taken_out(refit: Refit) -> None:
    client = signed_in(refit)
    _late(client, refit)
    _try(client, refit, "hire", name="Second hand")
    first = WhatIf.objects.get().changes[0]["id"]
    client.post(_url("whatif-take-out", refit), {"change": first})
    assert [change["kind"] for change in WhatIf.objects.get().changes] == ["hire"]


def test_every_form_makes_its_change(refit: Refit) -> None:
    client = signed_in(refit)
    a_crew_member(refit, name="Odd")
    a_package(refit, code="P1", title="Paint", place=refit.places.get(name="Shed"))
    shed, piece = refit.places.get(name="Shed").pk, a_piece(refit).pk
    sent: dict[str, dict[str, Any]] = {
        "late": {"vendor": refit.vendors.get().pk, "package": _pk("C1"), "days": 2},
        "add": {
            "code": "N1", "title": "New", "place": shed, "minutes": "1 d", "helpers": 1,
            "budget": "99.50", "after": [_pk("C1")], "before": [_pk("F1")], "pieces": [piece],
            "reason": "one under the other",
        },
        "work": {"package": _pk("F1"), "minutes": "3 d"},
        "drop": {"package": _pk("P1")},
        "shut": {"place": shed, "first": "2030-01-07", "last": "2030-01-08"},
        "hire": {"name": "Second hand"},
        "book": {"package": _pk("F1"), "booking": "not before", "at": "2030-01-07T08:00"},
        "deadline": {"package": _pk("F1"), "at": "2030-02-07T08:00", "reason": "crane"},
    }  # fmt: skip
    for kind, data in sent.items():
        assert _try(client, refit, kind, **data).status_code == 302, kind
    answer = client.get(_url("whatif", refit))
    assert [change["said"] for change, _ in answer.context["changes"]] == [
        "Coater Hollin is 2 days late with C1 Coat",
        "N1 New is added: 1 day at Shed",
        "F1 Fit takes 3 days, not 1 day 1 h",
        "P1 Paint is dropped",
        "Shed is shut Mon 7 Jan 2030 to Tue 8 Jan 2030",
        "Second hand joins our crew",
        "F1 Fit starts not before Mon 7 Jan 2030 08:00, as agreed",
        "F1 Fit must be finished by Thu 7 Feb 2030 08:00",
    ]
    assert [problem for _, problem in answer.context["changes"]] == [None] * 8
    version = answer.context["version"]
    page = client.post(_url("whatif-apply", refit), {"version": version}, follow=True)
    assert "8 changes applied" in page.content.decode()
    new = WorkPackage.objects.get(code="N1")
    assert (str(new.budget), new.helpers, new.likely_minutes) == ("99.50", 1, 480)
    assert [use.piece_id for use in new.piece_uses.all()] == [piece]
    assert not WorkPackage.objects.filter(code="P1").exists()


@pytest.mark.parametrize(
    ("kind", "data", "field", "sentence"),
    [
        ("late", {"days": 2}, "vendor", "required"),
        ("late", {"vendor": "x", "days": 0}, "days", "greater than or equal to 1"),
        ("add", {"code": "c1"}, "code", "is taken by “C1 Coat”"),
        ("work", {"minutes": "3"}, "minutes", "Write it with a unit"),
        ("work", {"minutes": "1 d", "package": 0}, "package", "Select a valid choice"),
        ("shut", {"first": "2030-01-08", "last": "2030-01-07"}, "last", "must not come before"),
        ("hire", {"name": " "}, "name", "required"),
        ("book", {"at": "soon", "booking": "starts"}, "at", "Give a date and time"),
        ("deadline", {"at": "soon"}, "at", "Give a date and time"),
    ],
)
def test_bad_input_comes_back_at_its_field(
    refit: Refit, kind: str, data: dict[str, Any], field: str, sentence: str
) -> None:
    answer = _try(signed_in(refit), refit, kind, **data)
    assert answer.status_code == 200
    [form] = [form for form in answer.context["forms"] if form.kind == kind]
    assert sentence in " ".join(form.errors[field])
    assert sentence in answer.content.decode()
    assert not WhatIf.objects.exists()


def test_a_package_cannot_come_before_and_after_the_same_one(refit: Refit) -> None:
    place = refit.places.get(name="Shed").pk
    answer = _try(
        signed_in(refit), refit, "add", code="N1", title="New", place=place, minutes="1 d",
        after=[_pk("C1")], before=[_pk("C1")],
    )  # fmt: skip
    [form] = [form for form in answer.context["forms"] if form.kind == "add"]
    assert "both after and before C1 Coat" in " ".join(form.errors["before"])
    assert "Say why" in " ".join(form.errors["reason"])


def test_a_vendor_is_late_only_with_its_own_package(refit: Refit) -> None:
    other = a_vendor(refit, name="Loft")
    answer = _try(signed_in(refit), refit, "late", vendor=other.pk, package=_pk("C1"), days=1)
    [form] = [form for form in answer.context["forms"] if form.kind == "late"]
    assert "is not done by this vendor" in " ".join(form.errors["package"])


def test_rows_of_another_refit_cannot_be_chosen(refit: Refit) -> None:
    other = a_refit()
    row = a_package(other, code="X1", place=a_place(other))
    client = signed_in(refit)
    assert _try(client, refit, "drop", package=row.pk).status_code == 200
    assert _try(client, refit, "shut", place=row.place_id, first="2030-01-08", last="2030-01-08")
    assert not WhatIf.objects.exists()


def test_a_kind_that_does_not_exist_is_not_found(refit: Refit) -> None:
    assert _try(signed_in(refit), refit, "magic").status_code == 404


def test_only_managers_have_a_sandbox(refit: Refit) -> None:
    for name, args in (
        ("whatif-try", ["hire"]),
        ("whatif-take-out", []),
        ("whatif-discard", []),
        ("whatif-apply", []),
    ):
        url = _url(name, refit, *args)
        check_only_members_post(refit, url, {"name": "x"})
        check_crew_may_not(refit, url, {"name": "x"})
        check_get_changes_nothing(refit, url)
    assert signed_in(refit, Role.READER).get(_url("whatif", refit)).status_code == 403
    assert not WhatIf.objects.exists()


def test_the_page_takes_fifteen_queries_at_most(refit: Refit) -> None:
    for _ in range(10):
        a_package(refit, place=refit.places.get(name="Shed"))
        a_piece(refit)
        a_zone(refit)
    replan(refit=refit, now=timezone.now())
    client = signed_in(refit)
    _late(client, refit)
    client.get(_url("whatif", refit))
    with CaptureQueriesContext(connection) as queries:
        assert client.get(_url("whatif", refit)).context["outcome"]
    assert len(queries) <= 15

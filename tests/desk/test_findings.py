"""Findings: noted, edited, decided."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from refit.accounts.models import Role
from refit.quality.models import Decision, Finding
from refit.work.models import Refit
from tests.builders import a_package, a_piece, a_refit

from .people import (
    as_sent,
    check_crew_may_not,
    check_get_changes_nothing,
    check_only_members_post,
    errors_at,
    signed_in,
)

pytestmark = pytest.mark.django_db
DATA = {"code": "N1", "title": "Soft core", "severity": "repair", "found_at": "2026-11-20T10:00"}


def _url(refit: Refit, name: str, *args: Any) -> str:
    return reverse(f"desk:finding{name}", args=[refit.slug, *args])


def _finding(refit: Refit, **fields: Any) -> Finding:
    return Finding.objects.create(
        refit=refit, code="N1", title="Soft core", found_at=timezone.now(), **fields
    )


def test_the_crew_notes_a_finding() -> None:
    refit = a_refit()
    piece, package = a_piece(refit), a_package(refit)
    data = DATA | {"piece": piece.pk, "found_in": package.pk, "work_minutes": "3 d", "price": "640"}
    answer = signed_in(refit, Role.CREW).post(_url(refit, "-add"), data)
    finding = Finding.objects.get()
    assert answer["Location"] == _url(refit, "", finding.pk)
    assert (finding.piece, finding.found_in, finding.work_minutes) == (piece, package, 1440)
    assert finding.decision == Decision.WAITING


def test_from_the_page_of_a_package_the_package_is_filled_in() -> None:
    refit = a_refit()
    package = a_package(refit)
    form = signed_in(refit).get(_url(refit, "-add"), {"found_in": package.pk}).context["form"]
    assert str(form["found_in"].value()) == str(package.pk)


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("title", "", "required"),
        ("severity", "bad", "available choices"),
        ("found_at", "", "required"),
        ("work_minutes", "3", "unit"),
        ("price", "-1", "greater than or equal to 0"),
    ],
)
def test_a_wrong_value_is_named_at_its_field(field: str, value: str, said: str) -> None:
    refit = a_refit()
    answer = signed_in(refit).post(_url(refit, "-add"), DATA | {field: value})
    assert said in errors_at(answer, field)
    assert not Finding.objects.exists()


def test_a_finding_is_edited() -> None:
    refit = a_refit()
    finding = _finding(refit)
    client = signed_in(refit)
    sent = as_sent(client.get(_url(refit, "-edit", finding.pk)).context["form"])
    client.post(_url(refit, "-edit", finding.pk), sent | {"title": "Wet core"})
    finding.refresh_from_db()
    assert finding.title == "Wet core"


def test_fix_now_leads_to_a_package_made_of_it() -> None:
    refit = a_refit()
    finding = _finding(refit)
    answer = signed_in(refit).post(
        _url(refit, "-decide", finding.pk), {"decision": "fix now", "note": "before the lid"}
    )
    add = reverse("desk:package-add", args=[refit.slug])
    assert answer["Location"] == f"{add}?finding={finding.pk}"
    finding.refresh_from_db()
    assert (finding.decision, finding.note) == (Decision.FIX_NOW, "before the lid")


def test_a_finding_is_decided_once() -> None:
    refit = a_refit()
    finding = _finding(refit)
    client = signed_in(refit)
    client.post(_url(refit, "-decide", finding.pk), {"decision": "leave"})
    answer = client.post(_url(refit, "-decide", finding.pk), {"decision": "watch"}, follow=True)
    assert "was decided already" in answer.content.decode()
    finding.refresh_from_db()
    assert finding.decision == Decision.LEAVE


def test_a_decision_nobody_knows_is_named_at_its_field() -> None:
    refit = a_refit()
    finding = _finding(refit)
    client = signed_in(refit)
    for word in ("", "waiting", "burn it"):
        answer = client.post(_url(refit, "-decide", finding.pk), {"decision": word})
        assert errors_at(answer, "decision")
    finding.refresh_from_db()
    assert finding.decision == Decision.WAITING


def test_the_list_parts_what_waits_from_what_is_decided() -> None:
    refit = a_refit()
    finding = _finding(refit)
    client = signed_in(refit)
    url = reverse("desk:findings", args=[refit.slug])
    assert client.get(url).context["waiting"] == [finding]
    Finding.objects.update(decision=Decision.LEAVE)
    assert client.get(url).context["waiting"] == []
    assert client.get(url).context["settled"] == [finding]


def test_who_may_do_what() -> None:
    refit = a_refit()
    finding = _finding(refit)
    check_only_members_post(refit, _url(refit, "-add"), DATA)
    for act in ("-edit", "-decide"):
        check_only_members_post(refit, _url(refit, act, finding.pk))
        check_crew_may_not(refit, _url(refit, act, finding.pk))
    check_get_changes_nothing(refit, _url(refit, "-decide", finding.pk))
    foreign = _finding(a_refit())
    client = signed_in(refit)
    assert client.get(_url(refit, "", foreign.pk)).status_code == 404
    assert client.post(_url(refit, "-decide", foreign.pk)).status_code == 404
    assert Finding.objects.count() == 2

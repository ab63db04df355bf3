"""`manage.py plan`: a document in, a plan out, no database anywhere."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from refit.demo.scenario import demo_document
from refit.interchange.document import RefitDocument, write_document
from refit.planning.build import build_problem
from refit.scheduling.breaches import Rule
from refit.scheduling.check import check
from refit.scheduling.problem import Plan, Planned

from .documents import a_document, distance, package, piece, place, wait

Run = Callable[..., str]


@pytest.fixture
def document() -> RefitDocument:
    return a_document(
        package("A", 540, hold_minutes=60, needs=("F",)),
        package("B", 60, at="Booth", needs=("F",), is_launch=True),
        places=[place("Shed"), place("Booth")],
        distances=[distance("Shed", "Booth", 30)],
        pieces=[piece("F", "Shed")],
        dependencies=[wait("A", "B")],
    )


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run the command on a document (or text) and return what it printed."""

    def run(document: RefitDocument | str, *options: str) -> str:
        file = tmp_path / "refit.json"
        file.write_text(document if isinstance(document, str) else write_document(document))
        call_command("plan", str(file), *options)
        return capsys.readouterr().out

    return run


def test_the_json_has_every_date_in_utc(run: Run, document: RefitDocument) -> None:
    # Without an offset --now is local: 08:00 in Lisbon, in winter 08:00 UTC.
    plan = json.loads(run(document, "--json", "--now", "2026-11-02T08:00"))
    assert (plan["format"], plan["version"], plan["breaches"]) == ("refit-plan", 1, [])
    first, second = plan["packages"]
    assert first["start"] == "2026-11-02T08:00:00+00:00"
    assert first["work_finish"] == "2026-11-02T17:00:00+00:00"
    assert first["finish"] == "2026-11-02T18:00:00+00:00"
    assert second["start"] == "2026-11-03T08:30:00+00:00"
    assert plan["launch"] == {
        "package": "B",
        "finish": "2026-11-03T09:30:00+00:00",
        "wanted": None,
        "driving": ["A", "B"],
        "because": "A Job A is next: it can start now",
    }
    [move] = plan["moves"]
    assert (move["depart"], move["arrive"]) == (
        "2026-11-03T08:00:00+00:00",
        "2026-11-03T08:30:00+00:00",
    )


def test_a_table_is_printed_without_being_asked_for(run: Run, document: RefitDocument) -> None:
    text = run(document, "--now", "2026-11-02T08:00Z")
    assert text == run(document, "--table", "--now", "2026-11-02T08:00Z")
    assert "Launch Tue 3 Nov 09:30" in text
    assert "* Tue 3 Nov 08:30 to Tue 3 Nov 09:30  B Job B  may not slip" in text
    assert "Piece F (F), Shed to Booth, for B Job B; leaves by Tue 3 Nov 08:00" in text
    assert text.endswith("The check of this plan found nothing wrong.\n")


def test_the_demo_is_planned_whole_and_its_plan_is_true(run: Run) -> None:
    now = datetime.fromisoformat("2026-11-25T13:00+00:00")
    document = demo_document(now)
    plan = json.loads(run(document, "--json", "--now", now.isoformat()))
    agreed = {p["code"] for p in document["packages"] if p["is_agreed"]}
    assert {p["code"] for p in plan["packages"]} == agreed
    # Checked again from what was printed, not from what the command believed.
    built = build_problem(document, now)
    minutes = {
        p["code"]: [
            built.clock.minutes(datetime.fromisoformat(p[key]))
            for key in ("start", "work_finish", "finish")
        ]
        for p in plan["packages"]
    }
    printed = Plan(tuple(Planned(code, *dates) for code, dates in minutes.items()))
    # Moves and shortfalls are not read back here, so what the check says of those is left out.
    ours = [
        breach
        for breach in check(built.problem, printed)
        if breach.rule not in (Rule.MOVE, Rule.SHORTFALL)
    ]
    assert ours == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "This is not JSON: line 1"),
        ("[]", "refit"),
    ],
)
def test_a_file_that_is_no_document_is_refused(run: Run, text: str, said: str) -> None:
    with pytest.raises(CommandError, match="cannot be planned") as refused:
        run(text)
    assert said in str(refused.value)
    assert refused.value.returncode == 1


def test_a_document_without_a_plan_ends_with_the_reasons(run: Run, document: RefitDocument) -> None:
    [booth] = [place for place in document["places"] if place["name"] == "Booth"]
    booth["hours"] = []
    document["packages"][0]["helpers"] = 3
    with pytest.raises(CommandError) as refused:
        run(document)
    assert str(refused.value).splitlines() == [
        "There is no plan:",
        "A Job A needs 3 hands at once, but the crew has nobody in it yet; add people or ask for"
        " fewer.",
        "Booth has no opening hours; add them so that work there can be planned.",
    ]


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match=r"nothing\.json cannot be read: No such file"):
        call_command("plan", str(tmp_path / "nothing.json"))


def test_a_moment_that_is_none_is_refused(run: Run, document: RefitDocument) -> None:
    with pytest.raises(CommandError, match="--now yesterday is not a moment"):
        run(document, "--now", "yesterday")

"""The demo is sound and rich on whatever day it is started."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from refit.demo.scenario import demo_document
from refit.interchange.document import check_document
from refit.planning.build import build_problem
from refit.scheduling import check, level

A_FORTNIGHT = [datetime(2026, 11, 21, 8, 30, tzinfo=UTC) + timedelta(days=n) for n in range(14)]
"""Both weekends, mornings before and after the crew begins, and a holiday in the weeks after."""


@pytest.mark.parametrize("now", A_FORTNIGHT, ids=lambda now: f"{now:%a-%d-%b}")
def test_the_demo_has_a_plan_that_can_be_done_on_any_day(now: datetime) -> None:
    document = check_document(demo_document(now))

    built = build_problem(document, now)
    plan = level(built.problem)

    assert check(built.problem, plan) == ()
    assert {dates.id for dates in plan.packages} == {
        row["code"] for row in document["packages"] if row["is_agreed"]
    }


@pytest.mark.parametrize("now", A_FORTNIGHT, ids=lambda now: f"{now:%a-%d-%b}")
def test_nothing_of_the_story_lies_in_the_future(now: datetime) -> None:
    document = demo_document(now)

    told = [row["started_at"] for row in document["packages"]]
    told += [row["finished_at"] for row in document["packages"]]
    told += [row["since"] for row in document["pieces"]]
    for handoff in document["handoffs"]:
        told += [handoff["ready_at"], handoff["sent_at"], handoff["received_at"]]
    told += [row["found_at"] for row in document["findings"]]

    assert max(datetime.fromisoformat(moment) for moment in told if moment) <= now


@pytest.mark.parametrize("now", A_FORTNIGHT, ids=lambda now: f"{now:%a-%d-%b}")
def test_every_screen_has_something_to_show(now: datetime) -> None:
    document = demo_document(now)
    started = [row for row in document["packages"] if row["started_at"] and not row["finished_at"]]
    late = [
        row
        for row in document["handoffs"]
        if row["state"] == "planned"
        and row["due_at"]
        and datetime.fromisoformat(row["due_at"]) < now
    ]

    assert len(document["vendors"]) >= 5
    assert len(document["pieces"]) >= 12
    assert 35 <= len(document["packages"]) <= 52
    assert len(document["bookings"]) == 2
    assert document["findings"]
    assert started
    assert [row["piece"] for row in late] == ["ST-02"]
    assert any(row["state"] == "ready" for row in document["handoffs"])


def test_every_piece_is_where_its_last_handoff_left_it() -> None:
    document = demo_document(A_FORTNIGHT[3])
    at = {row["tag"]: (row["place"], row["since"]) for row in document["pieces"]}

    for row in document["handoffs"]:
        if row["state"] == "received":
            later = [
                other
                for other in document["handoffs"]
                if other["piece"] == row["piece"]
                and other["state"] == "received"
                and (other["received_at"] or "") > (row["received_at"] or "")
            ]
            if not later:
                assert at[row["piece"]] == (row["destination"], row["received_at"])
